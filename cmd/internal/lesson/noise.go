package lesson

import (
	"math"
	"math/rand/v2"
)

// Engine is the noise of a small piston engine heard in the cabin.
type Engine struct {
	Firing float64 // Hz, of all cylinders together; it wanders a little
	Fall   float64 // of the harmonics: the power of their number they fall with
	Hum    float64 // how much there is of the engine itself,
	Wind   float64 // of what rushes by outside,
	Hiss   float64 // and of what hisses
}

// trainer has four cylinders at 2,280 rpm, two firings a turn.
var trainer = Engine{Firing: 76, Fall: 0.7, Hum: 0.5, Wind: 1.2, Hiss: 0.35}

// Noise is n samples of the engine.
func (e Engine) Noise(n int, rng *rand.Rand) []float64 {
	const harmonics = 14
	var phase, level [harmonics]float64
	for k := range phase {
		phase[k] = rng.Float64() * 2 * math.Pi
		level[k] = math.Pow(float64(k+1), -e.Fall) * (0.6 + 0.8*rng.Float64())
	}
	out := make([]float64, n)
	wander, slow, fast := 0.0, 0.0, 0.0
	for i := range out {
		wander = 0.99995*wander + 0.01*rng.NormFloat64()
		f := e.Firing + 2*math.Tanh(wander/4)
		v := 0.0
		for k := range phase {
			phase[k] += 2 * math.Pi * f * float64(k+1) / rate
			v += level[k] * math.Sin(phase[k])
		}
		white := rng.NormFloat64()
		slow = 0.98*slow + 0.2*white
		fast = 0.7*fast + 0.5*white
		out[i] = e.Hum*v + e.Wind*slow + e.Hiss*fast
	}
	return out
}

// Band is a filter from low to high Hz: two second-order sections of each kind
// (R. Bristow-Johnson, Cookbook formulae for audio EQ biquad filter coefficients).
func Band(in []float64, low, high float64) []float64 {
	out := append([]float64(nil), in...)
	for range 2 {
		out = biquad(out, low, true)
		out = biquad(out, high, false)
	}
	return out
}

func biquad(in []float64, hz float64, highpass bool) []float64 {
	w := 2 * math.Pi * hz / rate
	alpha, cos := math.Sin(w)/(2*math.Sqrt2/2), math.Cos(w)
	var b0, b1 float64
	if highpass {
		b0, b1 = (1+cos)/2, -(1 + cos)
	} else {
		b0, b1 = (1-cos)/2, 1-cos
	}
	a0, a1, a2 := 1+alpha, -2*cos, 1-alpha
	out := make([]float64, len(in))
	var x1, x2, y1, y2 float64
	for i, x := range in {
		y := (b0*x + b1*x1 + b0*x2 - a1*y1 - a2*y2) / a0
		x2, x1, y2, y1 = x1, x, y1, y
		out[i] = y
	}
	return out
}

// Power is the mean square of samples.
func Power(samples []float64) float64 {
	s := 0.0
	for _, v := range samples {
		s += v * v
	}
	return s / float64(max(1, len(samples)))
}
