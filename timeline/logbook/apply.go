package logbook

import (
	"slices"

	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/timeline"
)

// Fill gives every utterance words: facts name words by their number in the lesson.
// It is done once, before the lesson is judged and kept.
func Fill(t *transcript.Transcript) {
	for i := range t.Utterances {
		if u := &t.Utterances[i]; len(u.Words) == 0 {
			u.Words = transcript.Spread(u.Text, u.Start, u.End)
		}
	}
}

// Corrections are the standing corrections of words, by the number of the word: of
// several the last written.
func Corrections(facts []Fact) map[int]Fact {
	out := map[int]Fact{}
	for i, stands := range Standing(facts) {
		if f := facts[i]; stands && f.Kind == KindWord {
			out[*f.Word] = f
		}
	}
	return out
}

// closely spread words are timed as well as a recogniser does, in seconds.
const closely = 1.0

// Correct is a transcript with corrections put in. A word that was put right keeps its
// time; several words share that of the one they stand for. Utterances keep their
// places, even those left without words.
func Correct(heard []transcript.Utterance, corrections map[int]Fact) *transcript.Transcript {
	out := &transcript.Transcript{Utterances: slices.Clone(heard)}
	n := 0
	for i := range out.Utterances {
		u := &out.Utterances[i]
		first := n
		n += len(u.Words)
		if !slices.ContainsFunc(u.Words, func(transcript.Word) bool { first++; _, ok := corrections[first-1]; return ok }) {
			continue
		}
		words := []transcript.Word{}
		for j, w := range u.Words {
			f, ok := corrections[n-len(u.Words)+j]
			if !ok {
				words = append(words, w)
				continue
			}
			for _, x := range transcript.Spread(f.Text, w.Start, w.End) {
				x.Confidence, x.Estimated = 1, w.Estimated || x.Estimated && w.End-w.Start > closely
				words = append(words, x)
			}
		}
		u.Words, u.Text = words, transcript.Join(words)
	}
	return out
}

// Added are the standing calls that people added, as calls to be judged. A figure is
// in the unit of the callout's quantity. A callout that is not listened for is left
// out.
func Added(facts []Fact, callout func(id string) *callouts.Callout) []callouts.Call {
	var out []callouts.Call
	for i, stands := range Standing(facts) {
		f := facts[i]
		if !stands || f.Kind != KindCall {
			continue
		}
		c := callout(f.Callout)
		if c == nil {
			continue
		}
		call := callouts.Call{ID: c.ID, Start: *f.At, End: *f.At, Speaker: f.Speaker, Stance: callouts.Done, Confidence: 1, AddedBy: f.Author}
		if f.Value != nil && c.Quantity != "" {
			v := *f.Value
			call.Value, call.Unit = &v, c.Quantity.Unit()
			call.Readings = []callouts.Reading{{Quantity: c.Quantity, Value: v}}
		}
		out = append(out, call)
	}
	return out
}

// Rejudges says whether a fact changes what is judged.
func (f *Fact) Rejudges() bool {
	return f.Kind == KindWord || f.Kind == KindCall || f.Kind == KindCover && f.Cover.Aircraft != nil
}

// Debrief judges a lesson anew with what people corrected and added.
func Debrief(j *timeline.Judge, machine *timeline.Timeline, facts []Fact) *timeline.Timeline {
	words := Correct(machine.Transcript, Corrections(facts))
	return j.Debrief(machine.Recording, words, machine.Judged, machine.Notes, Added(facts, j.Callout)...)
}
