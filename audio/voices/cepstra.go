package voices

import (
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/dsp/window"

	"sidetone/audio"
)

// The analysis: windows of 32 ms, 62.5 of them a second, in mel bands of what an
// intercom passes.
const (
	frame         = 512 // samples
	hop           = 256
	bands         = 22
	lowest        = 250.0 // Hz
	highest       = 3600.0
	cepstra       = 16 // the first is the loudness and is left out
	FrameSeconds  = float64(hop) / audio.Rate
	quietest      = 1e-10 // power taken for silence: below the rounding of 16 bits
	noiseShare    = 0.15  // of the frames of a neighbourhood, the quietest, are taken for noise
	neighbourhood = 15.0  // seconds of speech on either side
	clear         = 2.0   // power against the noise from which a frame says something of a voice: 3 dB
)

// Sound is what a stretch of speech is like, in mel bands.
type Sound struct {
	Channel    int
	Start, End float64 // seconds of the recording
	powers     [][bands]float32
	pitches    []float32 // of each frame, Hz; 0 where there is none
}

// Listen takes the sound of a segment.
func Listen(seg audio.Segment) Sound {
	s := Sound{Channel: seg.Channel, Start: seg.Start, End: seg.End()}
	fft, taper := fourier.NewFFT(frame), window.Hann(slices.Repeat([]float64{1}, frame))
	x, spectrum := make([]float64, frame), make([]complex128, frame/2+1)
	for at := 0; at+frame <= len(seg.Samples); at += hop {
		for i, v := range seg.Samples[at : at+frame] {
			x[i] = float64(v) * taper[i]
		}
		fft.Coefficients(spectrum, x)
		var p [bands]float32
		for b, f := range filters {
			sum := 0.0
			for i, w := range f.weights {
				a := cmplx.Abs(spectrum[f.first+i])
				sum += w * a * a
			}
			p[b] = float32(sum / frame)
		}
		s.powers = append(s.powers, p)
		s.pitches = append(s.pitches, pitch(fft, spectrum))
	}
	return s
}

// Pitches looked for, and how much of itself a voice repeats a period later.
const (
	lowestPitch  = 80 // Hz
	highestPitch = 350
	voiced       = 0.5
)

// pitch is that of a frame by its autocorrelation in the band of the intercom, 0 where
// there is none. It spoils the spectrum.
func pitch(fft *fourier.FFT, spectrum []complex128) float32 {
	const bin = float64(audio.Rate) / frame
	for i, c := range spectrum {
		if hz := float64(i) * bin; hz < lowest || hz > 1500 {
			spectrum[i] = 0
		} else {
			spectrum[i] = complex(real(c)*real(c)+imag(c)*imag(c), 0)
		}
	}
	r := fft.Sequence(nil, spectrum)
	at, top := 0, 0.0
	for lag := audio.Rate / highestPitch; lag <= audio.Rate/lowestPitch; lag++ {
		// The taper fades what lies far apart.
		if v := r[lag] / (1 - float64(lag)/frame); v > top*1.02 && r[lag] > r[lag-1] && r[lag] >= r[lag+1] {
			at, top = lag, v
		}
	}
	if at == 0 || top < voiced*r[0] {
		return 0
	}
	return float32(audio.Rate) / float32(at)
}

// melFilter is a triangle over bins of the spectrum.
type melFilter struct {
	first   int
	weights []float64
}

// mel is the scale of pitch of D. O'Shaughnessy, Speech Communication, 1987.
func mel(hz float64) float64 { return 2595 * math.Log10(1+hz/700) }

var filters = melFilters()

