package audio

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
)

// Kind says how the channels of a recording relate to each other.
type Kind string

// The kinds of layout.
const (
	Mono        Kind = "mono"         // one channel
	Copies      Kind = "copies"       // the channels carry the same sound, at whatever gain
	OneSilent   Kind = "one-silent"   // one channel has sound, the rest have none
	SingleSided Kind = "single-sided" // the rest have noise or a faint leak, but no voice of their own
	Separate    Kind = "separate"     // several channels have their own voice
	Silent      Kind = "silent"       // no channel has sound
	Asked       Kind = "asked"        // not looked at: the user named the channels
)

// Layout says which channels to listen to. Use holds channels counted from 0,
// in order, never none; Note is one sentence for the pilot.
type Layout struct {
	Kind Kind
	Use  []int
	Note string
}

// Seats says whether a channel tells who speaks on it.
func (l Layout) Seats() bool {
	return l.Kind == Separate || l.Kind == OneSilent || l.Kind == SingleSided || l.Kind == Asked
}

// LayoutMeter learns the layout from blocks of sound as they go by. It keeps a
// few numbers for each second. It errs towards Separate: a channel listened to
// in vain costs time, a student not listened to costs the debrief.
type LayoutMeter struct {
	step  int // every step'th sample is looked at
	frame int // samples in a frame of 50 ms

	at      int         // samples of the present frame gone by
	energy  []float64   // of the present frame, per channel
	cross   []float64   // of the present frame, per pair
	looked  int         // samples looked at in the present frame
	levels  [][]float64 // power of each frame of the present second, per channel
	crosses []float64   // of the present second

	seconds []layoutSecond
}

// layoutSecond is what is kept of one second. Powers are mean squares.
type layoutSecond struct {
	power  []float32 // per channel
	cross  []float32 // mean product, per pair
	voiced []bool    // per channel
}

// What the meter takes for silence, voice and sameness. All are our own choice,
// set on synthetic recordings: no source.
const (
	framesPerSecond = 20
	silencePower    = 1e-6  // -60 dBFS; the noise of a dead input lies below
	voiceRise       = 8     // 9 dB: what a syllable stands above the noise between syllables
	voiceFrames     = 4     // 200 ms of it in a second; a click has less
	sameness        = 0.98  // share of power one channel explains of its copy
	gainSpread      = 2     // 3 dB: how far the gain between copies may wander
	leakPower       = 0.01  // -20 dB: a leak is this much fainter than its cause
	leakSameness    = 0.5   // share of a leak's power its cause explains
	exceptions      = 0.002 // share of seconds that may disagree, besides one
)

// NewLayoutMeter makes a meter for blocks of so many channels at rate Hz.
func NewLayoutMeter(channels, rate int) *LayoutMeter {
	pairs := channels * (channels - 1) / 2
	return &LayoutMeter{
		step:    max(rate/Rate, 1), // aliasing changes no power and no correlation
		frame:   max(rate/framesPerSecond, 1),
		energy:  make([]float64, channels),
		cross:   make([]float64, pairs),
		crosses: make([]float64, pairs),
		levels:  make([][]float64, channels),
	}
}

// Add takes the next block, one slice per channel.
func (m *LayoutMeter) Add(block [][]float32) {
	n := len(block[0])
	for lo := 0; lo < n; {
		hi := min(lo+m.frame-m.at, n)
		pair := 0
		for c, x := range block {
			m.energy[c] += inner(x[lo:hi], x[lo:hi], m.step)
			for _, y := range block[c+1:] {
				m.cross[pair] += inner(x[lo:hi], y[lo:hi], m.step)
				pair++
			}
		}
		m.looked += (hi - lo + m.step - 1) / m.step
		m.at += hi - lo
		lo = hi
		if m.at == m.frame {
			m.endFrame()
		}
	}
}

// inner is the inner product over every step'th sample.
func inner(x, y []float32, step int) float64 {
	y = y[:len(x)]
	var a float32 // one frame is short enough for float32
	for i := 0; i < len(x); i += step {
		a += x[i] * y[i]
	}
	return float64(a)
}

func (m *LayoutMeter) endFrame() {
	for c := range m.energy {
		m.levels[c] = append(m.levels[c], m.energy[c]/float64(m.looked))
		m.energy[c] = 0
	}
	for p := range m.cross {
		m.crosses[p] += m.cross[p] / float64(m.looked)
		m.cross[p] = 0
	}
	m.at, m.looked = 0, 0
	if len(m.levels[0]) == framesPerSecond {
		m.seconds = append(m.seconds, m.endSecond())
	}
}

