package audio

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Ground listens to what lies under the voices of one channel: the hum of mains
// or of a charger, and the buffeting of wind or hands on a microphone. It hears
// the stretches between words only.
type Ground struct {
	pending []float32
	speech  []float32 // of pending, one for each Window

	long, short *fourier.FFT
	taperL      []float64
	taperS      []float64
	in          []float64
	out         []complex128
	windows     int
	seconds     int       // taken or passed over
	lines       []float64 // mean level in dB of each bin of the long transform, up to hums
	power       []float64 // mean power of the same
	low, high   []float32 // dB, of each short frame without speech; NaN with
}

const (
	wholly       = 120   // seconds that are looked at one and all
	groundWindow = 512   // samples that one judgement of speech covers
	longFrame    = 16384 // 1.024 s: lines 0.98 Hz apart
	shortFrame   = 4096  // 0.256 s: as long as a gust takes to change
	binHz        = float64(Rate) / longFrame
	shortHz      = float64(Rate) / shortFrame
	hums         = 620 // bins: 605 Hz
)

// NewGround makes one.
func NewGround() *Ground {
	return &Ground{
		long: fourier.NewFFT(longFrame), short: fourier.NewFFT(shortFrame),
		taperL: hann(longFrame), taperS: hann(shortFrame),
		in: make([]float64, longFrame), out: make([]complex128, longFrame/2+1),
		lines: make([]float64, hums), power: make([]float64, hums),
	}
}

// hann is a window that leaves the power of noise as it is.
func hann(n int) []float64 {
	w := make([]float64, n)
	sum := 0.0
	for i := range w {
		w[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(n))
		sum += w[i] * w[i]
	}
	scale := 1 / math.Sqrt(sum*float64(n)/2)
	for i := range w {
		w[i] *= scale // so that the bins add up to the mean square
	}
	return w
}

// Add takes the next samples at Rate, and how likely each further 512 of them
// are speech, as far as that is known.
func (g *Ground) Add(samples, speech []float32) {
	g.pending = append(g.pending, samples...)
	g.speech = append(g.speech, speech...)
	for len(g.pending) >= longFrame && len(g.speech) >= longFrame/groundWindow {
		// Of a long recording every fourth ten seconds tell enough.
		if g.seconds < wholly || g.seconds%40 < 10 {
			g.frame(g.pending[:longFrame], g.speech[:longFrame/groundWindow])
		}
		g.seconds++
		g.pending = g.pending[:copy(g.pending, g.pending[longFrame:])]
		g.speech = g.speech[:copy(g.speech, g.speech[longFrame/groundWindow:])]
	}
}

func (g *Ground) frame(x, speech []float32) {
	spoken := 0
	for _, p := range speech {
		if p >= surelyNone {
			spoken++
		}
	}
	if spoken == 0 {
		g.spectrum(g.long, g.taperL, x)
		for i := range g.lines {
			p := square(g.out[i])
			g.power[i] += p
			g.lines[i] += 10 * math.Log10(p+1e-16)
		}
		g.windows++
	}
	const share = shortFrame / groundWindow
	for i := 0; i < longFrame; i += shortFrame {
		quiet := true
		for _, p := range speech[i/groundWindow:][:share] {
			quiet = quiet && p < surelyNone
		}
		if !quiet {
			g.low, g.high = append(g.low, nan32), append(g.high, nan32)
			continue
		}
		g.spectrum(g.short, g.taperS, x[i:i+shortFrame])
		g.low = append(g.low, g.band(20, 80))
		g.high = append(g.high, g.band(300, 3000))
	}
}

var nan32 = float32(math.NaN())

func (g *Ground) spectrum(fft *fourier.FFT, taper []float64, x []float32) {
	in := g.in[:len(x)]
	for i, v := range x {
		in[i] = float64(v) * taper[i]
	}
	g.out = fft.Coefficients(g.out[:len(x)/2+1], in)
}

// band is the level of the short spectrum between two frequencies, dBFS.
func (g *Ground) band(from, to float64) float32 {
	sum := 0.0
	for i := int(math.Ceil(from / shortHz)); float64(i)*shortHz <= to; i++ {
		sum += square(g.out[i])
	}
	return float32(10 * math.Log10(sum+1e-16))
}

func square(c complex128) float64 { return real(c)*real(c) + imag(c)*imag(c) }

