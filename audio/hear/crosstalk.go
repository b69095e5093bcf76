package hear

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"unicode"

	"github.com/agnivade/levenshtein"

	"sidetone/audio/transcript"
)

// A seat's microphone also hears the other seat, and both seats hear the radio: the
// same words come on two channels at once. They are counted once. A word is cross-talk
// where the other channel is louder just then, each measured by its own voice, and
// both rise and fall together; what somebody says after the other one, or over the
// other one, does neither.

// All are our own choice, set on the lessons of TestCrosstalk; no source.
const (
	fainter     = 4.0  // power: 6 dB, against the other channel, each by its own voice
	together    = 0.6  // alike envelopes of a voice and its cross-talk
	sameWords   = 0.6  // alike letters
	sameWordsAt = 0.35 // alike envelopes when the words are the same, too
	asOne       = 0.85 // alike envelopes of what is as loud on both
	surelyOne   = 0.95 // even when it is heard as other words
	nearWord    = 0.25 // seconds the times of a word may differ by on two channels
	shortWord   = 0.4  // seconds around a shorter word are looked at
	ownVoice    = 0.95 // the quantile of a channel's words that is its own voice
)

// Crosstalk counts words that were heard on more than one channel.
type Crosstalk struct {
	Words  int // left out, since they are louder on the other channel
	Shared int // left out, since they are as loud on the other: whose they are is not known
	Moved  int // heard only on the channel they are fainter on, and put down to the other
}

// heardWord is a word and what becomes of it.
type heardWord struct {
	transcript.Word
	utterance int
	channel   int
	fate      fate
	to        int // the channel it is moved to
}

type fate int

const (
	kept fate = iota
	echoed
	moved
	shared   // kept, and nobody's
	repeated // left out, since it is kept as shared on another channel
)

// once takes what is heard on several channels at once only once.
func (e *envelopes) once(us []transcript.Utterance) ([]transcript.Utterance, Crosstalk) {
	var words []*heardWord
	by := map[int][]*heardWord{}
	for i := range us {
		for _, w := range us[i].Words {
			h := &heardWord{Word: w, utterance: i, channel: us[i].Channel}
			words = append(words, h)
			by[h.channel] = append(by[h.channel], h)
		}
	}
	if len(by) < 2 && len(e.channels) < 2 {
		return us, Crosstalk{}
	}
	var channels []int
	for c := range e.channels {
		channels = append(channels, c)
	}
	slices.Sort(channels)
	own, floor := map[int]float64{}, map[int]float64{}
	for _, c := range channels {
		floor[c] = e.floor(c)
	}
	for c, ws := range by {
		slices.SortStableFunc(ws, func(a, b *heardWord) int { return cmp.Compare(a.Start, b.Start) })
		own[c] = e.own(c, ws)
	}
	for _, c := range channels {
		for _, d := range channels {
			if c == d || own[c] == 0 || own[d] == 0 {
				continue
			}
			louder := func(w *heardWord) float64 { // how much d is than c
				from, to := w.Start, w.End
				if less := shortWord - (to - from); less > 0 { // its times may be off
					from, to = from-less/2, to+less/2
				}
				voice := func(c int) float64 { return max(e.power(c, from, to)-floor[c], floor[c]/10) / own[c] }
				return voice(d) / max(voice(c), 1e-12)
			}
			for _, run := range runs(by[c], func(w *heardWord) bool { return w.fate == kept && louder(w) >= fainter }) {
				e.echoes(run, by[d], c, d)
			}
			if c < d {
				continue
			}
			even := func(w *heardWord) bool {
				l := louder(w)
				return w.fate == kept && l < fainter && l > 1/fainter
			}
			for _, run := range runs(by[c], even) {
				e.shares(run, by[d], c, d)
			}
		}
	}
	return rebuilt(us, words)
}

