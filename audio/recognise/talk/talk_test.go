package talk

import (
	"bufio"
	"math"
	"os"
	"regexp"
	"strings"
	"testing"
)

func TestProbabilitiesAfterAnyTwoWordsAddUpToOne(t *testing.T) {
	m := Learn([]string{"flaps up", "flaps ten", "flaps ten please", "carb heat on", "heat on now", "on on on"})
	unknown := int32(len(m.words))
	for a := begin; a <= unknown; a++ {
		for b := begin; b <= unknown; b++ {
			sum := m.likely(a, b, end)
			for w := firstWord; w < unknown; w++ {
				sum += m.likely(a, b, w)
			}
			if math.Abs(sum-1) > 1e-9 {
				t.Errorf("after %d and %d the probabilities add up to %v", a, b, sum)
			}
		}
	}
}

// By hand, after Chen and Goodman's form of interpolated Kneser-Ney, with the discount
// 0.75 and 0.1 for each word of the vocabulary. The sentences "a b" and "a c" hold the
// bigrams "^ a", "a b", "a c", "b $", "c $": five, of which one ends in each of a, b
// and c and two in $.
func TestAWordIsAsLikelyAsKneserAndNeyMakeIt(t *testing.T) {
	m := Learn([]string{"a b", "a c"})
	alone := (1 + 0.1) / (5 + 0.1*4)
	// "a b" and "a c": "a" is followed by two kinds, each once.
	afterA := 0.75*2/2*alone + (1-0.75)/2
	for name, c := range map[string]struct {
		a, b, w string
		want    float64
	}{
		"whatever is before":               {"?", "?", "b", alone},
		"after one word":                   {"?", "a", "b", afterA},
		"after the beginning and one word": {"", "a", "b", 0.75*2/2*afterA + (1-0.75)/2},
		"what never followed a word":       {"?", "b", "b", 0.75 * alone}, // only the end followed it
	} {
		id := func(w string) int32 {
			switch w {
			case "":
				return begin
			case "?":
				return int32(len(m.words))
			}
			return m.number[w]
		}
		if got := m.likely(id(c.a), id(c.b), id(c.w)); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: got %v, want %v", name, got, c.want)
		}
	}
}

var mark = regexp.MustCompile(`\{[^:}]*:|[^a-z' ]`)

// English is held against sentences by another writer, which it was not made of.
func TestEnglishKnowsCockpitTalk(t *testing.T) {
	f, err := os.Open("../../../testdata/meanings/test.txt")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	m := English()
	nats, words := 0.0, 0
	for s := bufio.NewScanner(f); s.Scan(); {
		if line := s.Text(); line != "" && line[0] != '#' {
			n, k := m.Log(mark.ReplaceAllString(strings.ToLower(line), " "))
			nats, words = nats+n, words+k
		}
	}
	perplexity := math.Exp(-nats / float64(words))
	t.Logf("a word is one of %.0f", perplexity)
	// Everyday trigram models give around 150 on such text; a broken model thousands.
	if words < 3000 || perplexity > 150 {
		t.Errorf("%d words, each one of %.0f", words, perplexity)
	}
}

func TestADamagedFileIsNoticed(t *testing.T) {
	for name, b := range map[string][]byte{
		"no gzip file": []byte("carb heat on"), "cut short": packed[:len(packed)-9],
		"one bit wrong": append(append([]byte{}, packed[:len(packed)-6]...), packed[len(packed)-6]^1, 0, 0, 0, 0, 0),
	} {
		if _, err := unpack(b); err == nil {
			t.Errorf("%s is taken for sentences", name)
		}
	}
}
