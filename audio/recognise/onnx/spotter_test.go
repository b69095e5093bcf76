package onnx

import (
	"strings"
	"testing"

	"sidetone/audio/recognise"
	"sidetone/audio/recognise/phones"
)

func TestPhrasesWithinOneAnotherAreNoRivals(t *testing.T) {
	var opt Options
	for text, means := range map[string]string{"carb heat": "the carb heat", "carb heat on": "carb-heat-on", "applying carb heat": "carb-heat-on",
		"carb heat cold": "carb-heat-cold", "heat": "the heat", "flaps up": "flaps-up", "heat on": "heat-on", "carb": "the carb", "on heat": "x"} {
		opt.Phrases = append(opt.Phrases, recognise.Phrase{Text: text, Means: means})
	}
	opt.Say = func(string) ([][]phones.Phone, bool) { return [][]phones.Phone{{1}}, true }
	s := newSpotter(nil, opt)
	for i, p := range opt.Phrases {
		alike := s.alike(i)
		for k, q := range opt.Phrases {
			one, other := " "+p.Text+" ", " "+q.Text+" "
			want := p.Means == q.Means || strings.Contains(one, other) || strings.Contains(other, one)
			if alike[k] != want {
				t.Errorf("%q and %q: alike %v, want %v", p.Text, q.Text, alike[k], want)
			}
		}
	}
}
