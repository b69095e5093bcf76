package callouts

import (
	"strings"
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
		{"with its figure", "The goose plucks the dane.", "flaps to ten", 2, 3, "flaps=10", "plucks the dane."},
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

func TestACallThatWasNotMadeMayBeMisread(t *testing.T) {
	_, f := builtinFinder(t)
	for _, c := range []struct {
		says, line string
		doubted    string // the word that was not heard for certain
		sure       float64
		want       string
	}{
		{"a question, of which the first word is doubtful", "Is the mixture rich?", "Is", 0.5, "mixture-rich"},
		{"a question that was heard", "Is the mixture rich?", "Is", 0.99, ""},
		{"words that put it off, of which one is doubtful", "Don't trim yet.", "Don't", 0.4, "trim-set"},
		{"a call that was made", "Mixture rich.", "rich.", 0.5, ""},
		{"one that was ordered", "Give me flaps twenty.", "Give", 0.5, ""},
		{"a doubtful word that is far from it", "Is the mixture rich? | | | | | Lovely day.", "day.", 0.3, ""},
	} {
		tr := line(c.line)
		for i, w := range tr.Utterances[0].Words {
			if w.Text == c.doubted {
				tr.Utterances[0].Words[i].Confidence = c.sure
			}
		}
		calls := f.Find(tr)
		got := Misread(tr, calls)
		if brief(got) != c.want {
			t.Errorf("%s: got %q of %q, want %q", c.says, brief(got), brief(calls), c.want)
		}
		for _, g := range got {
			if !g.Perhaps || g.Confidence >= 0.5 || g.Confidence <= 0 {
				t.Errorf("%s: %+v", c.says, g)
			}
		}
	}
}

func TestWhatWasNotUnderstoodIsTold(t *testing.T) {
	for _, c := range []struct {
		says string
		sure []float64 // of the words "now I am dreaming for that again"
		want string
	}{
		{"all was", []float64{0.95, 0.95, 0.85, 0.95, 0.95, 0.95, 0.95}, ""},
		{"two words in a row were not", []float64{0.95, 0.95, 0.1, 0.2, 0.95, 0.95, 0.95}, "am dreaming"},
		{"a word alone was not", []float64{0.95, 0.95, 0.95, 0.1, 0.95, 0.95, 0.95}, ""},
		{"three that may well be right", []float64{0.95, 0.95, 0.87, 0.87, 0.87, 0.95, 0.95}, ""},
		{"two that are too short for a call", []float64{0.1, 0.3, 0.95, 0.95, 0.95, 0.95, 0.95}, ""},
		{"twice", []float64{0.95, 0.3, 0.1, 0.1, 0.95, 0.2, 0.1}, "I am dreaming; that again"},
		{"nothing was", []float64{0, 0, 0, 0, 0, 0, 0}, "now I am dreaming for that again"},
	} {
		tr := line("now I am dreaming for that again")
		for i := range c.sure {
			tr.Utterances[0].Words[i].Confidence = c.sure[i]
		}
		var got []string
		for _, u := range NotUnderstood(tr) {
			got = append(got, u.Heard)
			if u.ID != Unclear || !u.Perhaps || u.End <= u.Start {
				t.Errorf("%s: %+v", c.says, u)
			}
		}
		if s := strings.Join(got, "; "); s != c.want {
			t.Errorf("%s: told %q, want %q", c.says, s, c.want)
		}
	}
}
