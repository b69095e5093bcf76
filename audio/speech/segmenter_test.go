package speech

import (
	"errors"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"sidetone/audio"
)

// script is a prober that gives probabilities by heart, then none.
type script struct {
	probs []float32
	at    int
}

func (s *script) Probability([]float32) (float32, error) {
	s.at++
	if s.at > len(s.probs) {
		return 0, nil
	}
	return s.probs[s.at-1], nil
}

// run is n windows of probability p.
func run(p float32, n int) []float32 { return slices.Repeat([]float32{p}, n) }

// ramp is n samples that tell their place, for checking what was cut where.
func ramp(n int) []float32 {
	x := make([]float32, n)
	for i := range x {
		x[i] = float32(i)
	}
	return x
}

// span is a segment in samples of the recording.
type span struct{ From, To int }

// segment cuts total samples of a ramp with probs, fed in blocks as block says.
func segment(tb interface {
	Helper()
	Fatalf(string, ...any)
}, probs []float32, total int, cut Cutting, block func() int) []span {
	tb.Helper()
	s := NewSegmenter(3, &script{probs: probs}, cut)
	sound := ramp(total)
	var all []audio.Segment
	for at := 0; at < total; {
		n := min(max(1, block()), total-at)
		segs, err := s.Feed(sound[at : at+n])
		if err != nil {
			tb.Fatalf("feeding: %v", err)
		}
		all = append(all, segs...)
		at += n
	}
	segs, err := s.Flush()
	if err != nil {
		tb.Fatalf("flushing: %v", err)
	}
	all = append(all, segs...)
	var spans []span
	seconds := 0.0
	for _, seg := range all {
		from := int(math.Round(seg.Start * audio.Rate))
		for i, v := range seg.Samples {
			if v != float32(from+i) {
				tb.Fatalf("sample %d of the segment at %d is sample %v of the recording", i, from, v)
			}
		}
		if seg.Channel != 3 {
			tb.Fatalf("channel %d", seg.Channel)
		}
		spans = append(spans, span{from, from + len(seg.Samples)})
		seconds += seg.End() - seg.Start
	}
	if math.Abs(seconds-s.Speech()) > 1e-9 {
		tb.Fatalf("%.3f s of segments, Speech says %.3f", seconds, s.Speech())
	}
	return spans
}

func whole() func() int { return func() int { return math.MaxInt } }

// windowed cuts by whole numbers of windows: a pause of 6, 3 of lead, 2 of tail,
// 4 the shortest speech, 40 the longest.
var windowed = Cutting{On: 0.5, Off: 0.3, Pause: 6 * WindowSeconds, Shortest: 4 * WindowSeconds,
	Lead: 3 * WindowSeconds, Tail: 2 * WindowSeconds, Longest: 40 * WindowSeconds}

func TestSegmentsAreCutFromProbabilities(t *testing.T) {
	for _, c := range []struct {
		name  string
		probs []float32
		want  []span // in windows
	}{
		{"nothing is said", run(0.1, 50), nil},
		{"doubt alone begins nothing", run(0.45, 50), nil},
		{"speech has its lead and its tail", slices.Concat(run(0, 10), run(0.9, 8), run(0, 20)), []span{{7, 20}}},
		{"a short click is ignored", slices.Concat(run(0, 10), run(0.9, 3), run(0, 20)), nil},
		{"just long enough is kept", slices.Concat(run(0, 10), run(0.9, 4), run(0, 20)), []span{{7, 16}}},
		{"two clicks within a pause are no speech either", slices.Concat(run(0, 10), run(0.9, 1), run(0, 4), run(0.9, 2), run(0, 20)), nil},
		{"a click does not take the speech after it along", slices.Concat(run(0, 10), run(0.9, 2), run(0, 8), run(0.9, 8), run(0, 20)), []span{{17, 30}}},
		{"speech goes on in doubt", slices.Concat(run(0, 10), run(0.9, 4), run(0.4, 10), run(0, 20)), []span{{7, 26}}},
		{"a shorter pause does not split", slices.Concat(run(0, 10), run(0.9, 6), run(0, 5), run(0.9, 6), run(0, 20)), []span{{7, 29}}},
		{"a pause splits", slices.Concat(run(0, 10), run(0.9, 6), run(0, 6), run(0.9, 6), run(0, 20)), []span{{7, 18}, {19, 30}}},
		{"a lead does not reach into the tail before", slices.Concat(run(0, 10), run(0.9, 6), run(0, 7), run(0.9, 6), run(0, 20)), []span{{7, 18}, {20, 31}}},
		{"speech at once has no lead", slices.Concat(run(0.9, 8), run(0, 20)), []span{{0, 10}}},
		{"speech after one window has a lead of one", slices.Concat(run(0, 1), run(0.9, 8), run(0, 20)), []span{{0, 11}}},
		{"speech to the end has no tail", slices.Concat(run(0, 10), run(0.9, 8)), []span{{7, 18}}},
		{"the end cuts the tail", slices.Concat(run(0, 10), run(0.9, 8), run(0, 1)), []span{{7, 19}}},
		{"long speech is cut at its dip", slices.Concat(run(0, 10), run(0.9, 28), run(0.6, 3), run(0.9, 20), run(0, 20)), []span{{7, 40}, {40, 63}}},
		{"a dip in the first half is not taken", slices.Concat(run(0, 10), run(0.9, 5), run(0.4, 3), run(0.9, 22), run(0.7, 3), run(0.9, 20), run(0, 20)),
			[]span{{7, 42}, {42, 65}}},
		{"speech of three times the longest is cut twice", slices.Concat(run(0.9, 30), run(0.6, 3), run(0.9, 30), run(0.6, 3), run(0.9, 20), run(0, 20)),
			[]span{{0, 32}, {32, 65}, {65, 88}}},
		{"what is left after a cut is speech however short", slices.Concat(run(0, 10), run(0.9, 36), run(0.5, 1), run(0.9, 3), run(0, 20)),
			[]span{{7, 47}, {47, 52}}},
		{"a pause at the cut leaves no segment of silence", slices.Concat(run(0, 10), run(0.9, 35), run(0.1, 1), run(0, 20)), []span{{7, 47}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var want []span
			for _, s := range c.want {
				want = append(want, span{s.From * Window, s.To * Window})
			}
			got := segment(t, c.probs, len(c.probs)*Window, windowed, whole())
			if d := cmp.Diff(want, got); d != "" {
				for _, s := range got {
					t.Logf("got windows %d to %d", s.From/Window, s.To/Window)
				}
				t.Error(d)
			}
		})
	}
}

