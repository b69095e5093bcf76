package callouts

import (
	"slices"
	"strings"
	"testing"

	"sidetone/callouts/stance"
)

func TestWordsHintAtCallsThatAreNotTold(t *testing.T) {
	_, f := builtinFinder(t)
	n := 0
	for _, said := range []string{
		"Out of both sides now, nobody about.", "There goes the sheep, bleating.", "And over she goes, and I let her.",
		"Eighteen hundred on the clock it is.", "That is the noise up.", "Twenty more of the big barn doors.",
	} {
		calls, hints := f.Hear(line(said))
		n += len(hints)
		for _, h := range hints {
			if slices.Contains([]string{"Okay", "now", "That is", "And"}, strings.Trim(h.Heard, ",.")) {
				t.Errorf("%q: %q hints at %s", said, h.Heard, h.ID)
			}
			if !h.Perhaps || h.Stance != Done || h.Confidence <= 0 || h.Confidence > 1 {
				t.Errorf("%q: hint %+v", said, h)
			}
			for _, c := range calls {
				if c.ID == h.ID && c.Stance == Done && c.Start < h.End && h.Start < c.End {
					t.Errorf("%q: %s is told, and hinted at as well", said, h.ID)
				}
			}
		}
	}
	if n == 0 {
		t.Error("no hint in six sentences of free wording")
	}
}

func TestOrdinaryTalkHintsAtLittle(t *testing.T) {
	_, f := builtinFinder(t)
	sum := 0.0
	for _, said := range []string{
		"My sister moved into a flat by the river.", "We had soup for lunch, and then some more soup.", "He said the same thing yesterday.",
		"I forgot to feed the cat this morning.", "Do you like the new car?", "It rained all week where we live.",
	} {
		_, hints := f.Hear(line(said))
		for _, h := range hints {
			sum += h.Confidence
		}
	}
	if sum > 1 {
		t.Errorf("%.2f calls are hinted at in six sentences of talk", sum)
	}
}

func TestWhatIsToldAndMayBeDoneIsAHint(t *testing.T) {
	meant := func(s Stance, done float64) stance.Reading {
		var r stance.Reading
		for i, x := range stance.All {
			switch x {
			case Done:
				r.Odds[i] = done
			case s:
				r.Odds[i] = 1 - done
			}
		}
		return r
	}
	call := func(at float64, s Stance, done float64) Call {
		return Call{ID: "trim-set", Start: at, End: at + 1, Stance: s, Confidence: 0.9, Meant: meant(s, done)}
	}
	for _, c := range []struct {
		says string
		told []Call
		want int
	}{
		{"asked about, and perhaps done", []Call{call(10, Asked, 0.3)}, 1},
		{"asked about for certain", []Call{call(10, Asked, 0.01)}, 0},
		{"done", []Call{call(10, Done, 0.9)}, 0},
		{"told in other words than those of the hint", []Call{call(20, Denied, 0.01)}, 1},
	} {
		hints := hintsBeside(c.told, []Call{{ID: "trim-set", Start: 10.5, End: 11, Stance: Done, Perhaps: true, Confidence: 0.2}})
		if len(hints) != c.want {
			t.Errorf("%s: %d hints, want %d", c.says, len(hints), c.want)
		}
	}
}
