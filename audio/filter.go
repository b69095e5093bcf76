package audio

import (
	"math"

	"sidetone/audio/dot"
)

// The low-pass filter that stands before every change of rate. Its band edges
// are shares of the lower of the two Nyquist frequencies: speech up to 7.2 kHz
// passes untouched and nothing from 8 kHz up is left to fold back.
const (
	passEdge = 0.90
	stopEdge = 1.00
	stopband = 100.0 // dB, 4 dB more than asked for, spent on float32 and phase rounding
)

// maxPhases bounds the size of the filter table. Ratios that need more phases
// (44,101 Hz would need 16,000) blend two neighbours of 512, which is in error
// by (3/512)²/8 at most: -107 dB.
const maxPhases = 512

// filter is a polyphase windowed-sinc interpolator from one rate to Rate.
type filter struct {
	up, down int64       // reduced ratio: up output samples per down input samples
	half     int         // taps on either side of an output sample; multiple of 8, so that rows are of 16
	phases   int         // rows of taps for phases in [0,1)
	rows     [][]float32 // phases+1 rows of 2*half taps; the last is phase 1
	exact    bool        // every phase has its own row
}

// newFilter designs the filter for input at rate Hz.
//
// Length and window follow J. F. Kaiser (1974): N = (A-7.95)/(2.285 Δω),
// β = 0.1102, as quoted in Oppenheim & Schafer, Discrete-Time Signal
// Processing, section 7.5 (from memory).
func newFilter(rate int) *filter {
	g := gcd(Rate, rate)
	f := &filter{up: int64(Rate / g), down: int64(rate / g)}
	f.phases, f.exact = int(f.up), true
	if f.up > maxPhases {
		f.phases, f.exact = maxPhases, false
	}

	nyquist := float64(min(Rate, rate)) / 2
	width := 2 * math.Pi * (stopEdge - passEdge) * nyquist / float64(rate)
	taps := (stopband - 7.95) / (2.285 * width)
	f.half = (int(math.Ceil(taps/2)) + 7) &^ 7
	cutoff := (passEdge + stopEdge) / 2 * nyquist / float64(rate) // cycles per input sample
	beta := 0.1102 * (stopband - 8.7)

	n := 2 * f.half
	table := make([]float32, (f.phases+1)*n)
	row := make([]float64, n)
	norm := bessel0(beta)
	for p := range f.phases + 1 {
		sum := 0.0
		for j := range row {
			t := float64(j-f.half+1) - float64(p)/float64(f.phases)
			row[j] = 0
			if u := t / float64(f.half); math.Abs(u) < 1 {
				row[j] = sinc(2*cutoff*t) * bessel0(beta*math.Sqrt(1-u*u)) / norm
			}
			sum += row[j]
		}
		taps := table[p*n : (p+1)*n : (p+1)*n]
		for j, v := range row {
			taps[j] = float32(v / sum) // gain 1 at 0 Hz in every phase
		}
		f.rows = append(f.rows, taps)
	}
	return f
}

// between is the sample whose first tap is x[0], blended from the two rows on
// either side of its phase, phase/up, which has no row of its own.
func (f *filter) between(x []float32, phase int64) float32 {
	pos := float64(phase) * float64(f.phases) / float64(f.up)
	p := int(pos)
	a := float32(pos - float64(p))
	return (1-a)*dot.Product(x, f.rows[p]) + a*dot.Product(x, f.rows[p+1])
}

func sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// bessel0 is the modified Bessel function of the first kind and order 0, by
// its power series.
func bessel0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; term > sum*1e-17; k++ {
		term *= (x / (2 * k)) * (x / (2 * k))
		sum += term
	}
	return sum
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}
