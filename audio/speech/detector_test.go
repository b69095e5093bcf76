package speech_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sidetone/audio"
	"sidetone/audio/audiotest"
	"sidetone/audio/models/modelstest"
	"sidetone/audio/speech"
)

func detector(tb testing.TB) *speech.Detector {
	tb.Helper()
	set := modelstest.Find(tb)
	d, err := speech.NewDetector(set.Runtime, set.VAD)
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { _ = d.Close() })
	return d
}

// another is a detector that has heard nothing yet.
func another(tb interface{ Fatal(...any) }, d *speech.Detector) *speech.Detector {
	a, err := d.Another()
	if err != nil {
		tb.Fatal(err)
	}
	return a
}

// cut segments sound fed in blocks of the sizes block gives.
func cut(tb interface{ Fatal(...any) }, d *speech.Detector, sound []float32, block func() int) []audio.Segment {
	a := another(tb, d)
	defer a.Close()
	short := speech.DefaultCutting
	short.Pause = 0.4 // so that prompts a second apart are segments of their own
	s := speech.NewSegmenter(0, a, short)
	var all []audio.Segment
	for len(sound) > 0 {
		n := min(len(sound), block())
		segs, err := s.Feed(sound[:n])
		if err != nil {
			tb.Fatal(err)
		}
		all, sound = append(all, segs...), sound[n:]
	}
	segs, err := s.Flush()
	if err != nil {
		tb.Fatal(err)
	}
	return append(all, segs...)
}

func atOnce() int { return math.MaxInt }

// spoken bounds what sounds in a prompt: recorded prompts have some silence of
// their own at both ends.
func spoken(sound []float32) (from, to float64) {
	peak := float32(0)
	for _, v := range sound {
		peak = max(peak, v, -v)
	}
	first, last := -1, 0
	for i, v := range sound {
		if max(v, -v) > peak/20 {
			if first < 0 {
				first = i
			}
			last = i + 1
		}
	}
	return float64(first) / audio.Rate, float64(last) / audio.Rate
}

var joined = []string{"conf-locked", "vm-goodbye", "pls-hold-while-try", "digits/7", "vm-nomore",
	"phonetic/f_p", "conf-full", "digits/13", "conf-unmuted", "please-try-again"}

func TestEachPromptBetweenPausesIsOneSegmentWithinAQuarterSecond(t *testing.T) {
	d := detector(t)
	var prompts [][]float32
	for _, name := range joined {
		prompts = append(prompts, audiotest.Prompt(t, name))
	}
	sound, begins := audiotest.Join(1, prompts...)
	segs := cut(t, d, sound, atOnce)
	if len(segs) != len(prompts) {
		for _, s := range segs {
			t.Logf("%.2f to %.2f", s.Start, s.End())
		}
		t.Fatalf("%d segments for %d prompts", len(segs), len(prompts))
	}
	for i, s := range segs {
		from, to := spoken(prompts[i])
		near(t, joined[i], s, begins[i]+from, begins[i]+to)
	}
}

// near checks that a segment holds what was spoken, and that less its lead and
// tail it begins and ends within a quarter of a second of it.
func near(t *testing.T, name string, s audio.Segment, from, to float64) {
	t.Helper()
	t.Logf("%s spoken %.2f to %.2f, cut %+.2f %+.2f", name, from, to, s.Start-from, s.End()-to)
	if s.Start > from || s.End() < to {
		t.Errorf("%s spoken %.2f to %.2f is not all in %.2f to %.2f", name, from, to, s.Start, s.End())
	}
	start, end := s.Start+speech.DefaultCutting.Lead, s.End()-speech.DefaultCutting.Tail
	if math.Abs(start-from) > 0.25 || math.Abs(end-to) > 0.25 {
		t.Errorf("%s spoken %.2f to %.2f is found at %.2f to %.2f", name, from, to, start, end)
	}
}

func TestSegmentsAreTheSameHoweverTheSoundComesIn(t *testing.T) {
	d := detector(t)
	var prompts [][]float32
	for _, name := range joined[:4] {
		prompts = append(prompts, audiotest.Prompt(t, name))
	}
	sound, _ := audiotest.Join(0.5, prompts...)
	want := cut(t, d, sound, atOnce)
	if len(want) == 0 {
		t.Fatal("no segments")
	}
	for _, size := range []int{37, 160, 511, 512, 513, 8000, 16001} {
		got := cut(t, d, sound, func() int { return size })
		if !slices.EqualFunc(want, got, func(a, b audio.Segment) bool {
			return a.Start == b.Start && slices.Equal(a.Samples, b.Samples)
		}) {
			t.Errorf("in blocks of %d there are %d segments, or others than the %d at once", size, len(got), len(want))
		}
	}
}

