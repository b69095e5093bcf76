package sound

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func phonesOf(s string) string {
	var out []string
	for _, p := range Say(s) {
		out = append(out, p.String())
	}
	return strings.Join(out, " ")
}

func TestWordsAreSaidAsTheDictionaryHasThem(t *testing.T) {
	for _, c := range []struct{ word, want, source string }{
		{"heat", "HH IY T", "CMU Pronouncing Dictionary"},
		{"flaps", "F L AE P S", "CMU Pronouncing Dictionary"},
		{"carburetor", "K AA R B ER0 EY T ER0", "CMU Pronouncing Dictionary"},
		{"a", "AH0", "CMU Pronouncing Dictionary, first entry"},
		{"zywicki", "Z IH0 W IH K IY0", "CMU Pronouncing Dictionary, last entry"},
		{"don't", "D OW N T", "CMU Pronouncing Dictionary"},
		{"Flaps,", "F L AE P S", "case and punctuation do not matter"},
		{"“heat”", "HH IY T", "nor do quotation marks"},
		{"don’t", "D OW N T", "nor does the kind of apostrophe"},
		{"niner", "N AY N ER0", "ICAO Annex 10 pronunciation"},
		{"carb", "K AA R B", "common practice, no source"},
		{"20", "T W EH N T IY0", "digits as numbers up to two"},
		{"65", "S IH K S T IY0 F AY V", "digits as numbers up to two"},
		{"270", "T UW S EH V AH0 N Z IH R OW0", "digits one by one beyond"},
		{"pre-flight", phonesOf("pre") + " " + phonesOf("flight"), "both sides of a hyphen"},
		{"10kts", phonesOf("ten") + " " + phonesOf("knots"), "a unit written onto a number"},
	} {
		if got := phonesOf(c.word); got != c.want {
			t.Errorf("%q: got %s, want %s (%s)", c.word, got, c.want, c.source)
		}
	}
}

func TestWordsNoDictionaryHasAreSpelledOut(t *testing.T) {
	for _, c := range []struct{ word, want string }{
		{"srottle", "S R AA T AH0 L"},
		{"trinning", "T R IH N IH0 NG"},
		{"flabstain", "F L AE B S T EY N"},
		{"carditoff", "K AA R D IH T AA F"},
		{"knightphone", "N AY T F OW N"},
		{"blixquake", "B L IH K S K W EY K"},
	} {
		if _, known := lookUp(c.word); known {
			t.Fatalf("%q is in the dictionary, so it tests nothing", c.word)
		}
		if got := phonesOf(c.word); got != c.want {
			t.Errorf("%q: got %s, want %s", c.word, got, c.want)
		}
	}
}

func TestPhonemesMadeAlikeAreClose(t *testing.T) {
	closer := func(p, a, b Phone) {
		t.Helper()
		if x, y := substitute(p, a, false), substitute(p, b, false); x >= y {
			t.Errorf("%s for %s costs %.2f, %s costs %.2f; want the first cheaper", a, p, x, b, y)
		}
	}
	closer(B, P, T) // voicing before place
	closer(B, V, S) // same lips
	closer(T, D, K) // voicing before place
	closer(M, N, T) // both nasal
	closer(IY, IH, AA)
	closer(EH, AE, UW)
	closer(R, L, K)
	closer(S, Z, M)
	closer(ER, R, AA)
	if substitute(D, T, true) >= substitute(D, T, false) {
		t.Error("losing the voice at the end of a word should be cheaper than elsewhere")
	}
	if substitute(AH|reduced, IH|reduced, false) >= substitute(AH, IH, false) {
		t.Error("unstressed vowels should be cheaper to take for one another")
	}
	for a := Phone(1); a < phones; a++ {
		for b := Phone(1); b < phones; b++ {
			x, y := substitute(a, b, false), substitute(b, a, false)
			if x != y || x < 0 || x > 1 || (a == b) != (x == 0) {
				t.Errorf("%s and %s: %v and %v, want the same in [0,1], 0 only for itself", a, b, x, y)
			}
		}
	}
}

