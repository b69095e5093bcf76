package audio

import (
	"math"
	"slices"
)

// Level is what one channel of a recording is like. Levels are in dBFS: 20 log
// of an amplitude, or 10 log of a power, against full scale; a full-scale sine
// has an RMS of -3.01. NaN is what could not be measured.
type Level struct {
	Channel  int // from 0
	Channels int // in the file
	Listened bool

	Peak  float64 // the loudest sample
	RMS   float64 // of everything
	DC    float64 // mean of the samples, as a share of full scale
	Tops  int     // samples cut off flat at the top: clipped
	Share float64 // of the time somebody speaks, 0 to 1

	Voice   float64 // RMS while somebody speaks, the noise taken off
	Noise   float64 // RMS where nobody speaks: the noise floor
	SNR     float64 // of the voice against the noise under it, dB; of a channel listened to, in the band of VoiceBand
	Clipped float64 // share of the speech that has samples cut off flat

	Hum      float64 // 50 or 60 Hz when there is mains hum, else 0
	HumLevel float64 // RMS of it and its harmonics
	Wind     float64 // share of the time between words with gusts or thumps in it
}

// highFrame is a frame with samples near the peak; few are.
type highFrame struct {
	frame int32
	top   float32 // the loudest sample up to here
	tops  int32   // samples as loud as that
	below int32   // samples all but as loud
}

// LevelSeconds is the time between two judgements of a meter: that of a speech
// detector's window, with whose judgement they are put together.
const LevelSeconds = 512.0 / Rate

// LevelMeter measures one channel as its samples go by, at the file's own rate.
// It keeps little more than four bytes for each frame, LevelSeconds: recordings are
// long.
type LevelMeter struct {
	rate   int
	begun  int64     // frames when this rate began
	at     int64     // samples since
	powers []float32 // mean square of each frame
	highs  []highFrame

	sum   float64 // of squares, in the present frame
	n     int
	tops  int32
	below int32
	peak  float32
	total float64 // sum of squares
	dc    float64 // sum
	count int64
}

// Samples that were cut off pile up at the very top. A voice, an engine or noise
// has hardly any there, and a tone has 2.4 times as many in the uppermost slice of
// its range as in the next. The slices and the ratio are our own choice.
const (
	slice      = 1.0 / 2000 // of the peak
	pileUp     = 5.0
	fewestTops = 8
)

// Add takes the next samples at rate Hz.
func (m *LevelMeter) Add(x []float32, rate int) {
	if rate != m.rate {
		m.close()
		m.rate, m.begun, m.at = rate, int64(len(m.powers)), 0
	}
	for len(x) > 0 {
		// The frame that is open ends at a multiple of LevelSeconds, to a sample.
		next := (int64(len(m.powers))-m.begun+1)*512*int64(rate)/Rate - m.at
		n := int(min(max(next, 1), int64(len(x))))
		m.take(x[:n])
		m.at += int64(n)
		x = x[n:]
		if int64(n) >= next {
			m.close()
		}
	}
}

func (m *LevelMeter) take(x []float32) {
	var sum, dc float64
	second := m.peak * (1 - 2*slice)
	for _, v := range x {
		sum += float64(v) * float64(v)
		dc += float64(v)
		if v < 0 {
			v = -v
		}
		if v >= second && v > 0 {
			second = m.high(v)
		}
	}
	m.sum += sum
	m.dc += dc
	m.n += len(x)
}

// high counts a sample near the peak, or beyond it, and gives the magnitude from
// which the next are counted.
func (m *LevelMeter) high(v float32) float32 {
	switch {
	case v*(1-slice) > m.peak: // nothing before was near this
		m.peak, m.tops, m.below = v, 1, 0
	case v >= m.peak*(1-slice):
		m.peak = max(m.peak, v)
		m.tops++
	default:
		m.below++
	}
	return m.peak * (1 - 2*slice)
}

// close ends the frame that is open.
func (m *LevelMeter) close() {
	if m.n == 0 {
		return
	}
	if m.tops+m.below > 0 {
		m.highs = append(m.highs, highFrame{int32(len(m.powers)), m.peak, m.tops, m.below})
	}
	m.powers = append(m.powers, float32(m.sum/float64(m.n)))
	m.total += m.sum
	m.count += int64(m.n)
	m.sum, m.n, m.tops, m.below = 0, 0, 0, 0
}

// Level says what was measured. speech tells, for each LevelSeconds from the
// start, how likely somebody spoke; nil where nobody listened: then what stands
// well above the quiet is taken for speech.
func (m *LevelMeter) Level(speech []float32) Level {
	end := *m
	end.powers, end.highs = slices.Clip(m.powers), slices.Clip(m.highs)
	end.close()
	l := Level{Listened: speech != nil, Peak: decibels(float64(end.peak)),
		RMS: math.NaN(), Voice: math.NaN(), Noise: math.NaN(), SNR: math.NaN(), HumLevel: math.NaN()}
	if end.count == 0 {
		return l
	}
	l.RMS = decibels(math.Sqrt(end.total / float64(end.count)))
	l.DC = end.dc / float64(end.count)
	if speech == nil {
		speech = loudness(end.powers)
	}
	end.weigh(&l, speech)
	return l
}

