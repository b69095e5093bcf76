package audio

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Cleaning is what may be done to a channel before it is listened to. The zero
// value does nothing. Which of it helps is measured, not believed: see the
// figures beside hear.DefaultCleaning.
type Cleaning struct {
	HighPass float64 // Hz below which sound is taken out; 0 for none
	Gain     float64 // what the samples are multiplied by; 0 for as they are
	Reduce   float64 // dB by which steady noise is turned down at most; 0 for none
}

// Cleaner cleans one channel at Rate.
type Cleaner struct {
	sections []*biquad
	gain     float32
	reducer  *reducer
	buf      []float32
}

// NewCleaner makes one, nil when there is nothing to do.
func NewCleaner(c Cleaning) *Cleaner {
	if c == (Cleaning{}) {
		return nil
	}
	out := &Cleaner{gain: float32(c.Gain)}
	if c.HighPass > 0 {
		for _, q := range butterworth4 {
			out.sections = append(out.sections, newHighPass(c.HighPass, q))
		}
	}
	if c.Reduce > 0 {
		out.reducer = newReducer(c.Reduce)
	}
	return out
}

// Clean takes the next samples and gives what is ready, valid until the next
// call; what is not comes with later ones or with Flush. They are rounded to 16 bits,
// as they would be in a file, so that a recogniser elsewhere is given the same.
func (c *Cleaner) Clean(x []float32) []float32 {
	c.buf = append(c.buf[:0], x...)
	for _, s := range c.sections {
		s.filter(c.buf)
	}
	if c.gain != 0 {
		for i, v := range c.buf {
			c.buf[i] = clip(v * c.gain)
		}
	}
	if c.reducer != nil {
		return rounded(c.reducer.push(c.buf))
	}
	return rounded(c.buf)
}

func rounded(x []float32) []float32 {
	for i, v := range x {
		x[i] = float32(math.RoundToEven(float64(v)*32768) / 32768)
	}
	return x
}

// Flush gives what is left at the end of the recording: as many samples come out
// as went in.
func (c *Cleaner) Flush() []float32 {
	if c.reducer == nil {
		return nil
	}
	return rounded(c.reducer.flush())
}

// reducer turns down, frequency by frequency, what is there all the time. The
// noise of a bin is the least that was there over a second and a half, as in R.
// Martin, "Noise power spectral density estimation based on optimal smoothing and
// minimum statistics" (2001, from memory), in a plain form; the gain is that of a
// Wiener filter with a floor.
type reducer struct {
	fft    *fourier.FFT
	window []float64
	floor  float64

	in      []float32 // not yet transformed
	tail    []float64 // second half of the last frame, still to be added to
	lead    int       // samples of the first half frame, which nobody waits for
	given   int
	taken   int
	smooth  []float64   // power of each bin, smoothed
	least   [][]float64 // least of each bin in the last sub-windows
	present []float64   // least in the present one
	count   int
	re      []float64
	spec    []complex128
	out     []float32
}

const (
	reduceFrame = 512 // 32 ms, half overlapping
	reduceHop   = reduceFrame / 2
	subFrames   = 12  // frames in a sub-window of 0.19 s
	subWindows  = 8   // of them: 1.5 s
	leastBias   = 4.0 // twice what makes the least the mean: what is left warbles less
	smoothing   = 0.8
)

func newReducer(dB float64) *reducer {
	r := &reducer{fft: fourier.NewFFT(reduceFrame), floor: math.Pow(10, -dB/20),
		tail: make([]float64, reduceHop), lead: reduceHop,
		re: make([]float64, reduceFrame), spec: make([]complex128, reduceHop+1)}
	for i := range reduceFrame {
		r.window = append(r.window, math.Sin(math.Pi*(float64(i)+0.5)/reduceFrame)) // once on the way in, once out
	}
	r.in = make([]float32, reduceHop) // so that the first samples are in two frames like the rest
	return r
}

func (r *reducer) push(x []float32) []float32 {
	r.taken += len(x)
	r.in = append(r.in, x...)
	r.out = r.out[:0]
	for len(r.in) >= reduceFrame {
		r.frame()
		r.in = r.in[:copy(r.in, r.in[reduceHop:])]
	}
	r.given += len(r.out)
	return r.out
}

func (r *reducer) flush() []float32 {
	left := r.taken - r.given
	out := slices.Clone(r.push(make([]float32, reduceFrame)))
	return out[:min(left, len(out))]
}

func (r *reducer) frame() {
	for i := range r.re {
		r.re[i] = float64(r.in[i]) * r.window[i]
	}
	r.spec = r.fft.Coefficients(r.spec, r.re)
	r.track()
	for k := range r.spec {
		noise := r.noise(k)
		p := square(r.spec[k])
		g := r.floor
		if p > 0 {
			g = max(r.floor, 1-noise/p)
		}
		r.spec[k] *= complex(g, 0)
	}
	r.re = r.fft.Sequence(r.re, r.spec)
	for i := range reduceHop {
		v := r.tail[i] + r.re[i]*r.window[i]/reduceFrame
		r.tail[i] = r.re[i+reduceHop] * r.window[i+reduceHop] / reduceFrame
		if r.lead > 0 {
			r.lead--
			continue
		}
		r.out = append(r.out, clip(float32(v)))
	}
}

// track follows the least power of each bin.
func (r *reducer) track() {
	if r.smooth == nil {
		r.smooth = make([]float64, len(r.spec))
		r.present = make([]float64, len(r.spec))
		for k := range r.smooth {
			r.smooth[k] = square(r.spec[k])
			r.present[k] = math.Inf(1)
		}
	}
	for k, c := range r.spec {
		r.smooth[k] = smoothing*r.smooth[k] + (1-smoothing)*square(c)
		r.present[k] = min(r.present[k], r.smooth[k])
	}
	if r.count++; r.count == subFrames {
		r.least = append(r.least, slices.Clone(r.present))
		if len(r.least) > subWindows {
			r.least = r.least[1:]
		}
		r.count = 0
		for k := range r.present {
			r.present[k] = math.Inf(1)
		}
	}
}

func (r *reducer) noise(k int) float64 {
	least := r.present[k]
	for _, l := range r.least {
		least = min(least, l[k])
	}
	return leastBias * least
}
