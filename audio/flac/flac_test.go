package flac

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"sidetone/audio"
	"sidetone/audio/audiotest"
)

// speechlike is sound with loud, quiet and silent stretches, and its extremes.
func speechlike(n int) []int16 {
	r := rand.New(rand.NewPCG(1, 2))
	out := make([]int16, n)
	for i := range out {
		switch {
		case i%30000 > 20000: // silence
		case i%5000 == 0:
			out[i] = math.MinInt16
		default:
			out[i] = int16(8000*math.Sin(float64(i)/9) + 500*r.NormFloat64())
		}
	}
	return out
}

func pcm(samples []int16) []byte {
	var b []byte
	for _, v := range samples {
		b = binary.LittleEndian.AppendUint16(b, uint16(v))
	}
	return b
}

func TestNothingIsLostInAFLACFile(t *testing.T) {
	for _, n := range []int{1, 15, 4095, 4096, 4097, 100_001} {
		want := speechlike(n)
		var b, wav bytes.Buffer
		if err := Encode(&b, want); err != nil {
			t.Fatalf("%d samples: %v", n, err)
		}
		if err := ToWAV(&wav, bytes.NewReader(b.Bytes()), 10); err != nil {
			t.Fatalf("%d samples: %v", n, err)
		}
		if !bytes.Equal(wav.Bytes()[44:], pcm(want)) {
			t.Errorf("%d samples came back as others", n)
		}
	}
}

// ffmpeg, which we did not write, must hear the same samples.
func TestFFmpegReadsTheSame(t *testing.T) {
	audiotest.Need(t, "ffmpeg")
	want := speechlike(50_000)
	path := filepath.Join(t.TempDir(), "x.flac")
	var b bytes.Buffer
	if err := Encode(&b, want); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	if got := audiotest.Run(t, "ffmpeg", "-v", "error", "-i", path, "-f", "s16le", "-"); !bytes.Equal(got, pcm(want)) {
		t.Errorf("%d bytes of %d, or others", len(got), 2*len(want))
	}
}

func TestADamagedFLACFileIsSaidToBe(t *testing.T) {
	var b bytes.Buffer
	if err := Encode(&b, speechlike(20_000)); err != nil {
		t.Fatal(err)
	}
	whole := b.Bytes()
	for name, in := range map[string][]byte{
		"nothing":      nil,
		"another file": []byte("RIFF1234WAVEfmt "),
		"cut short":    whole[:len(whole)/2],
		"bits turned":  append(append([]byte{}, whole[:300]...), bytes.Repeat([]byte{0x5a}, 500)...),
	} {
		if err := ToWAV(&bytes.Buffer{}, bytes.NewReader(in), 10); !errors.Is(err, ErrDamaged) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := ToWAV(&bytes.Buffer{}, bytes.NewReader(whole), 1); !errors.Is(err, ErrTooLong) {
		t.Errorf("longer than wanted: %v", err)
	}
}

func FuzzToWAV(f *testing.F) {
	var b bytes.Buffer
	if err := Encode(&b, speechlike(5000)); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Fuzz(func(t *testing.T, in []byte) {
		_ = ToWAV(&bytes.Buffer{}, bytes.NewReader(in), 2)
	})
}

func BenchmarkEncodeFiveMinutes(b *testing.B) {
	samples := speechlike(300 * audio.Rate)
	for b.Loop() {
		var w bytes.Buffer
		if err := Encode(&w, samples); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(w.Len())/float64(2*len(samples)), "of-wav")
	}
}
