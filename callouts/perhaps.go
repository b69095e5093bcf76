package callouts

import (
	"slices"
	"strings"
	"unicode"

	"sidetone/audio/transcript"
)

// Perhaps returns the calls that may have been made in place of words that were
// heard (transcript.Alternative), ordered by Start, with their small confidence.
// Heard is the words that were heard. They are no calls to report; but where a
// procedure expects one, and nothing else was heard of it, it is not certain that
// it was not made.
func (f *Finder) Perhaps(t *transcript.Transcript) []Call {
	var out []Call
	for i, u := range t.Utterances {
		for k, w := range u.Words {
			if w.Or == nil {
				continue
			}
			if c, ok := f.perhaps(u, k); ok {
				c.Utterance = i
				out = append(out, c)
			}
		}
	}
	slices.SortStableFunc(out, byTime)
	return out
}

// perhaps is the call made if what stands beside word k was said.
func (f *Finder) perhaps(u transcript.Utterance, k int) (Call, bool) {
	or := u.Words[k].Or
	end := min(len(u.Words), k+max(1, or.Words))
	from, to := u.Words[k].Start, u.Words[end-1].End
	text := strings.Fields(or.Text)
	said := u
	said.Words = slices.Clone(u.Words[:k])
	for j, w := range text {
		share := (to - from) / float64(len(text))
		said.Words = append(said.Words, transcript.Word{Text: w, Start: from + share*float64(j), End: from + share*float64(j+1), Confidence: 1})
	}
	said.Words = append(said.Words, u.Words[end:]...)
	said.Text = transcript.Join(said.Words)
	for _, c := range f.Find(&transcript.Transcript{Utterances: []transcript.Utterance{said}}) {
		if c.Stance != Done || c.End <= from || c.Start >= to {
			continue
		}
		c.Confidence *= or.Confidence
		c.Heard = transcript.Join(u.Words[k:end])
		c.Perhaps = true
		return c, true
	}
	return Call{}, false
}

// Misread returns, of calls found in a transcript that were denied, asked about or
// only talked about, those that may have been made: where the words around them were
// not heard for certain, a "not" or an "is it" may be none. They are as Perhaps gives
// them.
func Misread(t *transcript.Transcript, calls []Call) []Call {
	var out []Call
	for _, c := range calls {
		if c.Stance != Denied && c.Stance != Asked && c.Stance != TalkedAbout {
			continue
		}
		doubt := 0.0
		for _, w := range t.Utterances[c.Utterance].Words {
			if w.End > c.Start-tellsStance && w.Start < c.End+tellsStance {
				doubt = max(doubt, 1-w.Confidence)
			}
		}
		if doubt *= c.Confidence; doubt >= leastDoubt {
			c.Stance, c.Perhaps, c.Confidence = Done, true, misread*doubt
			out = append(out, c)
		}
	}
	return out
}

const (
	tellsStance = 1.5 // seconds from a call in which words tell what is meant by it
	leastDoubt  = 0.1 // of one of them, for it to be doubted
	misread     = 0.4
)

// Unclear is the ID of a call that may have been made, nobody knows which: something
// was said that was not understood.
const Unclear = "unclear"

// NotUnderstood returns the stretches of a transcript in which words were written that
// hardly anybody said: two or more in a row that are together less likely than not to
// be right. They are calls of the ID Unclear, as Perhaps gives them.
func NotUnderstood(t *transcript.Transcript) []Call {
	var out []Call
	for i, u := range t.Utterances {
		for from := 0; from < len(u.Words); {
			to, sum := from, 0.0
			for to < len(u.Words) && u.Words[to].Confidence < garbled {
				sum += u.Words[to].Confidence
				to++
			}
			n := to - from
			if n >= 2 && sum/float64(n) < garbledAll && lettersOf(u.Words[from:to]) >= garbledLetters {
				out = append(out, Call{ID: Unclear, Start: u.Words[from].Start, End: u.Words[to-1].End, Speaker: u.Speaker, Stance: Done,
					Confidence: sum / float64(n), Heard: transcript.Join(u.Words[from:to]), Perhaps: true, Utterance: i})
			}
			from = to + 1
		}
	}
	return out
}

const (
	garbled    = 0.9  // the most likely a word of such a stretch may be
	garbledAll = 0.85 // and all of them on average
	// garbledLetters is how much must have been said: "at the" can be no call.
	garbledLetters = 7
)

func lettersOf(words []transcript.Word) (n int) {
	for _, w := range words {
		for _, r := range w.Text {
			if unicode.IsLetter(r) || unicode.IsDigit(r) {
				n++
			}
		}
	}
	return n
}
