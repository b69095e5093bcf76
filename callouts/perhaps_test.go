package callouts

import (
	"testing"

	"sidetone/audio/transcript"
)

func TestWhatMayHaveBeenSaidIsACallThatMayHaveBeenMade(t *testing.T) {
	_, f := builtinFinder(t)
	for _, c := range []struct {
		name, line, or string
		at, words      int // the word it stands beside, and how many it is in place of
		want, heard    string
	}{
		{"in place of a word", "Now bream.", "trim set", 1, 1, "trim-set", "bream."},
		{"in place of some", "How do people go off so we can climb", "carb heat goes off", 0, 5, "carb-heat-cold", "How do people go off"},
		{"with its figure", "Next stage plucks the dane.", "flaps to ten", 2, 3, "flaps=10", "plucks the dane."},
		{"that was asked, not made", "Did you say train set?", "trim set", 3, 2, "", ""},
		{"that was put off", "Don't train yet.", "trim", 1, 1, "", ""},
		{"that is no call", "Now bream.", "the weather", 1, 1, "", ""},
		{"of more words than there are", "Now bream.", "trim set", 1, 9, "trim-set", "bream."},
	} {
		u := said(10, c.line)
		u.Words[c.at].Or = &transcript.Alternative{Text: c.or, Words: c.words, Confidence: 0.2}
		tr := &transcript.Transcript{Utterances: []transcript.Utterance{said(1, "Hello there."), u}}
		got := f.Perhaps(tr)
		if brief(got) != c.want {
			t.Errorf("%s: got %q, want %q", c.name, brief(got), c.want)
			continue
		}
		for _, g := range got {
			if !g.Perhaps || g.Confidence > 0.2 || g.Heard != c.heard || g.Utterance != 1 || g.Start < u.Words[c.at].Start {
				t.Errorf("%s: got %+v", c.name, g)
			}
		}
		if calls := f.Find(tr); len(calls) != 0 && c.want != "" {
			t.Errorf("%s: it is taken as heard: %s", c.name, brief(calls))
		}
	}
}
