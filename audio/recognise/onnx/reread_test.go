package onnx

import (
	"slices"
	"strings"
	"testing"

	"sidetone/audio"
	"sidetone/audio/recognise/phones"
	"sidetone/audio/recognise/phones/phonestest"
	"sidetone/audio/recognise/talk"
	"sidetone/audio/transcript"
	"sidetone/callouts"
)

// sounding is how clearly spoken words sound.
func sounding(text string) (out phones.Heard) {
	for w := range strings.FieldsSeq(text) {
		ways, _ := say(w)
		out = append(out, phonestest.Clearly(ways[0]...)...)
	}
	return out
}

func wrote(text string) []transcript.Word {
	var out []transcript.Word
	for w := range strings.FieldsSeq(text) {
		out = append(out, transcript.Word{Text: w, Confidence: 0.3})
	}
	return out
}

func reader(sentences ...string) *spotter {
	ways := func(w string) [][]phones.Phone {
		out, _ := say(w)
		return out
	}
	return &spotter{say: say, spoken: callouts.SpokenWays, talk: talk.NewVocabulary(talk.Learn(sentences), ways)}
}

func TestTheDecodersTextIsReadAnew(t *testing.T) {
	s := reader("carb heat on", "power back to seventeen hundred", "now trim", "i have the flaps up", "flaps twenty five")
	for name, c := range map[string]struct{ said, written, want string }{
		"what was said stays as it is written":                             {"carb heat on", "Carb heat on.", "Carb heat on."},
		"what was misheard is put right":                                   {"carb heat on", "Carve ye on.", "Carb heat on."},
		"its mark and its capital stay":                                    {"now trim carb heat on", "Now trim. Carve ye yon?", "Now trim. Carb heat on?"},
		"a figure stays a figure":                                          {"power back to seventeen hundred", "Power back to 1700.", "Power back to 1700."},
		"a figure that was not said becomes what was":                      {"power back to seventeen hundred", "Power back to 1750.", "Power back to seventeen hundred."},
		"a figure said in another way":                                     {"power back to one thousand seven hundred", "Power back to 1700.", "Power back to 1700."},
		"a word in two parts stays one":                                    {"flaps twenty five", "flaps twenty-five", "flaps twenty-five"},
		"where a sentence ends in words that were misheard, a stop is put": {"now trim carb heat on flaps twenty five", "now trip carve eat own flaps twenty five", "now trim. Carb heat on. Flaps twenty five"},
		"what was left out is put in":                                      {"i have the flaps up", "I have up.", "I have the flaps up."},
		"what was not said goes, its mark to the word before":              {"carb heat on", "Carb heat on, dear, madam.", "Carb heat on,"},
		"a word of itself is a large letter":                               {"now i have the flaps up", "now eye of the flaps up", "now I have the flaps up"},
		"nothing was written":                                              {"carb heat on", "", "Carb heat on"},
		"nothing was said":                                                 {"", "", ""},
	} {
		t.Run(name, func(t *testing.T) {
			var got []string
			for _, w := range s.reread(wrote(c.written), sounding(c.said)) {
				got = append(got, w.Text)
			}
			if text := strings.Join(got, " "); text != c.want {
				t.Errorf("read %q, want %q", text, c.want)
			}
		})
	}
}

func TestAWordBothReadIsLikelier(t *testing.T) {
	s := reader("carb heat on")
	heard := sounding("carb heat on")
	r := &Recogniser{spotter: s}
	read := func(written string) []placed {
		words := wrote(written)
		for i := range words {
			words[i].Confidence = 0.39 // of a word it doubts more its agreement says little
		}
		out, ok, err := r.readAnew(nil, heard, decoded{words: words}, segmentOf(heard))
		if !ok || err != nil {
			t.Fatal(ok, err)
		}
		return out
	}
	both, one := read("carb heat on"), read("carve eat own")
	if len(both) != 3 || len(one) != 3 {
		t.Fatalf("read %d and %d words", len(both), len(one))
	}
	for i := range both {
		if both[i].Confidence <= one[i].Confidence || one[i].Confidence <= 0 || both[i].Confidence >= 1 {
			t.Errorf("%q: %v when both read it, %v when one did", both[i].Text, both[i].Confidence, one[i].Confidence)
		}
	}
}

func TestAlignment(t *testing.T) {
	for name, c := range map[string]struct {
		a, b string
		want []int
	}{
		"nothing":              {"", "", []int{}},
		"the same":             {"a b c", "a b c", []int{0, 1, 2}},
		"one left out":         {"a b c", "a c", []int{0, 2}},
		"one put in":           {"a c", "a b c", []int{0, -1, 1}},
		"another in its place": {"a b c", "a x c", []int{0, -1, 2}},
		"nothing in common":    {"a b", "x y z", []int{-1, -1, -1}},
		"a word again":         {"a a b", "a b", []int{1, 2}},
		"the order is kept":    {"a b", "b a", []int{-1, 0}},
	} {
		if got := alignment(strings.Fields(c.a), strings.Fields(c.b)); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}

func segmentOf(heard phones.Heard) audio.Segment {
	return audio.Segment{Samples: make([]float32, len(heard)*phones.Hop+phones.First)}
}