// own is about how loud the voice is a channel belongs to: its loud words.
func (e *envelopes) own(channel int, ws []*heardWord) float64 {
	var powers []float64
	for _, w := range ws {
		if p := e.power(channel, w.Start, w.End); p > 0 {
			powers = append(powers, p)
		}
	}
	if len(powers) == 0 {
		return 0
	}
	slices.Sort(powers)
	return powers[int(math.Ceil(ownVoice*float64(len(powers))))-1]
}

// runs are the stretches of words of one utterance that are such.
func runs(ws []*heardWord, such func(*heardWord) bool) (out [][]*heardWord) {
	from := -1
	end := func(i int) {
		if from >= 0 {
			out = append(out, ws[from:i])
		}
		from = -1
	}
	for i, w := range ws {
		if from >= 0 && ws[from].utterance != w.utterance {
			end(i)
		}
		switch is := such(w); {
		case is && from < 0:
			from = i
		case !is:
			end(i)
		}
	}
	end(len(ws))
	return out
}

// echoes decides about words on c while d is louder.
func (e *envelopes) echoes(run, others []*heardWord, c, d int) {
	there := during(others, run)
	from, to := run[0].Start, run[len(run)-1].End
	// With what is around it, too: a word alone is short, and its times may be off.
	alike := max(e.alike(c, d, from, to), e.alike(c, d, from-nearWord, to+nearWord))
	same := likeness(run, there) >= sameWords
	if alike < together && !(same && alike >= sameWordsAt) {
		return
	}
	for _, w := range run {
		w.fate = echoed
		if len(there) == 0 {
			w.fate, w.to = moved, d
		}
	}
}

// shares decides about words that are as loud on d as on c.
func (e *envelopes) shares(run, others []*heardWord, c, d int) {
	there := during(others, run)
	alike := e.alike(c, d, run[0].Start, run[len(run)-1].End)
	if len(there) == 0 || alike < asOne || likeness(run, there) < sameWords && alike < surelyOne {
		return
	}
	for _, w := range run {
		w.fate = repeated
	}
	for _, w := range there {
		if w.fate == kept {
			w.fate = shared
		}
	}
}

// during are the words said at the time of a run.
func during(ws, run []*heardWord) (out []*heardWord) {
	from, to := run[0].Start-nearWord, run[len(run)-1].End+nearWord
	for _, w := range ws {
		if mid := (w.Start + w.End) / 2; mid > from && mid < to {
			out = append(out, w)
		}
	}
	return out
}

// likeness is how much alike words are written: 1 for the same letters.
func likeness(a, b []*heardWord) float64 {
	x, y := letters(a), letters(b)
	n := max(len([]rune(x)), len([]rune(y)))
	if n == 0 || x == "" || y == "" {
		return 0
	}
	return 1 - float64(levenshtein.ComputeDistance(x, y))/float64(n)
}

func letters(ws []*heardWord) string {
	var b strings.Builder
	for _, w := range ws {
		for _, r := range w.Text {
			if unicode.IsLetter(r) || unicode.IsDigit(r) {
				b.WriteRune(unicode.ToLower(r))
			}
		}
	}
	return b.String()
}

// rebuilt puts the words that are left back into utterances.
func rebuilt(us []transcript.Utterance, words []*heardWord) (out []transcript.Utterance, n Crosstalk) {
	for len(words) > 0 {
		u := us[words[0].utterance]
		mine := words[:len(u.Words)]
		words = words[len(u.Words):]
		for i := 0; i < len(mine); {
			j := i + 1
			for j < len(mine) && mine[j].fate == mine[i].fate && mine[j].to == mine[i].to {
				j++
			}
			p := u.Part(i, j)
			switch mine[i].fate {
			case echoed:
				n.Words += j - i
			case repeated:
				n.Shared += j - i
			case moved:
				n.Moved += j - i
				p.Channel = mine[i].to
				out = append(out, p)
			case shared:
				p.Speaker = nobodys
				out = append(out, p)
			default:
				out = append(out, p)
			}
			i = j
		}
	}
	return out, n
}

// nobodys marks, until speakers are named, the speaker of what is as loud on several channels.
const nobodys = "\x00"
