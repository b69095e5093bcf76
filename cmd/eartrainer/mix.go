package main

import (
	"math"
	"math/rand/v2"

	"sidetone/audio"
	"sidetone/cmd/internal/lesson"
)

// The band in which speech is held against noise, in Hz: a telephone's, and
// nearly an intercom's.
const bandLow, bandHigh = 300, 3400

// way is how a clip is mixed.
type way struct {
	snr   float64 // dB of the sounding parts over the noise, both in the band
	low   float64 // Hz of what the microphone lets through; 0 is everything
	high  float64
	pump  float64 // power of its level a gain control divides the sound by
	level float64 // root mean square of the sounding parts, dB of full scale
}

// anyWay is one by chance.
func anyWay(rng *rand.Rand) way {
	w := way{snr: between(rng, 2, 30), level: between(rng, -32, -18)}
	if rng.Float64() < 0.1 {
		w.snr = 50
	}
	if rng.Float64() < 0.65 {
		w.low, w.high = bandLow, bandHigh
		if rng.Float64() < 0.7 {
			w.low, w.high = between(rng, 250, 350), between(rng, 2900, 3700)
		}
	}
	if rng.Float64() < 0.15 {
		w.pump = 0.15
	}
	return w
}

// mix puts speech over noise, of the same length.
func (w way) mix(speech, noise []float64) []float32 {
	if w.high > 0 {
		speech, noise = lesson.Band(speech, w.low, w.high), lesson.Band(noise, w.low, w.high)
	}
	said := lesson.Sounding(lesson.Band(speech, bandLow, bandHigh))
	heard := lesson.Power(lesson.Band(noise, bandLow, bandHigh))
	g := math.Sqrt(said/(heard+1e-12)) * math.Pow(10, -w.snr/20)
	full := math.Pow(10, w.level/20) / math.Sqrt(lesson.Sounding(speech)+1e-12)
	out := make([]float32, len(speech))
	level := 0.0
	for i, v := range speech {
		v = full * (v + g*noise[i])
		if w.pump > 0 {
			// The gain follows the power of about an eighth of a second, and is 1
			// at the level asked for.
			level = 0.9995*level + 0.0005*v*v
			usual := math.Pow(10, w.level/10)
			v *= math.Pow(level/usual+1e-6, -w.pump)
		}
		out[i] = float32(max(-1, min(1, v)))
	}
	return out
}

// trim leaves out what is silent before and after speech, but for a little.
func trim(x []float64) []float64 {
	const before, after, faint = 300, 800, 0.02
	peak := 0.0
	for _, v := range x {
		peak = max(peak, math.Abs(v))
	}
	first, last := 0, len(x)
	for first < last && math.Abs(x[first]) <= faint*peak {
		first++
	}
	for last > first && math.Abs(x[last-1]) <= faint*peak {
		last--
	}
	return x[max(0, first-before):min(len(x), last+after)]
}

// even brings the sounding parts of x to a root mean square of so many dB over 1.
func even(x []float64, dB float64) {
	g := math.Pow(10, dB/20) / math.Sqrt(lesson.Sounding(x)+1e-12)
	for i := range x {
		x[i] *= g
	}
}

// onset spoils the beginning of speech now and then, as voice switches do: it
// comes up slowly, or its first hundredths of a second are missing.
func onset(x []float64, rng *rand.Rand) {
	switch r := rng.Float64(); {
	case r < 0.10:
		n := min(len(x), int(between(rng, 0.02, 0.1)*audio.Rate))
		for i := range x[:n] {
			x[i] *= math.Pow(float64(i)/float64(n), 2)
		}
	case r < 0.15:
		clear(x[:min(len(x), int(between(rng, 0.02, 0.05)*audio.Rate))])
	}
}
