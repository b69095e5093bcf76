package onnx

import (
	"context"
	"slices"
	"strings"
	"testing"

	"sidetone/audio"
	"sidetone/audio/audiotest"
)

// The same word many times over looks like a loop the model fell into: it is heard
// in parts, until the words are no more than are in the sound.
func TestWhereTheModelGoesAstrayThePartsAreHeard(t *testing.T) {
	one := audiotest.Prompt(t, "digits/7")
	gap := make([]float32, audio.Rate/5)
	for _, times := range []int{4, 14} {
		var sound []float32
		for range times {
			sound = append(append(sound, one...), gap...)
		}
		u, err := expecting(t).Recognise(context.Background(), audio.Segment{Start: 3, Samples: sound})
		if err != nil {
			t.Fatal(err)
		}
		n := strings.Count(strings.ToLower(u.Text), "seven") + strings.Count(u.Text, "7")
		if n < times*3/4 || n > times+times/4 {
			t.Errorf("seven, said %d times, is heard as %q", times, u.Text)
		}
		for i, w := range u.Words {
			if w.Start < 3 || w.End > 3+float64(len(sound))/audio.Rate || i > 0 && w.Start < u.Words[i-1].Start {
				t.Errorf("word %d lies from %.2f to %.2f", i, w.Start, w.End)
			}
		}
	}
}

func TestASoundIsCutWhereItIsQuietest(t *testing.T) {
	loud := slices.Repeat([]float32{0.5, -0.5}, audio.Rate)
	for _, at := range []int{audio.Rate * 3 / 5, audio.Rate, audio.Rate * 7 / 5} {
		x := slices.Clone(loud)
		clear(x[at-audio.Rate/20 : at+audio.Rate/20])
		clear(x[:audio.Rate/5]) // too near the start
		if got := quietest(x); got < at-audio.Rate/50 || got > at+audio.Rate/50 {
			t.Errorf("quiet at %d, cut at %d", at, got)
		}
	}
}
