package callouts

import (
	"slices"
	"strings"
	"sync"
	"testing"
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

// expectedPhrases is the calls of Expected.
func expectedPhrases(l *Lexicon) ([]string, error) {
	expected, err := l.Expected()
	var out []string
	for _, e := range expected {
		if !strings.HasPrefix(e.Means, "the ") {
			out = append(out, e.Phrase)
		}
	}
	return out, err
}

// listed is made once, for it takes long.
var listed = sync.OnceValues(func() ([]Expectation, error) {
	lex, err := Builtin()
	if err != nil {
		return nil, err
	}
	return lex.Expected()
})

// builtinExpected is what the built-in lexicon expects.
func builtinExpected(t *testing.T) []Expectation {
	t.Helper()
	expected, err := listed()
	if err != nil {
		t.Fatal(err)
	}
	return expected
}

func TestThingsAreExpectedByTheirNamesToo(t *testing.T) {
	means := map[string]string{}
	for _, e := range builtinExpected(t) {
		means[e.Phrase] = e.Means
	}
	for phrase, want := range map[string]string{
		"mixture": "the mixture", "carb heat": "the carb heat", "retrim": "the retrim",
		"heat": "the heat", "carb heat on": "carb-heat-on",
	} {
		if means[phrase] != want {
			t.Errorf("%q is expected as %q, want %q", phrase, means[phrase], want)
		}
	}
}

func TestAPhraseWithAFigureIsLessLikelyThanAPlainCall(t *testing.T) {
	odds := map[string]float64{}
	for _, e := range builtinExpected(t) {
		if e.Odds > 0 {
			t.Fatalf("%q: odds %.1f are more than even", e.Phrase, e.Odds)
		}
		odds[e.Phrase] = e.Odds
	}
	if odds["flaps up"] <= odds["flaps twenty"] || odds["flaps twenty"] <= odds["airspeed six five knots"] {
		t.Errorf("flaps up %.1f, flaps twenty %.1f, airspeed six five knots %.1f", odds["flaps up"], odds["flaps twenty"], odds["airspeed six five knots"])
	}
}
