package onnx

import (
	"context"
	"os"
	"strings"
	"sync"
	"testing"

	"sidetone/audio"
	"sidetone/audio/audiotest"
	"sidetone/audio/models/modelstest"
	"sidetone/audio/recognise"
	"sidetone/audio/recognise/phones"
	"sidetone/audio/recognise/talk"
	"sidetone/audio/speech"
	"sidetone/callouts"
	"sidetone/callouts/sound"
)

// ears are what most tests listen with, loaded once: that takes seconds.
var ears struct {
	sync.Mutex
	plain, expecting *Recogniser
	detector         *speech.Detector
}

func TestMain(m *testing.M) {
	code := m.Run()
	for _, r := range []*Recogniser{ears.plain, ears.expecting} {
		if r != nil {
			_ = r.Close()
		}
	}
	if ears.detector != nil {
		_ = ears.detector.Close()
	}
	os.Exit(code)
}

func shared(tb testing.TB, r **Recogniser, phrases func() []recognise.Phrase) *Recogniser {
	tb.Helper()
	set := modelstest.Find(tb)
	ears.Lock()
	defer ears.Unlock()
	if *r == nil {
		var err error
		if *r, err = New(set, Options{Phrases: phrases(), Say: say, Talk: cockpit(), Spoken: callouts.SpokenWays}); err != nil {
			tb.Fatal(err)
		}
	}
	return *r
}

// cockpit is how people talk in one.
var cockpit = sync.OnceValue(func() *talk.Vocabulary {
	return talk.NewVocabulary(talk.English(), func(w string) [][]phones.Phone {
		ways, _ := say(w)
		return ways
	})
})

// plain is a recogniser that expects nothing.
func plain(tb testing.TB) *Recogniser {
	return shared(tb, &ears.plain, func() []recognise.Phrase { return nil })
}

// expecting is a recogniser that expects the calls of the built-in lexicon.
func expecting(tb testing.TB) *Recogniser {
	return shared(tb, &ears.expecting, func() []recognise.Phrase { return lexicon(tb) })
}

func lexicon(tb testing.TB) []recognise.Phrase {
	tb.Helper()
	l, err := callouts.Builtin()
	if err != nil {
		tb.Fatal(err)
	}
	expected, err := l.Expected()
	if err != nil {
		tb.Fatal(err)
	}
	var phrases []recognise.Phrase
	for _, e := range expected {
		phrases = append(phrases, recognise.Phrase{Text: e.Phrase, Odds: e.Odds, Means: e.Means})
	}
	return phrases
}

// say gives the phonemes of a word in the ways it may have been said.
func say(word string) (ways [][]phones.Phone, known bool) {
	texts := callouts.SaidAs(word)
	for _, text := range texts {
		var sounds []phones.Phone
		for w := range strings.FieldsSeq(text) {
			for _, p := range sound.Say(w) {
				sounds = append(sounds, phones.Phone(p.Plain()))
			}
		}
		ways = append(ways, sounds)
	}
	return ways, len(texts) > 1 || texts[0] != word || sound.Known(word)
}

// segments cuts sound as a lesson is cut, with half a second of silence around it.
func segments(tb testing.TB, sound []float32) []audio.Segment {
	tb.Helper()
	set := modelstest.Find(tb)
	ears.Lock()
	defer ears.Unlock()
	if ears.detector == nil {
		var err error
		if ears.detector, err = speech.NewDetector(set.Runtime, set.VAD); err != nil {
			tb.Fatal(err)
		}
	}
	d, err := ears.detector.Another()
	if err != nil {
		tb.Fatal(err)
	}
	defer d.Close()
	s := speech.NewSegmenter(0, d, speech.DefaultCutting)
	joined, _ := audiotest.Join(0.5, sound)
	found, err := s.Feed(joined)
	if err != nil {
		tb.Fatal(err)
	}
	rest, err := s.Flush()
	if err != nil {
		tb.Fatal(err)
	}
	return append(found, rest...)
}

// heard is what r makes of the segments.
func heard(tb testing.TB, r *Recogniser, segments []audio.Segment) string {
	tb.Helper()
	var texts []string
	for _, seg := range segments {
		u, err := r.Recognise(context.Background(), seg)
		if err != nil {
			tb.Fatal(err)
		}
		if u.Text != "" {
			texts = append(texts, u.Text)
		}
	}
	return strings.Join(texts, " ")
}

// calls tells texts that are nothing but expected phrases and the small words
// between them: what the recogniser writes when it decides for phrases.
type calls map[string]bool

func callsOf(tb testing.TB) calls {
	tb.Helper()
	c := calls{}
	for _, p := range lexicon(tb) {
		c[strings.Join(normalise(p.Text), " ")] = true
	}
	return c
}

func (c calls) in(text string) bool {
	words := normalise(text)
	// whole[i]: the first i words are phrases, at least one of them, and joins.
	// open[i]: they are joins alone.
	whole, open := make([]bool, len(words)+1), make([]bool, len(words)+1)
	open[0] = true
	for i := 1; i <= len(words); i++ {
		join := joining[words[i-1]]
		open[i] = open[i-1] && join
		whole[i] = whole[i-1] && join
		for j := 0; j < i && !whole[i]; j++ {
			whole[i] = (whole[j] || open[j]) && c[strings.Join(words[j:i], " ")]
		}
	}
	return whole[len(words)]
}

var joining = map[string]bool{"okay": true, "and": true, "now": true, "so": true, "right": true, "then": true}

func TestTextsMadeOfCallsAreTold(t *testing.T) {
	c := calls{"carb heat on": true, "trim set": true, "power one thousand": true}
	for text, want := range map[string]bool{
		"Carb heat on.":                true,
		"Okay, carb heat on, trim set": true,
		"Power 1,000. And trim set.":   true,
		"Okay, now":                    false,
		"Okay, carb heat on the":       false,
		"heat on":                      false,
		"":                             false,
	} {
		if got := c.in(text); got != want {
			t.Errorf("%q is made of calls: %v, want %v", text, got, want)
		}
	}
}

func one(s audio.Segment) []audio.Segment { return []audio.Segment{s} }