func find(phrase, text string) []Match {
	return NewIndex([]Phrase{NewPhrase(strings.Fields(phrase))}).Search(NewLine(strings.Fields(text), Say, nil, nil))
}

// slips are what the embedded recogniser wrote for synthetic voices.
var slips = []struct{ phrase, wrote string }{
	{"carb heat on", "carved heed on"}, {"carb heat on", "card heat on"}, {"carb heat on", "carp eat on"},
	{"carb heat on", "Cardeaton."}, {"carb heat cold", "car heat cold"}, {"carb heat cold", "Car gate gold."},
	{"flaps twenty", "flap stranded"}, {"flaps twenty", "Flap's plenty."}, {"flaps ten", "Flabstain."},
	{"flaps forty", "Flat sporty"}, {"trim set", "Trin said"}, {"trim set", "Tring said."},
	{"throttle back", "Srottle back."}, {"full flaps", "Fill flats."}, {"flaps up", "Flight sub"},
	{"nose down", "Knows down."}, {"raising the nose", "Rathering the nose."},
}

var unlike = []struct{ phrase, wrote string }{
	{"carb heat on", "card"}, {"carb heat in", "the heat in here"}, {"carb heat on", "what's for lunch"},
	{"carb heat on", "we're going to carve it up"}, {"carb heat on", "cabin heat on"}, {"carb heat on", "pitot heat on"},
	{"carb heat on", "carb heat"}, {"carb heat on", "carb heat off"}, {"flaps up", "perhaps up"}, {"flaps thirty", "flap stranded"},
	{"power back", "the path back"}, {"nose up", "that is up"}, {"gear up", "here we are"}, {"trim set", "the train left"},
}

func TestASlipOfTheRecogniserSoundsLikeItsPhrase(t *testing.T) {
	for _, c := range slips {
		ms := find(c.phrase, c.wrote)
		if len(ms) != 1 || ms[0].Probability() < 0.6 || ms[0].First != 0 || ms[0].End != len(strings.Fields(c.wrote)) {
			t.Errorf("%q for %q: got %+v, want one likely match of all words", c.wrote, c.phrase, ms)
		}
	}
}

func TestOtherWordsDoNotSoundLikeThePhrase(t *testing.T) {
	for _, c := range unlike {
		for _, m := range find(c.phrase, c.wrote) {
			if p := m.Probability(); p > 0.45 {
				t.Errorf("%q for %q: probability %.2f (%+v)", c.wrote, c.phrase, p, m)
			}
		}
	}
}

func TestProbabilityFallsWithEveryMiss(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := Match{Weight: rapid.Float64Range(2, 20).Draw(t, "weight"), Worst: rapid.Float64Range(0, 0.9).Draw(t, "worst")}
		m.Cost = rapid.Float64Range(0, m.Weight).Draw(t, "cost")
		p := m.Probability()
		dearer, worse, shorter := m, m, m
		dearer.Cost += 0.5
		worse.Worst += 0.1
		shorter.Cost, shorter.Weight = m.Cost/2, m.Weight/2
		for name, q := range map[string]float64{"dearer": dearer.Probability(), "worse": worse.Probability(), "shorter": shorter.Probability()} {
			if q > p || q < 0 || p > 1 {
				t.Fatalf("%+v: %v, %s: %v", m, p, name, q)
			}
		}
	})
}

var talk = strings.Fields(`so what we are looking for is a nice steady picture out of the front window and you can see how
	the horizon sits a little higher than before which is normal keep your feet alive and look outside the wind
	comes from the west today there is some traffic over the lake and we will watch it while we turn`)

