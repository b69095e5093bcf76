package onnx

import (
	"maps"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"sidetone/audio"
	"sidetone/audio/audiotest"
)

// prompt is a recorded prompt and what it says.
type prompt struct {
	name, text string
	segments   []audio.Segment
}

var (
	unspoken = regexp.MustCompile(`[^A-Za-z0-9 .,'!?-]|[0-9]{2}|\b[A-Z]{2}`)
	numbers  = regexp.MustCompile(`^digits/([0-9]+|oh|hundred|thousand)$`)
)

// everySentence: one in so many of the sentences is listened to.
const everySentence = 4 + 4*shorter

// sample takes prompts by rule, not by hand: the figures, the phonetic alphabet,
// and every fourth sentence by name (every eighth under the race detector) of four
// words or more and at most eight seconds whose text leaves no doubt how it is
// read: no marks, no figure of two digits, no abbreviation.
func sample(t *testing.T) []prompt {
	t.Helper()
	texts := audiotest.Prompts(t)
	var out []prompt
	sentences := 0
	for _, name := range slices.Sorted(maps.Keys(texts)) {
		text := texts[name]
		words := len(normalise(text))
		sentence := path.Dir(name) == "." && words >= 4 && !unspoken.MatchString(text)
		if !sentence && !numbers.MatchString(name) && path.Dir(name) != "phonetic" || !audiotest.HasPrompt(name) {
			continue
		}
		sound := audiotest.Prompt(t, name)
		if len(sound) > 8*audio.Rate {
			continue
		}
		if sentence {
			if sentences++; sentences%everySentence != 0 {
				continue
			}
		}
		out = append(out, prompt{name, text, segments(t, sound)})
	}
	return out
}

// worstRate is, in percent of the words by sclite, above what was measured: 6.4 on
// this sample and 8.7 on the shorter one (5.9 with one sentence in three, 8.4 with
// one in five). A decoder that loses its place makes 50 and more.
const worstRate = 12.0

func TestRecordedSpeechIsWrittenDown(t *testing.T) {
	if testing.Short() {
		t.Skip("listens to some hundred prompts")
	}
	free, with := plain(t), expecting(t)
	prompts, calls := sample(t), callsOf(t)
	if len(prompts) < 80 {
		t.Fatalf("only %d prompts", len(prompts))
	}
	var meant, freely, expectant [][]string
	var alarms []string
	for _, p := range prompts {
		f, w := heard(t, free, p.segments), heard(t, with, p.segments)
		if calls.in(p.text) {
			t.Fatalf("%s %q is a call", p.name, p.text)
		}
		if calls.in(w) {
			alarms = append(alarms, strconv.Quote(p.text)+" as "+strconv.Quote(w))
		}
		meant = append(meant, normalise(p.text))
		freely = append(freely, normalise(f))
		expectant = append(expectant, normalise(w))
		if !slices.Equal(meant[len(meant)-1], freely[len(freely)-1]) {
			t.Logf("%s %q heard as %q", p.name, p.text, f)
		}
		if !slices.Equal(normalise(f), normalise(w)) {
			t.Logf("%s %q heard as %q while calls are expected", p.name, p.text, w)
		}
	}
	groups := map[string]*count{"all": {}}
	for i, p := range prompts {
		n := align(meant[i], freely[i])
		dir := path.Dir(p.name)
		if groups[dir] == nil {
			groups[dir] = &count{}
		}
		groups[dir].add(n)
		groups["all"].add(n)
	}
	for g, n := range groups {
		t.Logf("%s: %d errors in %d words, %.1f %%", g, n.errors(), n.words, n.rate())
	}
	without, expecting := sclite(t, meant, freely), sclite(t, meant, expectant)
	t.Logf("sclite, %d prompts: %.2f %% of %d words wrong, %.2f %% with phrases expected",
		len(prompts), without.rate(), without.words, expecting.rate())
	if own := *groups["all"]; own.errors() != without.errors() || own.words != without.words {
		t.Errorf("sclite counts %+v, the test itself %+v", without, own)
	}
	if without.rate() > worstRate {
		t.Errorf("word error rate %.1f %%, more than %.1f", without.rate(), worstRate)
	}
	if expecting.rate() > without.rate()+0.5 {
		t.Errorf("expecting phrases makes the word error rate worse: %.2f %% from %.2f", expecting.rate(), without.rate())
	}
	if 100*len(alarms) > len(prompts) {
		t.Errorf("%d of %d prompts, which hold no call, were written as one:\n%s", len(alarms), len(prompts), strings.Join(alarms, "\n"))
	}
}
