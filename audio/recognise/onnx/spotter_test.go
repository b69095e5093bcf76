package onnx

import (
	"runtime"
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

// The most MB that all the phrases of the built-in callouts may take (measured: 13;
// with slices of words and a map of texts they took 45).
const mostForPhrases = 20

func TestTensOfThousandsOfPhrasesTakeLittleMemory(t *testing.T) {
	opt := Options{Phrases: lexicon(t), Say: say}
	heap := func() float64 {
		var m runtime.MemStats
		runtime.GC()
		runtime.GC() // what pools held
		runtime.ReadMemStats(&m)
		return float64(m.HeapAlloc) / (1 << 20)
	}
	before := heap()
	s := newSpotter(nil, opt)
	took := heap() - before
	runtime.KeepAlive(opt) // counted before and after
	t.Logf("%d phrases take %.1f MB", len(s.phrases), took)
	if len(s.phrases) < 10000 || took > mostForPhrases {
		t.Errorf("%d phrases take %.1f MB, at most %d are allowed", len(s.phrases), took, mostForPhrases)
	}
}
