package phones

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

func TestWordsAreLaidWhereTheyAreHeard(t *testing.T) {
	const a, b, d = 1, 2, 3
	for name, c := range map[string]struct {
		heard Heard
		rows  [][]Phone
		want  string
	}{
		"each word in its place":               {saying(0, a, a, 0, 0, b, d, 0), [][]Phone{{a}, {b, d}}, "[{1 3} {5 7}] true"},
		"a word that lasts":                    {saying(a, a, a, b), [][]Phone{{a}, {b}}, "[{0 3} {3 4}] true"},
		"a word without sound between two":     {saying(a, 0, b), [][]Phone{{a}, {}, {b}}, "[{0 1} {1 1} {2 3}] true"},
		"a word without sound at the start":    {saying(0, a), [][]Phone{{}, {a}}, "[{0 0} {1 2}] true"},
		"no words at all":                      {saying(0, 0), nil, "[] true"},
		"more sounds than there are frames":    {saying(a, b), [][]Phone{{a, b}, {d}}, "[{0 0} {0 0}] false"},
		"two alike need a blank between":       {saying(a, a), [][]Phone{{a, a}}, "[{0 0}] false"},
		"two alike with a blank between":       {saying(a, 0, a), [][]Phone{{a}, {a}}, "[{0 1} {2 3}] true"},
		"nothing heard and something to place": {nil, [][]Phone{{a}}, "[{0 0}] false"},
	} {
		t.Run(name, func(t *testing.T) {
			spans, _, ok := Align(c.heard, c.rows)
			if got := fmt.Sprint(spans, ok); got != c.want {
				t.Errorf("got %s, want %s", got, c.want)
			}
		})
	}
}

func TestAWordFitsAsWellAsItsBestPlace(t *testing.T) {
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 6))
		h := anything(rng, 7)
		sounds := []Phone{Phone(1 + rng.IntN(4)), Phone(1 + rng.IntN(4)), Phone(1 + rng.IntN(4))}
		_, fit, ok := Align(h, [][]Phone{sounds})
		if !ok {
			t.Fatalf("seed %d: three sounds do not fit into seven frames", seed)
		}
		top := 0.0
		for i := range h {
			top += float64(best(&h[i]))
		}
		// The blanks before and after the word are not the word's.
		if want := wholly(h, sounds, 0, 1) - top; fit[0] < want-1e-3 {
			t.Errorf("seed %d: fits %v, the best way of all fits %v", seed, fit[0], want)
		}
	}
}

func TestAPerfectWordFitsWithoutLoss(t *testing.T) {
	_, fit, _ := Align(saying(0, 1, 2, 0, 3), [][]Phone{{1, 2}, {3}})
	for i, f := range fit {
		if math.Abs(f) > 1e-3 {
			t.Errorf("word %d loses %v", i+1, f)
		}
	}
}
