package lesson

import (
	"math"
	"math/rand/v2"
)

// overRadio is a voice from another airplane: a narrow band, driven hard, hiss
// while the carrier is there, and the tail of noise until the squelch closes.
// until is when the last word ends, in seconds.
func overRadio(voice []float64, until float64, rng *rand.Rand) []float64 {
	const (
		lowest, highest = 450, 2600 // Hz
		drive           = 3
		hiss            = 0.04 // of the speech level
		tail            = 0.09 // seconds
	)
	end := min(len(voice), int(until*rate)+rate/20)
	out := Band(voice[:end], lowest, highest)
	for i := range out {
		out[i] = speechLevel * 1.6 * math.Tanh(drive*out[i]/(speechLevel*3)) // peaks are cut off
		out[i] += hiss * speechLevel * rng.NormFloat64()
	}
	burst := make([]float64, int(tail*rate))
	for i := range burst {
		burst[i] = 0.6 * speechLevel * rng.NormFloat64()
	}
	return append(out, Band(burst, lowest, highest)...)
}

// clipStart silences the first seconds of what is said from begin on, as a voice
// switch does that opens late; it opens within a hundredth of a second.
func clipStart(voice []float64, begin, seconds float64) {
	const opening = rate / 100
	open := int((begin + seconds) * rate)
	for i := range voice {
		switch {
		case i < open:
			voice[i] = 0
		case i < open+opening:
			voice[i] *= float64(i-open) / opening
		}
	}
}

// ride lets the level of the voices drift up and down by dB over some ten
// seconds, as heads and microphones move.
func ride(samples []float64, dB float64, rng *rand.Rand) {
	a, b := 9+4*rng.Float64(), 17+6*rng.Float64() // seconds
	pa, pb := 2*math.Pi*rng.Float64(), 2*math.Pi*rng.Float64()
	for i := range samples {
		t := float64(i) / rate
		g := dB * (0.5*math.Sin(2*math.Pi*t/a+pa) + 0.5*math.Sin(2*math.Pi*t/b+pb))
		samples[i] *= math.Pow(10, g/20)
	}
}

// pump does what an automatic gain does: it turns what is loud down quickly and
// what is quiet up slowly, the engine between the words too, by dB at most.
func pump(samples []float64, dB float64) {
	const attack, release = 0.02, 1.5 // seconds
	rise, fall := math.Exp(-1/(attack*rate)), math.Exp(-1/(release*rate))
	most := math.Pow(10, dB/20)
	level := speechLevel
	for i, v := range samples {
		a := math.Abs(v) * math.Sqrt2
		k := rise
		if a < level {
			k = fall
		}
		level = k*level + (1-k)*a
		g := speechLevel * 2 / math.Max(level, 1e-6)
		samples[i] = clip(v * math.Sqrt(math.Max(1/most, math.Min(most, g))))
	}
}