func TestAPhraseIsFoundWhereverItIsSaid(t *testing.T) {
	phrases := [][]string{{"carb", "heat", "on"}, {"trim", "set"}, {"flaps", "twenty"}, {"gear", "down"}, {"mixture", "full", "rich"}, {"knock", "it", "off"}}
	var ps []Phrase
	for _, p := range phrases {
		ps = append(ps, NewPhrase(p))
	}
	x := NewIndex(ps)
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.IntRange(0, len(phrases)-1).Draw(t, "phrase")
		before := rapid.SliceOfN(rapid.SampledFrom(talk), 0, 20).Draw(t, "before")
		after := rapid.SliceOfN(rapid.SampledFrom(talk), 0, 20).Draw(t, "after")
		words := append(append(append([]string{}, before...), phrases[k]...), after...)
		for _, m := range x.Search(NewLine(words, Say, nil, nil)) {
			if m.Phrase == k && m.First == len(before) && m.End == len(before)+len(phrases[k]) && m.Cost < 1e-6 {
				return
			}
		}
		t.Fatalf("%q not found in %q", phrases[k], words)
	})
}

func TestNoPhraseRunsOverABreak(t *testing.T) {
	x := NewIndex([]Phrase{NewPhrase([]string{"carb", "heat", "on"})})
	words := []string{"carb", "heat", "on"}
	if ms := x.Search(NewLine(words, Say, []bool{false, true, false}, nil)); len(ms) > 0 && ms[0].End > 2 {
		t.Errorf("got %+v, want nothing past the break", ms)
	}
}

func TestLightWordsMayBePutIntoAPhrase(t *testing.T) {
	x := NewIndex([]Phrase{NewPhrase([]string{"carb", "heat", "on"})})
	words := strings.Fields("carb heat is on")
	heavy := x.Search(NewLine(words, Say, nil, nil))
	light := x.Search(NewLine(words, Say, nil, []bool{false, false, true, false}))
	if len(light) != 1 || light[0].Probability() < 0.9 || (len(heavy) > 0 && heavy[0].Cost <= light[0].Cost) {
		t.Errorf("got %+v with \"is\" light and %+v without", light, heavy)
	}
}

// A search through the index must find what aligning everywhere finds, when the
// match is one to believe.
func TestTheIndexMissesNoBelievableMatch(t *testing.T) {
	var ps []Phrase
	for _, c := range slips {
		ps = append(ps, NewPhrase(strings.Fields(c.phrase)))
	}
	x := NewIndex(ps)
	var words []string
	rng := rand.New(rand.NewPCG(3, 4))
	for _, c := range slips {
		from := rng.IntN(len(talk) - 6)
		words = append(append(words, talk[from:from+6]...), strings.Fields(c.wrote)...)
	}
	l := NewLine(words, Say, nil, nil)
	got := map[string]bool{}
	for _, m := range x.Search(l) {
		got[fmt.Sprint(m.Phrase, m.First, m.End)] = true
	}
	var a aligner
	believable, missed := 0, 0
	for id := range ps {
		for _, m := range a.window(nil, &ps[id], id, l, 0, len(l.phones)) {
			if m.Probability() < 0.5 {
				continue
			}
			believable++
			if !got[fmt.Sprint(m.Phrase, m.First, m.End)] {
				missed++
				t.Errorf("missed %+v: %q", m, words[m.First:m.End])
			}
		}
	}
	if believable < len(slips) {
		t.Errorf("aligning everywhere finds %d matches for %d slips", believable, len(slips))
	}
}

func FuzzSay(f *testing.F) {
	for _, s := range []string{"heat", "don't", "x-y-z", "65kts", "'s", "", "-", "naïve", "1,000.5", "\x80\x81", "°"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, p := range Say(s) {
			if !p.valid() {
				t.Fatalf("%q: no such phoneme %d", s, p)
			}
		}
		NewIndex([]Phrase{NewPhrase([]string{"carb", "heat"})}).Search(NewLine([]string{s, "carb", s, "heat"}, Say, nil, nil))
	})
}

func BenchmarkDictionaryLoad(b *testing.B) {
	for b.Loop() {
		if _, err := unpack(packed); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSay(b *testing.B) {
	dictionary()
	for b.Loop() {
		for _, w := range talk {
			Say(w)
		}
	}
}
