package phones

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"

	"sidetone/audio"
)

// A frame of the encoder is Hop samples; the first is centred at First (the
// strides 64, 3 and 2 and the widths 127, 7 and 3 of its convolutions).
const (
	Hop   = 384
	First = 447
)

// The encoder was taught to find words and leaves out what did not help with
// that; so the network also gets the spectrum of each frame, as recognisers have
// long had it: the logarithms of the energies in bands as wide as the ear's (mel:
// Davis and Mermelstein, 1980), twice a frame.
const (
	bands     = 40
	looks     = 2
	Spectrum  = bands * looks // numbers of a frame
	window    = 400           // samples, 25 ms
	transform = 512
	lowest    = 100.0 // Hz
	highest   = 7600.0
	depth     = 9.0 // nats a band may lie below the loudest: 80 dB
	spread    = 2.0 // nats that are taken for one
)

// Features joins what the encoder made of samples, frames of size numbers each,
// with their spectra: what the network takes, size+Spectrum numbers a frame. The
// encoder's are brought to mean 0 and variance 1 in each frame, a band to mean 0
// over all of them, which takes out the microphone.
func Features(states []float32, size int, samples []float32) []float32 {
	frames := len(states) / size
	energies := spectra(samples, frames)
	out := make([]float32, 0, frames*(size+Spectrum))
	for t := range frames {
		out = normal(out, states[t*size:(t+1)*size])
		out = append(out, energies[t*Spectrum:(t+1)*Spectrum]...)
	}
	return out
}

// spectra gives the energies of frames.
func spectra(samples []float32, frames int) []float32 {
	fft := fourier.NewFFT(transform)
	buffer, spectrum := make([]float64, transform), make([]complex128, transform/2+1)
	power := make([]float64, transform/2+1)
	out := make([]float32, 0, frames*Spectrum)
	loudest := math.Inf(-1)
	for look := range frames * looks {
		// The looks of a frame lie evenly about its centre.
		from := First + look*Hop/looks - Hop/looks/2 - window/2
		clear(buffer)
		for i := range hann {
			if at := from + i; at > 0 && at < len(samples) {
				buffer[i] = hann[i] * float64(samples[at]-0.97*samples[at-1]) // treble up, as is usual
			}
		}
		for i, c := range fft.Coefficients(spectrum, buffer) {
			a := cmplx.Abs(c)
			power[i] = a * a
		}
		for _, b := range mel {
			e := 1e-10
			for k, w := range b.weights {
				e += w * power[b.from+k]
			}
			v := math.Log(e)
			loudest = max(loudest, v)
			out = append(out, float32(v))
		}
	}
	for b := range bands {
		sum := 0.0
		for i := b; i < len(out); i += bands {
			out[i] = max(out[i], float32(loudest-depth))
			sum += float64(out[i])
		}
		mean := float32(sum / float64(max(1, frames*looks)))
		for i := b; i < len(out); i += bands {
			out[i] = (out[i] - mean) / spread
		}
	}
	return out
}

var hann = func() []float64 {
	w := make([]float64, window)
	for i := range w {
		w[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/window)
	}
	return w
}()

// band is a triangle over the bins of the transform.
type band struct {
	from    int
	weights []float64
}

var mel = func() []band {
	toMel := func(hz float64) float64 { return 2595 * math.Log10(1+hz/700) }
	at := func(i int) float64 { // in bins
		m := toMel(lowest) + (toMel(highest)-toMel(lowest))*float64(i)/(bands+1)
		return 700 * (math.Pow(10, m/2595) - 1) * transform / audio.Rate
	}
	out := make([]band, bands)
	for i := range out {
		left, top, right := at(i), at(i+1), at(i+2)
		out[i].from = int(math.Ceil(left))
		for k := out[i].from; float64(k) < right; k++ {
			w := (float64(k) - left) / (top - left)
			if float64(k) > top {
				w = (right - float64(k)) / (right - top)
			}
			out[i].weights = append(out[i].weights, w)
		}
	}
	return out
}()
