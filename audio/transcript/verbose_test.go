package transcript

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// The shapes are those of OpenAI's published API reference (verbose_json, with and
// without timestamp_granularities[]=word) and of recognisers that put the words into
// the segments.
func TestReadsWhatRecognisersSave(t *testing.T) {
	word := func(text string, start, end, sure float64, estimated bool) Word {
		return Word{text, start, end, sure, estimated, nil}
	}
	e := math.Exp(-0.5)
	for name, c := range map[string]struct {
		in   string
		want []Word
	}{
		"words by themselves take their marks from the text": {`{"task":"transcribe","language":"english","duration":4.2,"text":"Carb heat on. Okay?",
			"words":[{"word":"carb","start":1,"end":1.2},{"word":"heat","start":1.2,"end":1.5},{"word":"on","start":1.5,"end":1.7},{"word":"okay","start":3,"end":3.4}]}`,
			[]Word{word("Carb", 1, 1.2, 1, false), word("heat", 1.2, 1.5, 1, false), word("on.", 1.5, 1.7, 1, false), word("Okay?", 3, 3.4, 1, false)}},
		"words and segments, which say how sure": {`{"duration":"4.2","text":"Flaps up. Trim.","segments":[
			{"id":0,"seek":0,"start":0.5,"end":2,"text":" Flaps up.","tokens":[1],"temperature":0,"avg_logprob":-0.5,"compression_ratio":1,"no_speech_prob":0.1},
			{"id":1,"seek":0,"start":2,"end":4,"text":" Trim.","avg_logprob":0}],
			"words":[{"word":"Flaps","start":0.5,"end":1},{"word":"up","start":1,"end":1.4},{"word":"Trim","start":3,"end":3.4}]}`,
			[]Word{word("Flaps", 0.5, 1, e, false), word("up.", 1, 1.4, e, false), word("Trim.", 3, 3.4, 1, false)}},
		"segments only": {`{"text":"Flaps up.","segments":[{"start":1,"end":3,"text":" Flaps up.","avg_logprob":-0.5}]}`,
			[]Word{word("Flaps", 1, 1+2*6.0/9, e, true), word("up.", 1+2*6.0/9, 3, e, true)}},
		"words in the segments, with a probability": {`{"segments":[{"start":1,"end":3,"text":" Flaps up.","words":[
			{"word":" Flaps","start":1,"end":1.5,"probability":0.25},{"word":" up.","start":1.5,"end":2,"probability":0.75}]}]}`,
			[]Word{word("Flaps", 1, 1.5, 0.25, false), word("up.", 1.5, 2, 0.75, false)}},
		"nothing was said": {`{"text":"","segments":[]}`, nil},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := Read("x.json", strings.NewReader(c.in))
			if err != nil {
				t.Fatal(err)
			}
			var words []Word
			for _, u := range got.Utterances {
				words = append(words, u.Words...)
			}
			if d := cmp.Diff(c.want, words, cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-9 })); d != "" {
				t.Errorf("-want +got:\n%s", d)
			}
		})
	}
	for name, c := range map[string]struct{ in, says string }{
		"words without times":        {`{"text":"Flaps up."}`, "no times"},
		"a word that runs backwards": {`{"text":"up","words":[{"word":"up","start":3,"end":2}]}`, `"up" cannot last from 3 to 2 s`},
		"a segment before the start": {`{"segments":[{"start":-3,"end":2,"text":"up"}]}`, "cannot last"},
		"a word of a million years":  {`{"words":[{"word":"up","start":3,"end":2e13}]}`, "cannot last"},
		"words that are no list":     {`{"words":"up"}`, "words"},
	} {
		if _, err := Read("x.json", strings.NewReader(c.in)); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestVerboseReadsBackAsItWas(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := lessons.Draw(t, "lesson")
		for i := range want.Utterances { // which it does not hold
			want.Utterances[i].Speaker, want.Utterances[i].Channel = "", 0
			if i%2 == 1 {
				want.Utterances[i].Words[0].Or = &Alternative{Text: "carb heat", Words: 1, Confidence: 0.2}
			}
		}
		var b strings.Builder
		if err := WriteVerbose(&b, want); err != nil {
			t.Fatal(err)
		}
		got, err := Read("x.json", strings.NewReader(b.String()))
		if err != nil {
			t.Fatalf("%v\n%s", err, b.String())
		}
		if d := cmp.Diff(want.Utterances, got.Utterances); d != "" {
			t.Fatalf("-want +got:\n%s\n%s", d, b.String())
		}
	})
}

func TestCaptionsThatRollUpSayNothingTwice(t *testing.T) {
	for name, in := range map[string]string{
		"WebVTT": "WEBVTT\n\n00:10.000 --> 00:12.000\n \ncarb<00:10.500><c> heat</c><00:11.000><c> on</c>\n\n" +
			"00:12.000 --> 00:12.010\ncarb heat on\n \n\n" +
			"00:12.010 --> 00:14.000\ncarb heat on\ntrim<00:13.000><c> set</c>\n\n" +
			"00:20.000 --> 00:22.000\ntrim set\n",
		"SRT": "1\n00:00:10,000 --> 00:00:12,000\n\ncarb heat on\n\n2\n00:00:12,000 --> 00:00:12,010\ncarb heat on\n\n" +
			"3\n00:00:12,010 --> 00:00:14,000\ncarb heat on\ntrim set\n\n4\n00:00:20,000 --> 00:00:22,000\ntrim set\n",
	} {
		got, err := Read("x", strings.NewReader(in))
		if err != nil {
			t.Fatal(err)
		}
		want := []said{{"", 0, 10, 12, "carb heat on"}, {"", 0, 12.01, 14, "trim set"}, {"", 0, 20, 22, "trim set"}} // the last is said anew
		if d := cmp.Diff(want, saidIn(got)); d != "" {
			t.Errorf("%s, -want +got:\n%s", name, d)
		}
	}
}