func TestWhatIsNoSpeechIsNoSegment(t *testing.T) {
	d := detector(t)
	dc := make([]float32, 3*audio.Rate)
	for i := range dc {
		dc[i] = 0.3
	}
	blip := make([]float32, 2*audio.Rate)
	copy(blip[audio.Rate:], audiotest.Prompt(t, "digits/7")[3000:3000+audio.Rate/20])
	for name, sound := range map[string][]float32{
		"nothing at all":          {},
		"one sample":              {0.5},
		"silence":                 make([]float32, 3*audio.Rate),
		"white noise":             audiotest.Synth(t, "4", "whitenoise", "vol", "0.2"),
		"brown noise":             audiotest.Synth(t, "4", "brownnoise", "vol", "0.5"),
		"an engine":               engine(t, "6"),
		"a tone":                  audiotest.Synth(t, "4", "sine", "440", "vol", "0.3"),
		"a DC offset":             dc,
		"a twentieth of a second": blip,
	} {
		if segs := cut(t, d, sound, atOnce); len(segs) > 0 {
			t.Errorf("%s has %d segments, the first %.2f to %.2f s", name, len(segs), segs[0].Start, segs[0].End())
		}
	}
}

// engine is like a piston engine at some 2,300 rpm: the firing of four
// cylinders with harmonics, and wind.
func engine(tb testing.TB, seconds string) []float32 {
	return audiotest.Synth(tb, seconds, "sawtooth", "76", "sawtooth", "mix", "152", "brownnoise", "mix", "whitenoise", "mix", "lowpass", "2500", "vol", "0.4")
}

func TestSpeechIsFoundThroughEngineNoise(t *testing.T) {
	d := detector(t)
	prompt := audiotest.Prompt(t, "conf-placeintoconf")
	sound, begins := audiotest.Join(2, prompt)
	noise := engine(t, "10")
	for i := range sound {
		sound[i] += 0.05 * noise[i%len(noise)]
	}
	segs := cut(t, d, sound, atOnce)
	if len(segs) != 1 {
		t.Fatalf("%d segments", len(segs))
	}
	from, to := spoken(prompt)
	near(t, "a prompt", segs[0], begins[0]+from, begins[0]+to)
}

func TestDetectorsOfSeveralChannelsDoNotDisturbEachOther(t *testing.T) {
	d := detector(t)
	words := audiotest.Prompt(t, "conf-placeintoconf")
	noise := audiotest.Synth(t, "5", "whitenoise", "vol", "0.3")
	alone := probabilities(t, another(t, d), words, nil, nil)
	beside := probabilities(t, another(t, d), words, another(t, d), noise)
	if diff := cmp.Diff(alone, beside); diff != "" {
		t.Error("a detector hears otherwise when another is at work:", diff)
	}
}

func probabilities(tb testing.TB, d *speech.Detector, words []float32, other *speech.Detector, noise []float32) []float32 {
	defer d.Close()
	var out []float32
	for at := 0; at+speech.Window <= len(words); at += speech.Window {
		p, err := d.Probability(words[at : at+speech.Window])
		if err != nil {
			tb.Fatal(err)
		}
		out = append(out, p)
		if other == nil {
			continue
		}
		n := at % (len(noise) - speech.Window)
		if _, err := other.Probability(noise[n : n+speech.Window]); err != nil {
			tb.Fatal(err)
		}
	}
	if other != nil {
		_ = other.Close()
	}
	return out
}

func TestADetectorTakesWholeWindowsOnly(t *testing.T) {
	d := detector(t)
	for _, n := range []int{0, speech.Window - 1, speech.Window + 1} {
		if _, err := d.Probability(make([]float32, n)); err == nil || !strings.Contains(err.Error(), "512 samples") {
			t.Errorf("%d samples: %v", n, err)
		}
	}
}

func TestADetectorIsClosedTwiceAndThenGivesAnError(t *testing.T) {
	d := detector(t)
	a := another(t, d)
	for range 2 {
		if err := a.Close(); err != nil {
			t.Fatal(err)
		}
	}
	window := make([]float32, speech.Window)
	if _, err := a.Probability(window); err == nil {
		t.Error("a closed detector gives a probability")
	}
	if _, err := a.Another(); err == nil {
		t.Error("a closed detector makes another")
	}
	if _, err := d.Probability(window); err != nil {
		t.Errorf("closing one closed the other: %v", err)
	}
}

func TestDetectorsAreClosedInAnyOrder(t *testing.T) {
	first := detector(t)
	second := another(t, first)
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := second.Probability(make([]float32, speech.Window)); err != nil {
		t.Errorf("closing the first took the model from the second: %v", err)
	}
	if err := second.Close(); err != nil {
		t.Error(err)
	}
}

func TestWhatIsNoDetectorIsRefused(t *testing.T) {
	set := modelstest.Find(t)
	if d, err := speech.NewDetector(set.Runtime, set.Encoder); err == nil {
		_ = d.Close()
		t.Error("the encoder of a recogniser is taken for a speech detector")
	} else if !strings.Contains(err.Error(), "not a speech detector") {
		t.Error(err)
	}
	if _, err := speech.NewDetector(set.Runtime, "missing.onnx"); err == nil || !strings.Contains(err.Error(), "missing.onnx") {
		t.Errorf("a missing model gives %v", err)
	}
}

func BenchmarkDetectorPerSecond(b *testing.B) {
	d := detector(b)
	second := audiotest.Synth(b, "1", "whitenoise", "vol", "0.1")
	for b.Loop() {
		for at := 0; at+speech.Window <= len(second); at += speech.Window {
			if _, err := d.Probability(second[at : at+speech.Window]); err != nil {
				b.Fatal(err)
			}
		}
	}
}
