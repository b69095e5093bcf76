package audio

import (
	"bytes"
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

const layoutSeconds = 72

// engine is steady noise, as under every word in a cockpit.
func engine(seed uint64, level float64) []float32 {
	rng := rand.New(rand.NewPCG(seed, 1))
	x := make([]float32, layoutSeconds*Rate)
	for i := range x {
		x[i] = float32(level * rng.NormFloat64())
	}
	return x
}

// talk is syllables, four a second, in the seconds given by when; a stand-in
// for speech in level and rhythm, which is all the meter looks at.
func talk(seed uint64, level float64, when func(second int) bool) []float32 {
	rng := rand.New(rand.NewPCG(seed, 2))
	x := make([]float32, layoutSeconds*Rate)
	for i := range x {
		if when(i / Rate) {
			env := math.Max(0, math.Sin(2*math.Pi*4*float64(i)/Rate))
			x[i] = float32(level * env * rng.NormFloat64())
		}
	}
	return x
}

func mix(gain float32, tracks ...[]float32) []float32 {
	out := make([]float32, layoutSeconds*Rate)
	for _, x := range tracks {
		for i, v := range x {
			out[i] += gain * v
		}
	}
	return out
}

func scale(gain float32, x []float32) []float32 { return mix(gain, x) }

func TestLayoutIsWhatAListenerWouldSay(t *testing.T) {
	odd := func(s int) bool { return s%6 < 2 }
	even := func(s int) bool { return s%6 > 3 }
	student := mix(1, talk(1, 0.1, odd))
	instructor := mix(1, talk(2, 0.1, even))
	rumble := engine(3, 0.005)
	both := mix(1, student, instructor, rumble)
	dead := engine(4, 0.0002) // -74 dBFS of recorder noise
	click := slices.Clone(dead)
	click[10*Rate] = 0.9
	nothing := make([]float32, layoutSeconds*Rate)

	for _, c := range []struct {
		name     string
		channels [][]float32
		kind     Kind
		use      []int
		says     string
	}{
		{"one channel", [][]float32{both}, Mono, []int{0}, "one channel"},
		{"the same on both sides", [][]float32{both, both}, Copies, []int{0}, "the right side is a copy of the left side: listening to the left side."},
		{"the same, the left fainter", [][]float32{scale(0.5, both), both}, Copies, []int{1}, "6 dB fainter: listening to the right side."},
		{"the same, one upside down", [][]float32{both, scale(-1, both)}, Copies, []int{0}, "copy"},
		{"the same, each with its recorder's noise", [][]float32{mix(1, both, dead), mix(1, scale(0.7, both), engine(5, 0.0002))}, Copies, []int{0}, "3 dB fainter"},
		{"the right is digital silence", [][]float32{both, nothing}, OneSilent, []int{0}, "the right side is silent: listening to the left side."},
		{"the left is a dead input", [][]float32{dead, both}, OneSilent, []int{1}, "the left side is silent: listening to the right side."},
		{"a dead input with a click on it", [][]float32{both, click}, OneSilent, []int{0}, "silent"},
		{"the right has only engine", [][]float32{both, rumble}, SingleSided, []int{0}, "the right side has no voice on it: listening to the left side."},
		{"the right has a faint leak of the left", [][]float32{both, mix(1, scale(0.02, both), dead)}, SingleSided, []int{0}, "leak"},
		{"a seat on each side", [][]float32{mix(1, student, rumble), mix(1, instructor, engine(6, 0.005))}, Separate, []int{0, 1}, "listening to each by itself."},
		{"a seat on each side under one engine", [][]float32{mix(1, student, rumble), mix(1, instructor, rumble)}, Separate, []int{0, 1}, "each carry their own sound"},
		{"a seat on each side, each leaking into the other", [][]float32{
			mix(1, student, scale(0.1, instructor)), mix(1, instructor, scale(0.1, student))}, Separate, []int{0, 1}, ""},
		{"a student who speaks three seconds in a minute", [][]float32{
			mix(1, instructor, rumble), mix(1, talk(7, 0.05, func(s int) bool { return s >= 48 && s < 51 }), dead)}, Separate, []int{0, 1}, ""},
		{"the same on both sides but for three seconds of the student", [][]float32{
			mix(1, instructor, rumble), mix(1, instructor, rumble, talk(7, 0.1, func(s int) bool { return s >= 48 && s < 51 }))}, Separate, []int{0, 1}, ""},
		{"no voice anywhere, an engine on each side", [][]float32{rumble, engine(8, 0.005)}, Separate, []int{0, 1}, ""},
		{"silence on both sides", [][]float32{nothing, dead}, Silent, []int{0}, "no sound"},
		{"four channels: a seat, its copy, silence, the other seat", [][]float32{
			mix(1, student, rumble), mix(1, student, rumble), nothing, mix(1, instructor, rumble)}, Separate, []int{0, 3},
			"Channel 3 is silent, channel 2 is a copy of channel 1, channel 1 and channel 4 each carry their own sound"},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, rate := range []int{Rate, 3 * Rate} {
				m := NewLayoutMeter(len(c.channels), rate)
				for at := 0; at < layoutSeconds*Rate; at += 7001 {
					var block [][]float32
					for _, x := range c.channels {
						part := x[at:min(at+7001, len(x))]
						if rate != Rate {
							part = thrice(part)
						}
						block = append(block, part)
					}
					m.Add(block)
				}
				got := m.Layout()
				if got.Kind != c.kind || !slices.Equal(got.Use, c.use) {
					t.Errorf("at %d Hz: %s, use %v (%q); want %s, use %v", rate, got.Kind, got.Use, got.Note, c.kind, c.use)
				}
				if !strings.Contains(strings.ToLower(got.Note), strings.ToLower(c.says)) || !strings.HasSuffix(got.Note, ".") {
					t.Errorf("note %q, want %q in it", got.Note, c.says)
				}
			}
		})
	}
}

// thrice holds each sample for three: a crude way to three times the rate.
func thrice(x []float32) []float32 {
	out := make([]float32, 0, 3*len(x))
	for _, v := range x {
		out = append(out, v, v, v)
	}
	return out
}

func TestLayoutOfAFile(t *testing.T) {
	for _, c := range []struct {
		name        string
		left, right []float32
		kind        Kind
	}{
		{"half a second, the same on both sides", tone(44100, 300, 0.3, 22050), tone(44100, 300, 0.1, 22050), Copies},
		{"half a second, different", tone(44100, 300, 0.3, 22050), tone(44100, 700, 0.3, 22050), Separate},
		{"less than a frame", tone(44100, 300, 0.3, 100), tone(44100, 300, 0.3, 100), Copies},
	} {
		var b bytes.Buffer
		if err := WriteWAV(&b, 44100, c.left, c.right); err != nil {
			t.Fatal(err)
		}
		all, err := load(t, write(t, "l.wav", b.Bytes())).Survey(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		if l := all.Layouts[0]; l.Kind != c.kind {
			t.Errorf("%s: %+v, want %s", c.name, l, c.kind)
		}
	}
}
