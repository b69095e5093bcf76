package audio

import "math"

// biquad is a second-order filter section that remembers where it was (R.
// Bristow-Johnson, "Cookbook formulae for audio EQ biquad filter coefficients").
type biquad struct {
	b0, b1, b2, a1, a2 float64
	x1, x2, y1, y2     float64
}

// newHighPass and newLowPass are for sound at Rate; q of 1/√2 is flat.
func newHighPass(hz, q float64) *biquad {
	w := 2 * math.Pi * hz / Rate
	alpha, cos := math.Sin(w)/(2*q), math.Cos(w)
	a0 := 1 + alpha
	return &biquad{b0: (1 + cos) / 2 / a0, b1: -(1 + cos) / a0, b2: (1 + cos) / 2 / a0, a1: -2 * cos / a0, a2: (1 - alpha) / a0}
}

func newLowPass(hz, q float64) *biquad {
	w := 2 * math.Pi * hz / Rate
	alpha, cos := math.Sin(w)/(2*q), math.Cos(w)
	a0 := 1 + alpha
	return &biquad{b0: (1 - cos) / 2 / a0, b1: (1 - cos) / a0, b2: (1 - cos) / 2 / a0, a1: -2 * cos / a0, a2: (1 - alpha) / a0}
}

// filter changes x in place.
func (f *biquad) filter(x []float32) {
	x1, x2, y1, y2 := f.x1, f.x2, f.y1, f.y2
	for i, v := range x {
		in := float64(v)
		out := f.b0*in + f.b1*x1 + f.b2*x2 - f.a1*y1 - f.a2*y2
		x2, x1, y2, y1 = x1, in, y1, out
		x[i] = float32(out)
	}
	f.x1, f.x2, f.y1, f.y2 = x1, x2, y1, y2
}

// The q of the two sections of a Butterworth filter of the fourth order.
var butterworth4 = [2]float64{0.54119610, 1.3065630}

// VoiceBand leaves of one channel at Rate what a telephone does, 300 to 3400 Hz:
// where words are told apart, whatever an engine does below.
type VoiceBand struct {
	sections []*biquad
	buf      []float32
}

// NewVoiceBand makes one.
func NewVoiceBand() *VoiceBand {
	v := &VoiceBand{}
	for _, q := range butterworth4 {
		v.sections = append(v.sections, newHighPass(300, q), newLowPass(3400, q))
	}
	return v
}

// Filter takes the next samples and gives as many, valid until the next call.
func (v *VoiceBand) Filter(x []float32) []float32 {
	v.buf = append(v.buf[:0], x...)
	for _, s := range v.sections {
		s.filter(v.buf)
	}
	return v.buf
}
