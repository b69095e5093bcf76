package talk

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"sidetone/audio/recognise/phones"
	"sidetone/audio/recognise/phones/phonestest"
)

// letters says a word letter by letter: "a" is the first phoneme.
func letters(word string) [][]phones.Phone {
	var out []phones.Phone
	for _, c := range word {
		out = append(out, phones.Phone(c-'a'+1))
	}
	return [][]phones.Phone{out}
}

// spell is how clearly spoken words sound.
func spell(text string) (out phones.Heard) {
	for w := range strings.FieldsSeq(text) {
		out = append(out, phonestest.Clearly(letters(w)[0]...)...)
	}
	return out
}

func text(said []Said) string {
	var out []string
	for _, s := range said {
		out = append(out, s.Text)
	}
	return strings.Join(out, " ")
}

func TestWhatWasHeardIsReadAsWhatIsUsuallySaid(t *testing.T) {
	v := NewVocabulary(Learn([]string{"carb heat on", "carb heat cold", "flaps up", "gear down"}), letters)
	for name, c := range map[string]struct{ heard, own, want string }{
		"nothing":                     {"", "", ""},
		"a usual sentence":            {"carb heat on", "", "carb heat on"},
		"two of them":                 {"flaps up carb heat cold", "", "flaps up carb heat cold"},
		"words in an order never met": {"gear up", "", "gear up"},
		"a sound misheard":            {"carb heet on", "", "carb heat on"},
		"a sound misheard as another reading has": {"carb heet on", "carb heet on", "carb heet on"},
		"a word nobody knows":                     {"flaps zebra", "", "flaps"},
		"one the other reading knows":             {"flaps zebra", "flaps zebra", "flaps zebra"},
	} {
		t.Run(name, func(t *testing.T) {
			got := text(v.Read(spell(c.heard), strings.Fields(c.own)))
			if name == "a word nobody knows" {
				if !strings.HasPrefix(got, c.want) || strings.Contains(got, "zebra") {
					t.Errorf("read %q", got)
				}
				return
			}
			if got != c.want {
				t.Errorf("read %q, want %q", got, c.want)
			}
		})
	}
}

func TestAWordIsWhereItWasHeard(t *testing.T) {
	v := NewVocabulary(Learn([]string{"gear down", "gear up"}), letters)
	said := v.Read(spell("gear down"), nil)
	for i, want := range []phones.Span{{Start: 0, End: 15}, {Start: 16, End: 31}} {
		if d := said[i].Start - want.Start; d < -1 || d > 1 || max(said[i].End-want.End, want.End-said[i].End) > 1 {
			t.Errorf("%q is in %v, spoken in %v", said[i].Text, said[i].Span, want)
		}
	}
}

// The vocabulary's own nodes are shared by all who read: words put in for one segment
// must not be there for the next.
func TestWordsOfOneReadingAreForgotten(t *testing.T) {
	v := NewVocabulary(Learn([]string{"flaps up", "zeal"}), letters)
	v.Read(spell("flaps zebra"), []string{"flaps", "zebra"})
	if got := text(v.Read(spell("flaps zebra"), nil)); strings.Contains(got, "zebra") {
		t.Errorf("read %q by a model that does not know zebra", got)
	}
}

// TestTheLikeliestReadingIsFound compares with all readings there are,
// each aligned in every way.
func TestTheLikeliestReadingIsFound(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	m := Learn([]string{"ab a", "ab b", "b a b", "ba a", "a", "b ab"})
	v := NewVocabulary(m, letters)
	for range 100 {
		heard := make(phones.Heard, 1+rng.IntN(4))
		for i := range heard {
			sum := 0.0
			for p := range heard[i] {
				heard[i][p] = -20
				if p < 3 {
					heard[i][p] = float32(2 * rng.NormFloat64())
					sum += math.Exp(float64(heard[i][p]))
				}
			}
			for p := range 3 {
				heard[i][p] -= float32(math.Log(sum))
			}
		}
		own := []string{"a", "ba"}[:rng.IntN(3)]
		want, best := "", math.Inf(-1)
		var try func(words []int32, odds float64, a, b int32)
		try = func(words []int32, odds float64, a, b int32) {
			if score := odds + aligned(heard, m, words); score > best {
				best, want = score, written(m, words)
			}
			if len(words) == len(heard) {
				return
			}
			for w := firstWord; int(w) < len(m.words); w++ {
				o := odds + math.Log(m.likely(a, b, w))
				last := m.words[b] // nothing at the beginning of a sentence
				if slices.Contains(own, m.words[w]) {
					o += ownWord
				}
				for i := range own {
					if own[i] == m.words[w] && (i == 0 && b == begin || i > 0 && own[i-1] == last) {
						o += ownPair
					}
				}
				more := append(slices.Clone(words), w)
				try(more, o, b, w)
				try(more, o+math.Log(m.likely(b, w, end)), begin, begin)
			}
		}
		try(nil, 0, begin, begin)
		if got := text(v.Read(heard, own)); got != want {
			t.Errorf("%d frames, own %q: read %q, the likeliest is %q", len(heard), own, got, want)
		}
	}
}

func written(m *Model, words []int32) string {
	var out []string
	for _, w := range words {
		out = append(out, m.words[w])
	}
	return strings.Join(out, " ")
}

// aligned is the log-probability of the best way to lay words over all frames.
func aligned(heard phones.Heard, m *Model, words []int32) float64 {
	type sound struct {
		p    phones.Phone
		word int
	}
	var sounds []sound
	for i, w := range words {
		for _, p := range letters(m.words[w])[0] {
			sounds = append(sounds, sound{p, i})
		}
	}
	// lay: frames from t on, sounds before k begun, in sound k-1 or in a blank after it.
	var lay func(t, k int, blank bool) float64
	lay = func(t, k int, blank bool) float64 {
		if t == len(heard) {
			if k == len(sounds) {
				return 0
			}
			return math.Inf(-1)
		}
		best := float64(heard[t][0]) + lay(t+1, k, true)
		if k > 0 && !blank {
			best = max(best, float64(heard[t][sounds[k-1].p])+lay(t+1, k, false))
		}
		if k < len(sounds) && (k == 0 || blank || sounds[k].p != sounds[k-1].p || sounds[k].word != sounds[k-1].word) {
			best = max(best, float64(heard[t][sounds[k].p])+lay(t+1, k+1, false))
		}
		return best
	}
	return lay(0, 0, true)
}