// What is speech and what is the noise around it.
const (
	surelySpeech  = 0.5
	surelyNone    = 0.15
	settle        = 6  // frames (0.2 s) after a word: its echo, and a slow gate, are over
	nearby        = 40 // frames (1.3 s) around a word: the noise there lies under it
	fewestFrames  = 15 // half a second
	clippedFrames = 3  // of all: fewer may be a thump
)

func (m *LevelMeter) weigh(l *Level, speech []float32) {
	n := min(len(m.powers), len(speech))
	speech = speech[:n]
	if n == 0 {
		return
	}
	distance := apart(speech)
	var noise, around []float64
	voice, spoken := 0.0, 0
	for i, power := range m.powers[:n] {
		power := float64(power)
		switch {
		case speech[i] >= surelySpeech:
			voice += power
			spoken++
		case speech[i] < surelyNone && distance[i] >= settle:
			noise = append(noise, power)
			if distance[i] < nearby {
				around = append(around, power)
			}
		}
	}
	l.Share = float64(spoken) / float64(n)
	if len(noise) >= fewestFrames {
		l.Noise = decibels(math.Sqrt(middle(noise)))
	}
	if spoken >= fewestFrames {
		voice /= float64(spoken)
		under := 0.0
		// An intercom that opens with the voice lets the noise in only then.
		if len(around) >= fewestFrames {
			under = middle(open(around))
		} else if len(noise) >= fewestFrames {
			under = middle(noise)
		}
		l.Voice = decibels(math.Sqrt(max(voice-under, 0)))
		if under > 0 || len(noise) >= fewestFrames {
			const lowest = 1e-10 // -100 dBFS: the rounding of 16 bits
			l.SNR = 10 * math.Log10(max(voice-under, lowest)/max(under, lowest))
		}
	}
	cut, cutSpeech, below := 0, 0, 0
	for _, f := range m.highs {
		if int(f.frame) >= n || f.top < m.peak*(1-slice) {
			continue // what was at the top then is not any more
		}
		below += int(f.below)
		if f.tops > 0 {
			l.Tops += int(f.tops)
			cut++
			if speech[f.frame] >= surelySpeech {
				cutSpeech++
			}
		}
	}
	if cut < clippedFrames || l.Tops < fewestTops || float64(l.Tops) < pileUp*float64(below) {
		l.Tops = 0
	} else if spoken > 0 {
		l.Clipped = float64(cutSpeech) / float64(spoken)
	}
}

// apart tells how many frames each is from the nearest with speech.
func apart(speech []float32) []int {
	const far = 1 << 30
	d := make([]int, len(speech))
	last := far
	for i, p := range speech {
		last = min(last+1, far)
		if p >= surelySpeech {
			last = 0
		}
		d[i] = last
	}
	last = far
	for i := len(speech) - 1; i >= 0; i-- {
		last = min(last+1, far)
		if speech[i] >= surelySpeech {
			last = 0
		}
		d[i] = min(d[i], last)
	}
	return d
}

// loudness takes for speech what stands 10 dB above the quieter half.
func loudness(powers []float32) []float32 {
	out := make([]float32, len(powers))
	if len(powers) == 0 {
		return out
	}
	wide := make([]float64, len(powers))
	for i, p := range powers {
		wide[i] = float64(p)
	}
	const faintest = 1e-9 // -90 dBFS: the rounding of 16 bits
	floor := max(10*quantile(wide, 0.3), faintest)
	for i, p := range wide {
		if p > floor {
			out[i] = 1
		}
	}
	return out
}

// open leaves out what a closed gate leaves silent, where there is one.
func open(x []float64) []float64 {
	lo, hi := quantile(x, 0.1), quantile(x, 0.9)
	if hi < 100*max(lo, 1e-12) { // 20 dB
		return x
	}
	between := math.Sqrt(max(lo, 1e-12) * hi)
	return slices.DeleteFunc(slices.Clone(x), func(v float64) bool { return v < between })
}

// middle is the mean of the middle half: neither a click nor a gap moves it far.
func middle(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	s = s[len(s)/4 : max(len(s)*3/4, len(s)/4+1)]
	sum := 0.0
	for _, v := range s {
		sum += v
	}
	return sum / float64(len(s))
}

func quantile(x []float64, q float64) float64 {
	s := slices.Sorted(slices.Values(x))
	return s[min(int(q*float64(len(s))), len(s)-1)]
}

// decibels of an amplitude; -Inf for nothing at all.
func decibels(amplitude float64) float64 { return 20 * math.Log10(amplitude) }