func (m *LayoutMeter) endSecond() layoutSecond {
	var s layoutSecond
	n := float64(len(m.levels[0]))
	for c, levels := range m.levels {
		sum := 0.0
		for _, l := range levels {
			sum += l
		}
		floor := max(slices.Min(levels)*voiceRise, silencePower)
		above := 0
		for _, l := range levels {
			if l > floor {
				above++
			}
		}
		s.power = append(s.power, float32(sum/n))
		s.voiced = append(s.voiced, above >= voiceFrames)
		m.levels[c] = levels[:0]
	}
	for p := range m.crosses {
		s.cross = append(s.cross, float32(m.crosses[p]/n))
		m.crosses[p] = 0
	}
	return s
}

// Layout says what the sound so far amounts to.
func (m *LayoutMeter) Layout() Layout {
	return judgeLayout(m.all(), len(m.levels))
}

// all is the seconds so far, with that which has begun.
func (m *LayoutMeter) all() []layoutSecond {
	// End a copy of the meter, so that Add may go on.
	end := *m
	end.energy, end.cross, end.crosses = slices.Clone(m.energy), slices.Clone(m.cross), slices.Clone(m.crosses)
	end.levels = make([][]float64, len(m.levels))
	for c := range m.levels {
		end.levels[c] = slices.Clone(m.levels[c])
	}
	end.seconds = slices.Clip(m.seconds)
	if end.looked > 0 {
		end.endFrame()
	}
	if len(end.levels[0]) > 0 {
		end.seconds = append(end.seconds, end.endSecond())
	}
	return end.seconds
}

func judgeLayout(seconds []layoutSecond, channels int) Layout {
	if channels == 1 {
		return Layout{Mono, []int{0}, "The recording has one channel."}
	}
	var alive, voiced []bool
	for c := range channels {
		loud, spoken := 0, 0
		for _, s := range seconds {
			if s.power[c] > silencePower {
				loud++
			}
			if s.voiced[c] {
				spoken++
			}
		}
		few := 1 + len(seconds)/2000
		if len(seconds) < 10 {
			few = 0
		}
		alive = append(alive, loud > few || spoken > few)
		voiced = append(voiced, spoken > few)
	}
	if !slices.Contains(alive, true) {
		return Layout{Silent, []int{0}, "There is no sound in the recording."}
	}

	use := make([]int, 0, channels)
	var why []string
	kinds := map[Kind]bool{}
	drop := func(kind Kind, c int, format string, args ...any) {
		kinds[kind] = true
		why = append(why, channelName(c, channels)+" "+fmt.Sprintf(format, args...))
	}
	for c := range channels {
		switch {
		case !alive[c]:
			drop(OneSilent, c, "is silent")
		case !voiced[c] && slices.Contains(voiced, true):
			drop(SingleSided, c, "has no voice on it")
		default:
			use = append(use, c)
		}
	}
	// Of copies keep the louder, which is further from the noise of the recorder.
	for i := 0; i < len(use); i++ {
		for j := i + 1; j < len(use); j++ {
			a, b := use[i], use[j]
			gain, same := copies(seconds, a, b, pairIndex(a, b, channels))
			if !same {
				continue
			}
			keep, gone := a, b
			if gain > 1.01 {
				keep, gone = b, a
				gain = 1 / gain
			}
			if level := -10 * math.Log10(gain); level >= 1 {
				drop(Copies, gone, "is a copy of %s, %.0f dB fainter", channelName(keep, channels), level)
			} else {
				drop(Copies, gone, "is a copy of %s", channelName(keep, channels))
			}
			use[i] = keep
			use = slices.Delete(use, j, j+1)
			j--
		}
	}
	for i := len(use) - 1; i >= 0 && len(use) > 1; i-- {
		for _, a := range use {
			b := use[i]
			if a != b && leak(seconds, a, b, pairIndex(min(a, b), max(a, b), channels)) {
				drop(SingleSided, b, "has only a faint leak of %s", channelName(a, channels))
				use = slices.Delete(use, i, i+1)
				break
			}
		}
	}
	slices.Sort(use)

	l := Layout{Kind: Separate, Use: use}
	if len(use) == 1 {
		for _, k := range []Kind{SingleSided, OneSilent, Copies} {
			if kinds[k] {
				l.Kind = k
			}
		}
	}
	var names []string
	for _, c := range use {
		names = append(names, channelName(c, channels))
	}
	listening := "listening to " + list(names)
	if len(use) > 1 {
		why = append(why, list(names)+" each carry their own sound")
		listening = "listening to each by itself"
	}
	note := strings.Join(why, ", ") + ": " + listening + "."
	l.Note = strings.ToUpper(note[:1]) + note[1:]
	return l
}

