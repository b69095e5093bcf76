package onnx

import (
	"strings"
	"testing"

	"sidetone/audio/recognise/phones"
	"sidetone/audio/transcript"
)

// at lays words one after the other, ten frames each, from a frame on.
func at(frame int, text string) (out []placed) {
	for i, w := range strings.Fields(text) {
		out = append(out, placed{Word: transcript.Word{Text: w, Confidence: 0.5}, span: phones.Span{Start: frame + 10*i, End: frame + 10*i + 8}, known: true})
	}
	return out
}

func TestPhrasesTakeThePlaceOfWhatTheyWereMisheardAs(t *testing.T) {
	say := func(frame int, text string) phrase {
		return phrase{words: at(frame, text), Candidate: Candidate{Likely: 0.9}}
	}
	for name, c := range map[string]struct {
		written string
		found   []phrase
		want    string
	}{
		"nothing found leaves the words":        {"Carve ye on.", nil, "Carve ye on."},
		"the whole of an utterance":             {"Carve ye on.", []phrase{say(0, "carb heat on")}, "Carb heat on."},
		"the end of a sentence":                 {"Now carve ye on.", []phrase{say(10, "carb heat on")}, "Now carb heat on."},
		"the middle of one":                     {"and carve ye on now", []phrase{say(10, "carb heat on")}, "and carb heat on now"},
		"two after each other":                  {"Carve ye on, dream set.", []phrase{say(0, "carb heat on"), say(30, "trim set")}, "Carb heat on, trim set."},
		"a new sentence keeps its capital":      {"Good. Carve ye on", []phrase{say(10, "carb heat on")}, "Good. Carb heat on"},
		"a question of misheard words is none":  {"Carve ye on?", []phrase{say(0, "carb heat on")}, "Carb heat on."},
		"what is written so already stays":      {"Carb heat on?", []phrase{say(0, "carb heat on")}, "Carb heat on?"},
		"where the decoder wrote nothing":       {"", []phrase{say(40, "trim set")}, "Trim set"},
		"after all the words":                   {"Good", []phrase{say(40, "trim set")}, "Good trim set"},
		"a word half in the phrase is not lost": {"Good trims", []phrase{say(16, "trim set")}, "Good trims trim set"},
	} {
		t.Run(name, func(t *testing.T) {
			var got []string
			for _, w := range weave(at(0, c.written), c.found) {
				got = append(got, w.Text)
			}
			if s := strings.Join(got, " "); s != c.want {
				t.Errorf("got %q, want %q", s, c.want)
			}
		})
	}
}

func TestAWordThatIsAlsoAPhraseIsAsSureAsTheSurerOfThem(t *testing.T) {
	for _, likely := range []float64{0.2, 0.9} {
		for _, w := range weave(at(0, "Trim set."), []phrase{{words: at(0, "trim set"), Candidate: Candidate{Likely: likely}}}) {
			if w.Confidence != max(likely, 0.5) {
				t.Errorf("%q has %v, the phrase %v", w.Text, w.Confidence, likely)
			}
		}
	}
}
