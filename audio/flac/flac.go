// Package flac packs and unpacks sound without loss in the FLAC format (RFC 9639),
// with github.com/mewkiz/flac: about half the size of WAV for speech.
package flac

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"
	"github.com/mewkiz/flac/meta"

	"sidetone/audio"
)

// MIME and Magic are the type of a FLAC file, and what it begins with.
const (
	MIME  = "audio/flac"
	Magic = "fLaC"
)

// block is how many samples a frame holds, the usual for this format.
const block = 4096

// Encode writes 16-bit samples of one channel at audio.Rate.
func Encode(w io.Writer, samples []int16) error {
	info := &meta.StreamInfo{BlockSizeMin: block, BlockSizeMax: block, SampleRate: audio.Rate, NChannels: 1, BitsPerSample: 16, NSamples: uint64(len(samples))}
	enc, err := flac.NewEncoder(hidden{w}, info)
	if err != nil {
		return err
	}
	for at := 0; at < len(samples); at += block {
		part := samples[at:min(at+block, len(samples))]
		sub := &frame.Subframe{SubHeader: frame.SubHeader{Pred: frame.PredVerbatim}, Samples: make([]int32, len(part)), NSamples: len(part)}
		for i, v := range part {
			sub.Samples[i] = int32(v)
		}
		f := &frame.Frame{Header: frame.Header{HasFixedBlockSize: true, BlockSize: uint16(len(part)), SampleRate: audio.Rate, Channels: frame.ChannelsMono, BitsPerSample: 16, Num: uint64(at / block)}, Subframes: []*frame.Subframe{sub}}
		if err := enc.WriteFrame(f); err != nil {
			return err
		}
	}
	return enc.Close()
}

// hidden keeps the encoder from closing what it writes to, or going back in it.
type hidden struct{ io.Writer }

// ErrDamaged says that a file is not FLAC, or not whole.
var ErrDamaged = errors.New("the FLAC file is damaged")

// ErrTooLong says that there is more sound in a file than is wanted.
var ErrTooLong = errors.New("the sound is too long")

// ToWAV writes a FLAC file as 16-bit WAV, frame by frame, of at most so many seconds:
// else the error is ErrTooLong. One that is damaged is ErrDamaged. The sizes in the
// WAV header are left open, as in one that is streamed.
func ToWAV(w io.Writer, r io.Reader, seconds float64) (err error) {
	defer func() { // the decoder trusts lengths it reads
		if p := recover(); p != nil {
			err = fmt.Errorf("%w: %v", ErrDamaged, p)
		}
	}()
	s, err := flac.New(bufio.NewReader(r))
	if err != nil {
		return fmt.Errorf("%w: %v", ErrDamaged, err)
	}
	rate, depth, channels := s.Info.SampleRate, int(s.Info.BitsPerSample), int(s.Info.NChannels)
	if rate == 0 || depth < 4 || depth > 32 {
		return fmt.Errorf("%w: %d Hz, %d bits", ErrDamaged, rate, depth)
	}
	out := bufio.NewWriter(w)
	if _, err := out.Write(openHeader(rate, channels)); err != nil {
		return err
	}
	written := 0.0
	for {
		f, err := s.ParseNext()
		if errors.Is(err, io.EOF) {
			return out.Flush()
		}
		if err != nil {
			return fmt.Errorf("%w: %v", ErrDamaged, err)
		}
		if len(f.Subframes) != channels {
			return fmt.Errorf("%w: channels come and go", ErrDamaged)
		}
		n := len(f.Subframes[0].Samples)
		if written += float64(n); written > seconds*float64(rate) {
			return ErrTooLong
		}
		b := make([]byte, 0, 2*n*channels)
		for i := range n {
			for _, sub := range f.Subframes {
				v := sub.Samples[i]
				if depth > 16 {
					v >>= depth - 16
				} else {
					v <<= 16 - depth
				}
				b = binary.LittleEndian.AppendUint16(b, uint16(v))
			}
		}
		if _, err := out.Write(b); err != nil {
			return err
		}
	}
}

// openHeader is that of a WAV file of unknown length.
func openHeader(rate uint32, channels int) []byte {
	le := binary.LittleEndian
	b := append([]byte("RIFF"), 0xff, 0xff, 0xff, 0xff)
	b = append(b, "WAVEfmt \x10\x00\x00\x00\x01\x00"...)
	b = le.AppendUint16(b, uint16(channels))
	b = le.AppendUint32(b, rate)
	b = le.AppendUint32(b, rate*uint32(2*channels))
	b = le.AppendUint16(b, uint16(2*channels))
	b = le.AppendUint16(b, 16)
	return append(b, "data\xff\xff\xff\xff"...)
}
