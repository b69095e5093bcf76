package remote

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"os"

	"sidetone/audio"
	"sidetone/audio/flac"
)

// spool holds the sound that was put aside, as 16-bit samples in a temporary file
// only the user may read: hours of speech are more than memory should hold. Where the
// system allows it has no name any more and is gone however the program ends.
type spool struct {
	f  *os.File
	at int64 // samples
}

func newSpool() (*spool, error) {
	f, err := os.CreateTemp("", "sidetone-*.speech")
	if err != nil {
		return nil, fmt.Errorf("the folder for temporary files cannot be written: %w", err)
	}
	_ = os.Remove(f.Name())
	return &spool{f: f}, nil
}

func (s *spool) close() error {
	err := s.f.Close()
	_ = os.Remove(s.f.Name())
	return err
}

// put adds samples and tells where they begin.
func (s *spool) put(samples []float32) (at int64, err error) {
	b := make([]byte, 0, 2*len(samples))
	for _, v := range samples {
		n := math.RoundToEven(float64(v) * (1 << 15))
		b = binary.LittleEndian.AppendUint16(b, uint16(int16(min(max(n, math.MinInt16), math.MaxInt16))))
	}
	at = s.at
	if _, err := s.f.WriteAt(b, 2*at); err != nil {
		return 0, fmt.Errorf("the speech to send cannot be put aside in %s: %w", os.TempDir(), err)
	}
	s.at += int64(len(samples))
	return at, nil
}

// clip is the sound of an upload.
type clip struct {
	samples []int16
	seconds float64
}

// sound reads the pieces of a pack, with the silence between them.
func (s *spool) sound(p pack) (clip, error) {
	c := clip{make([]int16, p.samples), p.seconds()}
	for i, x := range p.pieces {
		b := make([]byte, 2*x.samples)
		if _, err := s.f.ReadAt(b, 2*x.at); err != nil {
			return clip{}, fmt.Errorf("the speech put aside in %s cannot be read: %w", os.TempDir(), err)
		}
		for k := range x.samples {
			c.samples[p.begins[i]+k] = int16(binary.LittleEndian.Uint16(b[2*k:]))
		}
	}
	return c, nil
}

// file is the clip as a file, and a name for it.
func (c clip) file(wav bool) (name string, content []byte, err error) {
	var b bytes.Buffer
	if !wav {
		err := flac.Encode(&b, c.samples)
		return "speech.flac", b.Bytes(), err
	}
	x := make([]float32, len(c.samples))
	for i, v := range c.samples {
		x[i] = float32(v) / (1 << 15)
	}
	err = audio.WriteWAV(&b, audio.Rate, x)
	return "speech.wav", b.Bytes(), err
}
