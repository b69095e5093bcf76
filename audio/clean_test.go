package audio

import (
	"math"
	"slices"
	"testing"
)

func cleaned(c Cleaning, x []float32, block int) []float32 {
	cl := NewCleaner(c)
	var out []float32
	for len(x) > 0 {
		n := min(block, len(x))
		out = append(out, cl.Clean(x[:n])...)
		x = x[n:]
	}
	return append(out, cl.Flush()...)
}

func TestCleaningKeepsEverySampleInItsPlace(t *testing.T) {
	click := make([]float32, 30000)
	click[12345] = 0.5
	for name, c := range map[string]Cleaning{
		"gain": {Gain: 2}, "high-pass": {HighPass: 80}, "noise reduction": {Reduce: 12}, "all": {80, 2, 12},
	} {
		whole := cleaned(c, click, len(click))
		peak := 0
		for i, v := range whole {
			if math.Abs(float64(v)) > math.Abs(float64(whole[peak])) {
				peak = i
			}
		}
		if len(whole) != len(click) || peak != 12345 {
			t.Errorf("%s: %d samples of %d, a click at 12345 is at %d", name, len(whole), len(click), peak)
		}
		for _, block := range []int{1, 100, 8000} {
			if !slices.Equal(cleaned(c, click, block), whole) {
				t.Errorf("%s: in blocks of %d it comes out otherwise", name, block)
			}
		}
		if out := cleaned(c, click[:7], 7); len(out) != 7 {
			t.Errorf("%s: %d samples of 7", name, len(out))
		}
	}
	if NewCleaner(Cleaning{}) != nil {
		t.Error("there is a cleaner that does nothing")
	}
}

func TestCleaningDoesWhatItSays(t *testing.T) {
	level := func(x []float32) float64 { return dB(rms(x[Rate:])) }
	n := 6 * Rate
	noise := noiseOf(1, n)
	low, voice := tone(Rate, 40, 0.3, n), tone(Rate, 1000, 0.3, n)
	if d := level(cleaned(Cleaning{HighPass: 100}, low, 999)) - level(low); d > -30 {
		t.Errorf("40 Hz is turned down by %.1f dB only", -d)
	}
	if d := level(cleaned(Cleaning{HighPass: 100}, voice, 999)) - level(voice); math.Abs(d) > 0.1 {
		t.Errorf("1 kHz is changed by %.2f dB", d)
	}
	if d := level(cleaned(Cleaning{Gain: 10}, scaled(0.01, noise), 999)) - level(scaled(0.01, noise)); math.Abs(d-20) > 0.01 {
		t.Errorf("ten times is %.2f dB", d)
	}
	if d := level(cleaned(Cleaning{Reduce: 15}, noise, 999)) - level(noise); d > -7 || d < -16 {
		t.Errorf("steady noise is turned down by %.1f dB of 15", -d)
	}
	// Syllables come and go: they stay.
	talk := make([]float32, n)
	for i := range talk {
		if i/2000%3 == 0 {
			talk[i] = voice[i]
		}
	}
	if d := level(cleaned(Cleaning{Reduce: 15}, talk, 999)) - level(talk); math.Abs(d) > 1.5 {
		t.Errorf("syllables are changed by %.2f dB", d)
	}
}

func scaled(gain float32, x []float32) []float32 {
	out := make([]float32, len(x))
	for i, v := range x {
		out[i] = gain * v
	}
	return out
}
