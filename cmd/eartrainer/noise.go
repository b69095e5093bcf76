package main

import (
	"math"
	"math/bits"
	"math/rand/v2"

	"gonum.org/v1/gonum/dsp/fourier"

	"sidetone/cmd/internal/lesson"
)

// cabin is n samples of what is heard in the cabin: seven times in ten some
// engine, else noise of some colour.
func cabin(n int, rng *rand.Rand) []float64 {
	if rng.Float64() < 0.3 {
		return coloured(n, between(rng, 0, 0.9), rng)
	}
	return lesson.Engine{
		Firing: between(rng, 60, 95),
		Fall:   between(rng, 0.5, 1),
		Hum:    between(rng, 0, 1),
		Wind:   between(rng, 0.3, 2),
		Hiss:   between(rng, 0.1, 1),
	}.Noise(n, rng)
}

// coloured is noise whose amplitude falls with this power of its frequency: 0 is
// white, 0.5 pink, 1 brown.
func coloured(n int, fall float64, rng *rand.Rand) []float64 {
	whole := 1 << bits.Len(uint(max(n, 2)-1))
	fft := fourier.NewFFT(whole)
	spectrum := make([]complex128, whole/2+1)
	for k := range spectrum {
		g := math.Pow(math.Max(1, float64(k)), -fall)
		spectrum[k] = complex(g*rng.NormFloat64(), g*rng.NormFloat64())
	}
	return fft.Sequence(nil, spectrum)[:n]
}