// What hum is: lines that stay where they are while all else wanders. All our
// own choice, set on synthetic recordings: no source.
const (
	humWindows = 5   // seconds to hear it in
	lineRise   = 9.0 // dB a line stands above what is around it, on average
	lineWidth  = 2   // bins on either side that a line may fill
	lineSharp  = 6.0 // dB a line falls off on its flanks; one that wanders has none
)

// Hum looks for mains hum: 50 or 60 Hz and its harmonics. It gives the mains
// frequency, 0 for none, and the level of the lines in dBFS.
func (g *Ground) Hum() (hz, level float64) {
	if g.windows < humWindows {
		return 0, math.NaN()
	}
	best := 0.0
	for _, mains := range []float64{50, 60} {
		found, power := 0, 0.0
		low := false
		for k := 1.0; k <= 8; k++ {
			if rise, p := g.line(mains * k); rise >= lineRise {
				power += p
				found++
				low = low || k <= 2
			}
		}
		if found >= 2 && low && g.others(mains) < found && power > best {
			hz, best = mains, power
		}
	}
	if hz == 0 {
		return 0, math.NaN()
	}
	return hz, 10 * math.Log10(best)
}

// others counts the lines that are no harmonics of the mains. An engine has a comb
// of its own, and where that comb has a tooth on the mains nobody can tell them
// apart: then nothing is said of hum.
func (g *Ground) others(mains float64) (n int) {
	const lowest, highest = 26, 471 // bins: 25 to 460 Hz
	for i := lowest; i < highest; i++ {
		hz := float64(i) * binHz
		if off := math.Abs(hz - mains*math.Round(hz/mains)); off < (lineWidth+1)*binHz {
			continue
		}
		if rise, _ := g.line(hz); rise >= lineRise {
			n++
			i += 2 * lineWidth
		}
	}
	return n
}

// line is how far a line at hz stands above what is around it, in dB, and its
// power; nothing on the flank of another line.
func (g *Ground) line(hz float64) (rise, power float64) {
	at := int(math.Round(hz / binHz))
	const span = 14 // bins, 14 Hz
	n := float64(g.windows)
	var around []float64
	peak, flank := math.Inf(-1), math.Inf(-1)
	for i := at - span; i <= at+span; i++ {
		if i < 1 || i >= hums {
			continue
		}
		d := max(i-at, at-i)
		if d > lineWidth+1 {
			around = append(around, g.lines[i]/n)
		}
		if d <= lineWidth {
			power += g.power[i] / n
		}
		if d <= 1 {
			peak = max(peak, g.lines[i]/n)
		} else if d > lineWidth && d <= 3*lineWidth {
			flank = max(flank, g.lines[i]/n)
		}
	}
	if len(around) == 0 || peak < flank+lineSharp {
		return 0, 0
	}
	return peak - median(around), power
}

// What wind is: a rumble that comes and goes within a second, where an engine
// is steady. All our own choice: no source.
const (
	gustFrames = 40    // ten seconds of quiet to hear it in
	gustSwing  = 4.5   // dB from one quarter of a second to the next; steady noise has 1.6
	gustLevel  = -50.0 // dBFS: below it nobody minds
	gustOver   = 0.0   // dB the rumble has more than the band of speech
)

// Wind is the share of the time between words with gusts in it.
func (g *Ground) Wind() float64 {
	const stretch = 40 // frames, ten seconds
	gusty, heard := 0, 0
	for from := 0; from < len(g.low); from += stretch {
		to := min(from+stretch, len(g.low))
		swing, low, high, pairs := 0.0, 0.0, 0.0, 0
		for i := from + 1; i < to; i++ {
			a, b := float64(g.low[i-1]), float64(g.low[i])
			if math.IsNaN(a) || math.IsNaN(b) {
				continue
			}
			swing += (b - a) * (b - a)
			low += math.Pow(10, b/10)
			high += math.Pow(10, float64(g.high[i])/10)
			pairs++
		}
		if pairs < 6 {
			continue
		}
		heard += pairs
		n := float64(pairs)
		if math.Sqrt(swing/n) >= gustSwing && 10*math.Log10(low/n) >= gustLevel && 10*math.Log10(low/high) >= gustOver {
			gusty += pairs
		}
	}
	if heard < gustFrames/2 {
		return 0
	}
	return float64(gusty) / float64(heard)
}
