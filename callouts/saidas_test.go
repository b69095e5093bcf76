package callouts

import (
	"slices"
	"strings"
	"testing"
)

// The worked examples of AIM 4-2-8 to 4-2-11, and the group form of FAA Order JO
// 7110.65, 2-4-17.
func TestFiguresAreReadInAllTheirWays(t *testing.T) {
	for _, c := range []struct {
		word string
		ways []string // among others
	}{
		{"500", []string{"five hundred"}},
		{"4,500", []string{"four thousand five hundred"}},
		{"10,000", []string{"one zero thousand", "ten thousand"}},
		{"13,500", []string{"one three thousand five hundred", "thirteen thousand five hundred"}},
		{"10", []string{"one zero", "ten"}},
		{"122.1", []string{"one two two point one"}},
		{"190", []string{"one nine zero", "one ninety", "one hundred ninety"}},
		{"275", []string{"two seven five"}},
		{"005", []string{"zero zero five"}},
		{"1700", []string{"seventeen hundred", "one thousand seven hundred", "one seven zero zero"}},
		{"2350.", []string{"twenty three fifty"}},
		{"2000", []string{"two thousand"}},
		{"65,", []string{"sixty five", "six five"}},
		{"flaps,", []string{"flaps,"}},
		{"0.5", []string{"zero point five"}},
		{"10:30", []string{"10:30"}},
		{"4x", []string{"4x"}},
	} {
		got := SaidAs(c.word)
		for _, w := range c.ways {
			if !slices.Contains(got, w) {
				t.Errorf("%s is not said as %q: %q", c.word, w, got)
			}
		}
		if len(c.ways) == 1 && c.ways[0] == c.word && len(got) != 1 {
			t.Errorf("%s is said as %q", c.word, got)
		}
	}
}

func TestAWrittenWordIsSpokenInItsWays(t *testing.T) {
	for name, c := range map[string]struct {
		word string
		ways []string // the first, and others among them
	}{
		"a word loses its marks":           {"On,", []string{"on"}},
		"its capital":                      {"Carb", []string{"carb"}},
		"quotation marks":                  {"“flaps”", []string{"flaps"}},
		"an apostrophe within it stays":    {"heat’s", []string{"heat's"}},
		"a hyphen parts words":             {"twenty-five", []string{"twenty five"}},
		"so do figures":                    {"1-2", []string{"one two"}},
		"a figure is said in several ways": {"1700.", []string{"one thousand seven hundred", "seventeen hundred"}},
		"okay is one word":                 {"Ok.", []string{"okay"}},
		"marks alone are silent":           {"—", []string{""}},
		"and so is a stop":                 {".", []string{""}},
	} {
		var got []string
		for _, way := range SpokenWays(c.word) {
			got = append(got, strings.Join(way, " "))
		}
		if got[0] != c.ways[0] {
			t.Errorf("%s: %q is spoken %q first, want %q", name, c.word, got[0], c.ways[0])
		}
		for _, w := range c.ways {
			if !slices.Contains(got, w) {
				t.Errorf("%s: %q is not spoken %q", name, c.word, w)
			}
		}
	}
}
