package callouts

import (
	"slices"
	"strings"

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
