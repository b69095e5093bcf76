package onnx

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sidetone/audio"
	"sidetone/audio/transcript"
)

func TestALoopTheModelFellIntoIsCutToOneRound(t *testing.T) {
	for _, c := range []struct {
		name   string
		tokens []int64
		cut    int
	}{
		{"nothing", nil, 0},
		{"no loop", []int64{5, 6, 7, 8, 9, 10, 11, 12, 13, 14}, 0},
		{"seven of the same may be meant", []int64{4, 7, 7, 7, 7, 7, 7, 7}, 0},
		{"eight of the same are a loop", []int64{4, 7, 7, 7, 7, 7, 7, 7, 7}, 7},
		{"a pair three times may be meant", []int64{1, 2, 1, 2, 1, 2}, 0},
		{"a pair four times is a loop", []int64{9, 1, 2, 1, 2, 1, 2, 1, 2}, 6},
		{"three tokens three times", []int64{1, 2, 3, 1, 2, 3, 1, 2, 3}, 6},
		{"three tokens twice", []int64{1, 2, 3, 1, 2, 3}, 0},
		{"eight tokens three times", slices.Repeat([]int64{1, 2, 3, 4, 5, 6, 7, 8}, 3), 16},
		{"nine tokens three times are not looked for", slices.Repeat([]int64{1, 2, 3, 4, 5, 6, 7, 8, 9}, 3), 0},
		{"a loop that ended is none", []int64{7, 7, 7, 7, 7, 7, 7, 7, 1}, 0},
		{"a loop not yet at its third end", []int64{1, 2, 3, 1, 2, 3, 1, 2}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			var tokens []token
			for _, id := range c.tokens {
				tokens = append(tokens, token{id, -1})
			}
			if got := repeated(tokens); got != c.cut {
				t.Errorf("%d tokens cut, want %d", got, c.cut)
			}
		})
	}
}

func TestTokensArePutTogetherIntoWords(t *testing.T) {
	v := []string{"<unk>", "<s>", "</s>", "▁carb", "▁he", "at", "▁on", ".", "▁", "<0xC3>", "<0xA9>", "set", "▁-"}
	r := &Recogniser{vocabulary: v}
	half, quarter := math.Log(0.5), math.Log(0.25)
	for _, c := range []struct {
		name       string
		tokens     []token
		texts      []string
		confidence []float64
	}{
		{"nothing", nil, nil, nil},
		{"pieces join, marks belong to the word before", []token{{3, 0}, {4, half}, {5, half}, {6, 0}, {7, 0}}, []string{"carb", "heat", "on."}, []float64{1, 0.5, 1}},
		{"a confidence is the geometric mean", []token{{4, 0}, {5, quarter}}, []string{"heat"}, []float64{0.5}},
		{"a first piece without a space begins a word", []token{{11, half}, {3, 0}}, []string{"set", "carb"}, []float64{0.5, 1}},
		{"bytes of one letter", []token{{3, 0}, {9, 0}, {10, 0}}, []string{"carbé"}, []float64{1}},
		{"half a letter is dropped", []token{{3, 0}, {9, 0}}, []string{"carb"}, []float64{1}},
		{"a space alone is no word", []token{{8, 0}, {3, 0}, {8, 0}}, []string{"carb"}, []float64{1}},
		{"special tokens say nothing", []token{{3, 0}, {0, 0}, {1, 0}}, []string{"carb"}, []float64{1}},
		{"half a letter alone is no word", []token{{9, 0}}, nil, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			words := r.words(c.tokens)
			if len(words) != len(c.texts) {
				t.Fatalf("%+v, want %q", words, c.texts)
			}
			for i, w := range words {
				if w.Text != c.texts[i] || math.Abs(w.Confidence-c.confidence[i]) > 1e-9 {
					t.Errorf("word %d is %q with %.3f, want %q with %.3f", i, w.Text, w.Confidence, c.texts[i], c.confidence[i])
				}
			}
		})
	}
}

// bursts is sound with a tone in each stretch from-to, in seconds.
func bursts(seconds float64, stretches ...[2]float64) []float32 {
	x := make([]float32, int(seconds*audio.Rate))
	for _, s := range stretches {
		for i := int(s[0] * audio.Rate); i < int(s[1]*audio.Rate); i++ {
			x[i] = 0.3 * float32(math.Sin(float64(i)/5))
		}
	}
	return x
}

func TestWordsLieWhereTheSegmentSounds(t *testing.T) {
	for _, c := range []struct {
		name   string
		words  []string
		sound  []float32
		starts []float64
		ends   []float64
	}{
		{"one word over all that sounds", []string{"trim"}, bursts(1, [2]float64{0.2, 0.7}), []float64{0.2}, []float64{0.7}},
		{"words alike share it", []string{"trim", "sets"}, bursts(1, [2]float64{0.2, 0.8}), []float64{0.2, 0.5}, []float64{0.5, 0.8}},
		{"no word begins or ends in a pause", []string{"trim", "sets"}, bursts(2, [2]float64{0.2, 0.6}, [2]float64{1.2, 1.6}), []float64{0.2, 1.2}, []float64{0.6, 1.6}},
		{"figures take as long as they are spoken", []string{"27", "trimtrims"}, bursts(1, [2]float64{0, 1}), []float64{0, 0.48}, []float64{0.48, 1}},
		{"silence is shared too", []string{"trim", "sets"}, bursts(1), []float64{0, 0.5}, []float64{0.5, 1}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var words []transcript.Word
			for _, w := range c.words {
				words = append(words, transcript.Word{Text: w})
			}
			setTimes(words, audio.Segment{Start: 100, Samples: c.sound})
			for i, w := range words {
				if math.Abs(w.Start-100-c.starts[i]) > 0.021 || math.Abs(w.End-100-c.ends[i]) > 0.021 {
					t.Errorf("%q is at %.2f to %.2f, want %.2f to %.2f", w.Text, w.Start-100, w.End-100, c.starts[i], c.ends[i])
				}
			}
		})
	}
	setTimes(nil, audio.Segment{})
}

func TestWordsAreInOrderWithinTheirSegment(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, audio.Rate).Draw(t, "samples")
		seg := audio.Segment{Start: rapid.Float64Range(0, 7200).Draw(t, "start"), Samples: make([]float32, n)}
		for at := 0; at < n; {
			level := rapid.SampledFrom([]float32{0, 1e-4, 0.1, 0.9}).Draw(t, "level")
			for end := min(n, at+rapid.IntRange(1, 5000).Draw(t, "length")); at < end; at++ {
				seg.Samples[at] = level * float32(1-2*(at%2))
			}
		}
		words := make([]transcript.Word, rapid.IntRange(1, 12).Draw(t, "words"))
		for i := range words {
			words[i].Text = rapid.SampledFrom([]string{"a", "trim", "3,500", "correction", "."}).Draw(t, "word")
		}
		setTimes(words, seg)
		at := seg.Start
		for _, w := range words {
			if w.Start < at || w.End < w.Start || w.End > seg.End()+1e-9 {
				t.Fatalf("%+v in a segment of %.4f to %.4f", words, seg.Start, seg.End())
			}
			at = w.End
		}
	})
}
