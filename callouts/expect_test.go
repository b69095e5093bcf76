package callouts

import (
	"slices"
	"strings"
	"testing"

	"sidetone/audio/transcript"
)

func TestExpectedPhrasesAreSpokenOut(t *testing.T) {
	lex, err := Builtin()
	if err != nil {
		t.Fatal(err)
	}
	all, err := expectedPhrases(lex)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"carb heat on", "carb heat cold", "flaps twenty", "power seventeen hundred", "heading two seven zero", "give me carb heat"} {
		if !slices.Contains(all, want) {
			t.Errorf("%q is not expected", want)
		}
	}
	for _, p := range all {
		if strings.ContainsAny(p, "{}[]/0123456789") || p != strings.ToLower(p) || p == "" {
			t.Fatalf("%q is not as people speak", p)
		}
	}
	t.Logf("%d phrases", len(all))
}

// What the recogniser is told to listen for must be found again when it is heard.
func TestEveryExpectedPhraseIsFoundWhenHeard(t *testing.T) {
	lex, err := Builtin()
	if err != nil {
		t.Fatal(err)
	}
	all, err := expectedPhrases(lex)
	if err != nil {
		t.Fatal(err)
	}
	f, err := NewFinder(lex)
	if err != nil {
		t.Fatal(err)
	}
	missed := 0
	for i := 0; i < len(all); i += 7 { // a sample: there are thousands
		u := transcript.Utterance{Start: 1, End: 3, Text: all[i]}
		if calls := f.Find(&transcript.Transcript{Utterances: []transcript.Utterance{u}}); len(calls) != 1 {
			if missed++; missed <= 20 {
				t.Errorf("%q: %d calls", all[i], len(calls))
			}
		}
	}
}

// expectedPhrases is Expected without the odds.
func expectedPhrases(l *Lexicon) ([]string, error) {
	expected, err := l.Expected()
	var out []string
	for _, e := range expected {
		out = append(out, e.Phrase)
	}
	return out, err
}

func TestAPhraseWithAFigureIsLessLikelyThanAPlainCall(t *testing.T) {
	lex, err := Builtin()
	if err != nil {
		t.Fatal(err)
	}
	expected, err := lex.Expected()
	if err != nil {
		t.Fatal(err)
	}
	odds := map[string]float64{}
	for _, e := range expected {
		if e.Odds > 0 {
			t.Fatalf("%q: odds %.1f are more than even", e.Phrase, e.Odds)
		}
		odds[e.Phrase] = e.Odds
	}
	if odds["flaps up"] <= odds["flaps twenty"] || odds["flaps twenty"] <= odds["airspeed six five knots"] {
		t.Errorf("flaps up %.1f, flaps twenty %.1f, airspeed six five knots %.1f", odds["flaps up"], odds["flaps twenty"], odds["airspeed six five knots"])
	}
}
