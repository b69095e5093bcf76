package callouts

import (
	"slices"
	"strings"
	"testing"
)

func TestActsAreExpectedInTheirUsualWords(t *testing.T) {
	means := map[string]string{}
	for _, e := range builtinExpected(t) {
		means[e.Phrase] = e.Means
	}
	for phrase, want := range map[string]string{
		"carb heat's on":       "carb-heat-on",
		"power going to full":  "full-power",
		"retracting the flaps": "flaps-up",
		"flaps are up":         "flaps-up",
		"pitching up":          "nose-up",
		"trimmed":              "trim-set",
		"the heat is off":      "carb-heat-cold",
		"left and right clear": "clearing-turns",
		"flaps is up":          "", // not English
		"the the heat":         "",
		"clearing my the area": "",
		"carb heat to to cold": "",
	} {
		if got := means[phrase]; got != want {
			t.Errorf("%q is listened for as %q, want %q", phrase, got, want)
		}
	}
}

// What is listened for is taken for a call in the words, too: a phrase that is put
// into the words and then understood as nothing, or as another call, helps nobody.
func TestWhatIsListenedForIsUnderstood(t *testing.T) {
	_, f := builtinFinder(t)
	wrong, all := 0, 0
	for i, e := range builtinExpected(t) {
		id, _, _ := strings.Cut(e.Means, "=")
		if strings.HasPrefix(id, "the ") || i%11 != 0 {
			continue
		}
		all++
		calls := f.Find(line(e.Phrase))
		if !slices.ContainsFunc(calls, func(c Call) bool { return c.ID == id }) {
			if wrong++; wrong <= 40 {
				t.Logf("%q is listened for as %s, and understood as %s", e.Phrase, id, brief(calls))
			}
		}
	}
	if wrong*50 > all {
		t.Errorf("%d of %d phrases are not understood as what they are listened for", wrong, all)
	}
}
