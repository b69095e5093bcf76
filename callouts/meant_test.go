package callouts

import "testing"

// None of these wordings is listed in the lexicon.
func TestACallIsFoundInWordsNobodyListed(t *testing.T) {
	_, f := builtinFinder(t)
	listed := listedFinder(t)
	for _, c := range []struct{ line, want string }{
		{"Down goes the nose, nice and gently.", "nose-down"},
		{"Not a soul out on the left side.", "clear-left"},
		{"Nobody over there on the left.", "clear-left"},
		{"Hot air to the carburetor.", "carb-heat-on"},
		{"We land in that long meadow beyond the barn.", "field-picked"},
	} {
		if got := brief(listed.Find(line(c.line))); got == c.want {
			t.Errorf("%q is found as listed: it proves nothing", c.line)
		}
		got := brief(f.Find(line(c.line)))
		if got != c.want {
			t.Errorf("%q: got [%s], want [%s]", c.line, got, c.want)
		}
	}
}

func TestAFigureBelongsToACallInWordsNobodyListed(t *testing.T) {
	_, f := builtinFinder(t)
	for _, c := range []struct{ line, want string }{
		{"We let the revs fall to seventeen hundred.", "power-back=1700"},
		{"Lean it over to forty five degrees.", "bank=45 ordered"},
	} {
		if got := brief(f.Find(line(c.line))); got != c.want {
			t.Errorf("%q: got [%s], want [%s]", c.line, got, c.want)
		}
	}
}
