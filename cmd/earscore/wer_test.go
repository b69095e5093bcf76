package main

import (
	"math"
	"math/rand/v2"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"sidetone/audio/models/modelstest"
)

func TestWordsAreComparedInOneForm(t *testing.T) {
	for _, c := range []struct{ written, plain string }{
		{"Carb heat ON.", "carb heat on"},
		{"Flaps twenty-five, okay?", "flaps twenty five okay"},
		{"OK, it's the pilot's", "okay it's the pilot's"},
		{"it’s 'quoted'", "it's quoted"},
		{"ten... correction", "ten correction"},
		{"flaps...ten", "flaps ten"},
		{"- ...", ""},
		{"1700 RPM", "seventeen hundred rpm"},
		{"3,500 feet", "three thousand five hundred feet"},
		{"3500", "thirty five hundred"},
		{"3000", "three thousand"},
		{"10,000", "ten thousand"},
		{"12500", "twelve thousand five hundred"},
		{"65 knots", "sixty five knots"},
		{"65kt", "sixty five kt"},
		{"heading 270", "heading two seven zero"},
		{"heading 005", "heading zero zero five"},
		{"2-7-0", "two seven zero"},
		{"1013", "one zero one three"},
		{"0", "zero"},
		{"100", "one hundred"},
	} {
		if got := strings.Join(plain(strings.Fields(c.written)), " "); got != c.plain {
			t.Errorf("%q is compared as %q, want %q", c.written, got, c.plain)
		}
	}
}

func wrong(edits []edit) int {
	n := 0
	for _, e := range edits {
		if e.wrong {
			n++
		}
	}
	return n
}

func TestAlignmentCountsErrors(t *testing.T) {
	for _, c := range []struct {
		ref, hyp string
		errors   int
	}{
		{"", "", 0},
		{"flaps ten", "flaps ten", 0},
		{"flaps ten", "", 2},
		{"", "flaps ten", 2},
		{"flaps ten", "flap stan", 2},
		{"carb heat on", "carb on", 1},
		{"carb heat on", "the carb heat is on", 2},
		{"a b c d", "b c d a", 2},
	} {
		edits := align(strings.Fields(c.ref), strings.Fields(c.hyp))
		if got := wrong(edits); got != c.errors {
			t.Errorf("%q heard as %q: %d errors, want %d", c.ref, c.hyp, got, c.errors)
		}
		var ref, hyp []int
		for _, e := range edits {
			if e.ref >= 0 {
				ref = append(ref, e.ref)
			}
			if e.hyp >= 0 {
				hyp = append(hyp, e.hyp)
			}
		}
		if !slices.IsSorted(ref) || !slices.IsSorted(hyp) || len(ref) != len(strings.Fields(c.ref)) || len(hyp) != len(strings.Fields(c.hyp)) {
			t.Errorf("%q heard as %q: not every word is there once, in order: %v", c.ref, c.hyp, edits)
		}
	}
}

// NIST's scorer is the outside measure.
func TestTheWordErrorRateIsThatOfSclite(t *testing.T) {
	if _, err := exec.LookPath("sctk"); err != nil {
		modelstest.Missing(t, "sctk")
	}
	passages := []passage{
		{ref: plain(strings.Fields("Carb heat on, and power back to seventeen hundred.")), hyp: plain(strings.Fields("carved heed on and power back to 1700"))},
		{ref: plain(strings.Fields("Flaps ten, correction, flaps twenty.")), hyp: plain(strings.Fields("flap stan correction flaps 20 please"))},
		{ref: plain(strings.Fields("Trim set.")), hyp: nil},
		{ref: nil, hyp: plain(strings.Fields("who said that"))},
		{ref: plain(strings.Fields("Your controls.")), hyp: plain(strings.Fields("your controls"))},
	}
	check := func(name string, passages []passage) {
		t.Helper()
		errors, words := 0, 0
		for _, p := range passages {
			errors += wrong(align(p.ref, p.hyp))
			words += len(p.ref)
		}
		theirs, of, err := sclite(passages)
		if err != nil {
			t.Fatal(err)
		}
		if of != words {
			t.Errorf("%s: sclite counts %d words, we %d", name, of, words)
		}
		if a, b := 100*share(errors, words), 100*share(theirs, of); math.Abs(a-b) > 0.1 {
			t.Errorf("%s: %.2f %%, sclite says %.2f %%", name, a, b)
		}
	}
	for _, p := range passages {
		if len(p.ref) > 0 {
			check(strings.Join(p.ref, " "), []passage{p})
		}
	}
	check("all together", passages)
	// Speech heard as badly as a recogniser can: a quarter of the words lost,
	// changed or added.
	rng := rand.New(rand.NewPCG(1, 2))
	vocabulary := strings.Fields("carb heat on off power back flaps ten twenty thirty trim set nose up full the and a is to")
	var noisy []passage
	for range 40 {
		var p passage
		for range 10 + rng.IntN(60) {
			w := vocabulary[rng.IntN(len(vocabulary))]
			p.ref = append(p.ref, w)
			switch rng.IntN(12) {
			case 0:
			case 1:
				p.hyp = append(p.hyp, vocabulary[rng.IntN(len(vocabulary))])
			case 2:
				p.hyp = append(p.hyp, w, vocabulary[rng.IntN(len(vocabulary))])
			default:
				p.hyp = append(p.hyp, w)
			}
		}
		noisy = append(noisy, p)
	}
	check("words at random", noisy)
}
