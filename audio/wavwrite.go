package audio

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
)

// WriteWAV writes 16-bit PCM at rate Hz, one slice per channel in [-1,1], all
// of one length; louder samples are clipped.
func WriteWAV(w io.Writer, rate int, channels ...[]float32) error {
	if len(channels) == 0 {
		return fmt.Errorf("writing a WAV file: no channels")
	}
	for c := range channels {
		if len(channels[c]) != len(channels[0]) {
			return fmt.Errorf("writing a WAV file: channel %d has %d samples, channel 1 has %d",
				c+1, len(channels[c]), len(channels[0]))
		}
	}
	frames := len(channels[0])
	size := int64(frames) * int64(len(channels)) * 2
	if _, err := w.Write(wavHeader(rate, len(channels), 16, size)); err != nil {
		return err
	}
	const block = 16384
	var b []byte
	for at := 0; at < frames; at += block {
		part := make([][]float32, len(channels))
		for c := range channels {
			part[c] = channels[c][at:min(at+block, frames)]
		}
		b = interleave16(b[:0], part)
		if _, err := w.Write(b); err != nil {
			return err
		}
	}
	return nil
}

// interleave16 appends the samples as interleaved little-endian 16-bit integers.
func interleave16(b []byte, planes [][]float32) []byte {
	for i := range planes[0] {
		for c := range planes {
			v := math.RoundToEven(float64(planes[c][i]) * (1 << 15))
			b = binary.LittleEndian.AppendUint16(b, uint16(int16(min(max(v, -1<<15), 1<<15-1))))
		}
	}
	return b
}

// wavHeader is a plain 44-byte header for size bytes of integer PCM; sizes that
// do not fit are written as unknown.
func wavHeader(rate, channels, bits int, size int64) []byte {
	clamp := func(n int64) uint32 { return uint32(min(n, math.MaxUint32)) }
	le := binary.LittleEndian
	frame := channels * bits / 8
	b := append(make([]byte, 0, 44), "RIFF"...)
	b = le.AppendUint32(b, clamp(size+36))
	b = append(b, "WAVEfmt "...)
	b = le.AppendUint32(b, 16)
	b = le.AppendUint16(b, formatInt)
	b = le.AppendUint16(b, uint16(channels))
	b = le.AppendUint32(b, uint32(rate))
	b = le.AppendUint32(b, uint32(rate*frame))
	b = le.AppendUint16(b, uint16(frame))
	b = le.AppendUint16(b, uint16(bits))
	b = append(b, "data"...)
	return le.AppendUint32(b, clamp(size))
}