func TestNoSegmentReachesPastTheRecording(t *testing.T) {
	for _, extra := range []int{1, 100, Window - 1} {
		for _, n := range []int{8, 39, 40, 41} {
			probs := run(0.9, n+1)
			total := n*Window + extra
			got := segment(t, probs, total, windowed, whole())
			if len(got) == 0 || got[len(got)-1].To != total {
				t.Errorf("speech to the last of %d samples is cut into %v", total, got)
			}
		}
	}
}

// anyCutting draws a cutting, sensible or not.
func anyCutting(t *rapid.T) Cutting {
	w := func(label string, lo, hi int) float64 {
		return WindowSeconds * float64(rapid.IntRange(lo, hi).Draw(t, label))
	}
	return Cutting{On: 0.5, Off: 0.35, Pause: w("pause", 1, 15), Shortest: w("shortest", 0, 8),
		Lead: w("lead", 0, 10), Tail: w("tail", 0, 20), Longest: w("longest", 2, 60)}
}

func anyProbs(t *rapid.T) []float32 {
	var probs []float32
	for range rapid.IntRange(1, 12).Draw(t, "stretches") {
		p := rapid.SampledFrom([]float32{0, 0.2, 0.4, 0.6, 0.95}).Draw(t, "p")
		probs = append(probs, run(p, rapid.IntRange(1, 30).Draw(t, "n"))...)
	}
	return probs
}

func TestSegmentsNeverOverlapAndLoseNoSpeech(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cut, probs := anyCutting(t), anyProbs(t)
		total := len(probs)*Window - rapid.IntRange(0, Window-1).Draw(t, "missing")
		got := segment(t, probs, total, cut, whole())
		end := 0
		for _, s := range got {
			if s.From < end || s.To <= s.From || s.To > total {
				t.Fatalf("segments %v of %d samples", got, total)
			}
			end = s.To
			if n := windows(cut.Lead) + windows(cut.Longest) + windows(cut.Tail) + 1; s.To-s.From > n*Window {
				t.Fatalf("segment %v is longer than %d windows", s, n)
			}
		}
		// Speech as long as the shortest, without a window below On, is in them whole.
		for i := 0; i < len(probs); {
			j := i
			for j < len(probs) && probs[j] >= cut.On {
				j++
			}
			if j-i >= max(1, windows(cut.Shortest)) {
				for w := i; w < j; w++ {
					at := w * Window
					if !slices.ContainsFunc(got, func(s span) bool { return s.From <= at && min(at+Window, total) <= s.To }) {
						t.Fatalf("window %d of the speech in %d to %d is in none of %v", w, i, j, got)
					}
				}
			}
			i = max(j, i+1)
		}
	})
}

func TestSegmentsDoNotDependOnTheBlocksRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cut, probs := anyCutting(t), anyProbs(t)
		total := len(probs)*Window - rapid.IntRange(0, Window-1).Draw(t, "missing")
		at := segment(t, probs, total, cut, whole())
		odd := segment(t, probs, total, cut, func() int { return rapid.IntRange(1, 3000).Draw(t, "block") })
		if d := cmp.Diff(at, odd); d != "" {
			t.Fatal(d)
		}
	})
}

type broken struct{}

var errBroken = errors.New("broken")

func (broken) Probability([]float32) (float32, error) { return 0, errBroken }

func TestAnErrorOfTheDetectorIsGivenBack(t *testing.T) {
	s := NewSegmenter(0, broken{}, DefaultCutting)
	if _, err := s.Feed(make([]float32, Window)); !errors.Is(err, errBroken) {
		t.Errorf("Feed gives %v", err)
	}
	s = NewSegmenter(0, broken{}, DefaultCutting)
	if _, err := s.Feed(make([]float32, 10)); err != nil {
		t.Errorf("less than a window: %v", err)
	}
	if _, err := s.Flush(); !errors.Is(err, errBroken) {
		t.Errorf("Flush gives %v", err)
	}
}

func TestAnEmptyRecordingHasNoSegment(t *testing.T) {
	s := NewSegmenter(0, &script{}, DefaultCutting)
	segs, err := s.Flush()
	if err != nil || len(segs) > 0 {
		t.Errorf("%v, %v", segs, err)
	}
}