// copies says whether channels a and b carry the same sound, and the power of b
// against that of a.
func copies(seconds []layoutSecond, a, b, pair int) (gain float64, same bool) {
	matter := func(s layoutSecond) bool { return s.voiced[a] || s.voiced[b] }
	if !slices.ContainsFunc(seconds, matter) {
		matter = func(s layoutSecond) bool { return s.power[a] > silencePower || s.power[b] > silencePower }
	}
	var gains []float64
	differ, compared := 0, 0
	for _, s := range seconds {
		if !matter(s) {
			continue
		}
		compared++
		switch {
		case explained(s, a, b, pair) < sameness:
			differ++
		default:
			gains = append(gains, float64(s.power[b])/float64(s.power[a]))
		}
	}
	if len(gains) == 0 {
		return 0, false
	}
	gain = median(gains)
	for _, g := range gains {
		if g > gain*gainSpread || g < gain/gainSpread {
			differ++
		}
	}
	return gain, few(differ, compared)
}

// leak says whether b has nothing but what a has, far fainter.
func leak(seconds []layoutSecond, a, b, pair int) bool {
	differ, voiced := 0, 0
	for _, s := range seconds {
		if !s.voiced[b] {
			continue
		}
		voiced++
		if s.power[b] > s.power[a]*leakPower || explained(s, a, b, pair) < leakSameness {
			differ++
		}
	}
	return voiced > 0 && few(differ, voiced)
}

// few says whether n of total seconds are exceptions rather than another voice.
func few(n, total int) bool {
	return total > 0 && float64(n) <= exceptions*float64(total)+min(1, 0.05*float64(total))
}

// explained is the share of the power of one channel the other accounts for.
func explained(s layoutSecond, a, b, pair int) float64 {
	ab := float64(s.power[a]) * float64(s.power[b])
	if ab == 0 {
		return 0
	}
	return float64(s.cross[pair]) * float64(s.cross[pair]) / ab
}

// pairIndex is where Add puts the pair a < b.
func pairIndex(a, b, channels int) int {
	return a*(2*channels-a-1)/2 + b - a - 1
}

func median(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	return s[len(s)/2]
}

func channelName(c, channels int) string {
	if channels == 2 {
		return [...]string{"the left side", "the right side"}[c]
	}
	return fmt.Sprintf("channel %d", c+1)
}

func list(names []string) string {
	if len(names) == 1 {
		return names[0]
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// Survey is what a first look at a tape tells.
type Survey struct {
	Layouts []Layout    // of each part
	Voices  [][]float64 // about how loud voices are, dBFS, by part and channel; NaN where none are
}

// Survey reads the whole tape once, without resampling it, and says for each part
// which channels to listen to and how loud they are. Parts with as many channels
// are taken together: a seat that is silent in one of them need not be so in the
// next.
func (t *Tape) Survey(ctx context.Context) (*Survey, error) {
	type shape struct{ channels, rate int }
	of := func(part int) shape {
		i := t.Parts[part].Info
		return shape{i.Channels, i.SampleRate}
	}
	meters := map[shape]*LayoutMeter{}
	levels := map[int][]LevelMeter{} // by channels
	s, err := t.Open(ctx, Wanted{raw: true, Tap: func(part int, block [][]float32) {
		k := of(part)
		if meters[k] == nil {
			meters[k] = NewLayoutMeter(k.channels, k.rate)
		}
		if k.channels > 1 {
			meters[k].Add(block)
		}
		if levels[k.channels] == nil {
			levels[k.channels] = make([]LevelMeter, k.channels)
		}
		for c, x := range block {
			levels[k.channels][c].Add(x, k.rate)
		}
	}})
	if err != nil {
		return nil, err
	}
	defer s.Close()
	for err == nil {
		_, err = s.Read()
	}
	if err != io.EOF {
		return nil, err
	}
	seconds := map[int][]layoutSecond{}
	for k, m := range meters {
		seconds[k.channels] = append(seconds[k.channels], m.all()...)
	}
	voices := map[int][]float64{}
	for channels, ms := range levels {
		for c := range ms {
			voices[channels] = append(voices[channels], ms[c].Level(nil).Voice)
		}
	}
	out := &Survey{}
	for _, p := range t.Parts {
		n := p.Info.Channels
		if voices[n] == nil { // its file is gone
			for range n {
				voices[n] = append(voices[n], math.NaN())
			}
		}
		out.Layouts = append(out.Layouts, judgeLayout(seconds[n], n))
		out.Voices = append(out.Voices, voices[n])
	}
	return out, nil
}
