package meaning

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// Every way to label the words, tried: none is likelier than the one chosen.
func TestNoOtherLabelsAreLikelier(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	n := &Net{classes: []string{"", "a", "b"}}
	for range 300 {
		odds := make([][]float32, 1+rng.IntN(6))
		for i := range odds {
			odds[i] = logSoftmax([]float32{float32(2 * rng.NormFloat64()), float32(2 * rng.NormFloat64()), float32(2 * rng.NormFloat64())})
		}
		worth := func(labels []int) float64 {
			sum := 0.0
			for i, c := range labels {
				sum += float64(odds[i][c])
				if i > 0 && labels[i-1] != c {
					sum -= change
				}
			}
			return sum
		}
		chosen := make([]int, len(odds))
		for _, s := range n.Spans(odds) {
			for i := s.First; i < s.End; i++ {
				chosen[i] = map[string]int{"a": 1, "b": 2}[s.ID]
			}
		}
		labels := make([]int, len(odds))
		best := math.Inf(-1)
		for k := range int(math.Pow(3, float64(len(odds)))) {
			for i := range labels {
				labels[i] = k % 3
				k /= 3
			}
			best = max(best, worth(labels))
		}
		if got := worth(chosen); got < best-1e-5 {
			t.Fatalf("%v: labels %v are worth %.3f, the best %.3f", odds, chosen, got, best)
		}
	}
}

func TestADamagedFileIsAnError(t *testing.T) {
	layers := []Layer{{In: 2 + Marks, Out: 2, Width: 1, Apart: 1, Weights: make([]float32, 2*(2+Marks)), Bias: make([]float32, 2)}}
	whole := Write([]string{"up"}, make([]float32, 4), []string{"", "flaps-up"}, nil, layers, Belief{})
	if _, err := Load(whole); err != nil {
		t.Fatal(err)
	}
	for n := range whole {
		if _, err := Load(whole[:n]); err == nil {
			t.Fatalf("the first %d of %d bytes are taken for a network", n, len(whole))
		}
	}
	for _, c := range []struct {
		name   string
		words  []string
		layers []Layer
		want   string
	}{
		{"a network without layers", []string{"up"}, nil, "no layers"},
		{"more words than vectors", []string{"up", "down"}, layers, "numbers for 3 words"},
		{"a layer of two words", []string{"up"}, []Layer{{In: 2 + Marks, Out: 2, Width: 2}}, "odd number"},
		{"a layer without its weights", []string{"up"}, []Layer{{In: 2 + Marks, Out: 2, Width: 1, Apart: 1}}, "0 weights"},
		{"fewer outputs than classes", []string{"up"}, []Layer{{In: 2 + Marks, Out: 1, Width: 1, Apart: 1, Weights: make([]float32, 2+Marks), Bias: make([]float32, 1)}}, "1 outputs"},
	} {
		if _, err := New(c.words, make([]float32, 4), []string{"", "flaps-up"}, nil, c.layers, Belief{}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, expected %q in it", c.name, err, c.want)
		}
	}
}

func TestFiguresStandForHowLargeTheyAre(t *testing.T) {
	for w, want := range map[string]string{"seven": "#", "2": "#", "270": "#", "hundred": "#h", "thousand": "#t", "1,700": "#t", "3500": "#t", "heat": "heat", "to": "to", ".": "."} {
		if got := Spellings(w)[0]; got != want {
			t.Errorf("%q stands as %q, expected %q", w, got, want)
		}
	}
}

// However long it is, words are read as if nothing were parted.
func TestALongLessonIsReadAsAWhole(t *testing.T) {
	n := English()
	rng := rand.New(rand.NewPCG(5, 6))
	say := strings.Fields("carb heat on and the power back to fifteen hundred hold that nose up a little there is the horn flaps ten please")
	words := make([]Word, 2*piece+piece/3)
	for i := range words {
		words[i] = Word{Text: say[rng.IntN(len(say))], Comma: rng.IntN(9) == 0, Stop: rng.IntN(7) == 0, Breath: rng.IntN(8) == 0}
	}
	odds, meant := n.Read(words)
	wantOdds, wantMeant := n.read(words, 0, len(words))
	for i := range words {
		if !slices.Equal(odds[i], wantOdds[i]) || !slices.Equal(meant[i], wantMeant[i]) {
			t.Fatalf("word %d of %d is read otherwise in pieces", i, len(words))
		}
	}
}
