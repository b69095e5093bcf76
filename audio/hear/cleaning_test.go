package hear_test

import (
	"math"
	"slices"
	"testing"

	"sidetone/audio"
	"sidetone/audio/audiotest"
	"sidetone/audio/hear"
)

// quiet is x at a two hundredth of its level, in next to no noise.
func quiet(x []float32) []float32 {
	out := make([]float32, len(x))
	for i, v := range x {
		out[i] = v/200 + 1e-5*float32(i%2*2-1)
	}
	return out
}

func TestFaintVoicesAreBroughtUpByOneGainForAll(t *testing.T) {
	words := map[float64]float64{1: 0.4, 4: 0.2, 7: 0.4, 10: 0.2, 13: 0.4}
	loud := sound(16, words)
	for _, c := range []struct {
		name     string
		x        []float32
		cleaning hear.Cleaning
		want     []string
		gain     bool
	}{
		{"loud enough", loud, hear.Cleaning{Faint: -36, Level: -26}, []string{"forty", "twenty", "forty", "twenty", "forty"}, false},
		{"faint, and left so", quiet(loud), hear.Cleaning{}, nil, false},
		{"faint", quiet(loud), hear.Cleaning{Faint: -36, Level: -26}, []string{"ten", "", "ten", "", "ten"}, true},
		{"silence", make([]float32, len(loud)), hear.Cleaning{Faint: -36, Level: -26}, nil, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			var peaks []float64
			r := echo{pause: func(s audio.Segment) error {
				p := 0.0
				for _, v := range s.Samples {
					p = max(p, math.Abs(float64(v)))
				}
				peaks = append(peaks, p)
				return nil
			}}
			res := listen(t, audiotest.WriteWAV(t, c.x), hear.Options{Recogniser: r, Cleaning: c.cleaning, Workers: 1})
			if g := res.Gains[0][0]; (g > 0) != c.gain || len(peaks) != len(c.want) {
				t.Fatalf("gain %v, %d segments", g, len(peaks))
			}
			if !c.gain {
				return
			}
			// The voices are at -26 dBFS now, the loud twice the soft as they were.
			if peaks[0] < 0.05 || peaks[0] > 0.2 || math.Abs(peaks[0]/peaks[1]-2) > 0.1 {
				t.Errorf("peaks %v", peaks)
			}
			_, tops, _ := res.Peaks.Extremes()
			if top := slices.Max(tops); float64(top) < 0.9*peaks[0] {
				t.Errorf("the waveform reaches %v, the segments %v", top, peaks[0])
			}
		})
	}
}

func TestCleaningLeavesWordsWhereTheyWere(t *testing.T) {
	x := sound(12, map[float64]float64{2: 0.3, 7: 0.3})
	plain := listen(t, audiotest.WriteWAV(t, x), hear.Options{})
	for name, c := range map[string]hear.Cleaning{
		"high-pass": {HighPass: 100}, "noise reduction": {Reduce: 10}, "both": {HighPass: 100, Reduce: 10},
	} {
		var got []audio.Segment
		listen(t, audiotest.WriteWAV(t, x), hear.Options{Cleaning: c, Recogniser: echo{pause: func(s audio.Segment) error {
			got = append(got, s)
			return nil
		}}})
		if len(got) != len(plain.Transcript.Utterances) {
			t.Errorf("%s: %d segments, %d without", name, len(got), len(plain.Transcript.Utterances))
			continue
		}
		for i, u := range plain.Transcript.Utterances {
			if math.Abs(got[i].Start-u.Start) > 0.07 || math.Abs(got[i].End()-u.End) > 0.07 {
				t.Errorf("%s: from %.3f to %.3f, without from %.3f to %.3f", name, got[i].Start, got[i].End(), u.Start, u.End)
			}
		}
	}
}
