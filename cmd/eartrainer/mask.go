package main

import (
	"math/rand/v2"
	"slices"

	"sidetone/audio/recognise/phones"
	"sidetone/audio/recognise/phones/train"
)

// How much of an example is hidden each time it is learnt from, so that the network
// relies on no one thing: stretches of time, bands of the spectrum (Park et al.,
// "SpecAugment", 2019), and now and then the whole spectrum, or what the encoder made
// of the sound. Hidden is 0, the mean.
const (
	hideSpectrum = 0.2
	hideStates   = 0.05
	mostStretch  = 6  // frames, 24 ms each
	mostBands    = 24 // numbers of the spectrum side by side
)

// masked is an example with some of it hidden.
func masked(e train.Example, rng *rand.Rand) train.Example {
	in := train.English[0].In
	states := in - phones.Spectrum
	frames := len(e.Frames) / in
	if frames == 0 {
		return e
	}
	out := slices.Clone(e.Frames)
	hide := func(from, to, low, high int) {
		for t := from; t < to; t++ {
			clear(out[t*in+low : t*in+high])
		}
	}
	switch r := rng.Float64(); {
	case r < hideSpectrum:
		hide(0, frames, states, in)
	case r < hideSpectrum+hideStates:
		hide(0, frames, 0, states)
	default:
		low := rng.IntN(phones.Spectrum)
		hide(0, frames, states+low, states+min(phones.Spectrum, low+rng.IntN(mostBands)))
	}
	for range frames / 100 {
		from := rng.IntN(frames)
		hide(from, min(frames, from+rng.IntN(mostStretch)), 0, in)
	}
	return train.Example{Frames: out, Sounds: e.Sounds}
}