func melFilters() (out [bands]melFilter) {
	hz := func(i int) float64 {
		m := mel(lowest) + (mel(highest)-mel(lowest))*float64(i)/(bands+1)
		return 700 * (math.Pow(10, m/2595) - 1)
	}
	const bin = float64(audio.Rate) / frame
	for b := range out {
		from, top, to := hz(b), hz(b+1), hz(b+2)
		f := melFilter{first: int(from/bin) + 1}
		for i := f.first; float64(i)*bin < to; i++ {
			at := float64(i) * bin
			f.weights = append(f.weights, min((at-from)/(top-from), (to-at)/(to-top)))
		}
		out[b] = f
	}
	return out
}

// noises are the powers of the steady noise around each sound of a recording: the
// means of its quietest frames, band by band. Sounds are in order of time.
func noises(sounds []Sound) [][bands]float64 {
	out := make([][bands]float64, len(sounds))
	for i := range sounds {
		lo, hi := i, i+1
		for before := 0.0; lo > 0 && before < neighbourhood && sounds[lo-1].Channel == sounds[i].Channel; lo-- {
			before += sounds[lo-1].End - sounds[lo-1].Start
		}
		for after := 0.0; hi < len(sounds) && after < neighbourhood && sounds[hi].Channel == sounds[i].Channel; hi++ {
			after += sounds[hi].End - sounds[hi].Start
		}
		out[i] = quietOf(sounds[lo:hi])
	}
	return out
}

func quietOf(sounds []Sound) (noise [bands]float64) {
	type one struct {
		p     *[bands]float32
		total float32
	}
	var all []one
	for i := range sounds {
		for k := range sounds[i].powers {
			p := &sounds[i].powers[k]
			all = append(all, one{p, total(p)})
		}
	}
	slices.SortFunc(all, func(a, b one) int {
		switch {
		case a.total < b.total:
			return -1
		case a.total > b.total:
			return 1
		}
		return 0
	})
	n := int(math.Ceil(noiseShare * float64(len(all))))
	for _, o := range all[:n] {
		for b, v := range o.p {
			noise[b] += float64(v) / float64(n)
		}
	}
	for b := range noise {
		noise[b] = max(noise[b], quietest)
	}
	return noise
}

func total(p *[bands]float32) (sum float32) {
	for _, v := range p {
		sum += v
	}
	return sum
}

// feature is one frame as the mixture sees it.
type feature struct {
	at float64 // seconds of the recording
	x  [dims]float64
	// pitch is the logarithm of it in standard deviations off the usual, once that is
	// known; NaN where there is none.
	pitch float64
}

const dims = cepstra

// added is what a clip is made to sound like the recording by: how much louder, and
// the noise that is put under it.
type added struct {
	gain  float64
	noise [bands]float64
}

// features are the frames of a sound that stand clear of its noise.
func (s *Sound) features(noise [bands]float64, more added) []feature {
	var out []feature
	floor := 0.0
	for b := range noise {
		noise[b] = noise[b]*more.gain + more.noise[b]
		floor += noise[b]
	}
	for k := range s.powers {
		loud := 0.0
		var logs [bands]float64
		for b, v := range s.powers[k] {
			p := float64(v)*more.gain + more.noise[b]
			loud += p
			logs[b] = math.Log(max(p, noise[b], quietest))
		}
		if loud < clear*floor {
			continue
		}
		f := feature{at: s.Start + (float64(k)+1)*FrameSeconds, pitch: math.NaN()}
		if hz := float64(s.pitches[k]); hz > 0 {
			f.pitch = math.Log(hz)
		}
		for c := range f.x {
			for b, l := range logs {
				f.x[c] += l * cosines[c][b]
			}
		}
		out = append(out, f)
	}
	return out
}

// asIs leaves the sound of the recording itself as it is.
var asIs = added{gain: 1}

// cosines are the rows of the discrete cosine transform, from the second on.
var cosines = func() (t [cepstra][bands]float64) {
	for c := range t {
		for b := range t[c] {
			t[c][b] = math.Sqrt(2.0/bands) * math.Cos(math.Pi*float64(c+1)*(float64(b)+0.5)/bands)
		}
	}
	return t
}()
