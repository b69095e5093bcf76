package onnx

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"runtime/debug"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sidetone/audio"
	"sidetone/audio/audiotest"
	"sidetone/audio/models"
	"sidetone/audio/models/modelstest"
	"sidetone/audio/recognise"
	"sidetone/audio/transcript"
)

var _ recognise.Recogniser = (*Recogniser)(nil)

// spokenSegments are some short and long ones.
func spokenSegments(tb testing.TB) []audio.Segment {
	tb.Helper()
	var all []audio.Segment
	for i, name := range []string{"digits/7", "conf-locked", "vm-goodbye", "phonetic/f_p", "pls-hold-while-try", "conf-full"} {
		for _, seg := range segments(tb, audiotest.Prompt(tb, name)) {
			seg.Start += 10 * float64(i)
			seg.Channel = i % 2
			all = append(all, seg)
		}
	}
	return all
}

func recognised(tb testing.TB, r *Recogniser, segs []audio.Segment) []transcript.Utterance {
	tb.Helper()
	out := make([]transcript.Utterance, len(segs))
	for i, seg := range segs {
		var err error
		if out[i], err = r.Recognise(context.Background(), seg); err != nil {
			tb.Error(err)
		}
	}
	return out
}

func TestTwoListeningAtOnceHearWhatOneHears(t *testing.T) {
	segs := spokenSegments(t)
	for _, r := range []*Recogniser{plain(t), expecting(t)} {
		want := recognised(t, r, segs)
		var wg sync.WaitGroup
		got := make([][]transcript.Utterance, 2)
		for i := range got {
			wg.Go(func() { got[i] = recognised(t, r, segs) })
		}
		wg.Wait()
		for i := range got {
			if d := cmp.Diff(want, got[i]); d != "" {
				t.Errorf("listener %d: %s", i, d)
			}
		}
	}
}

func TestWordsHeardLieWithinTheirSegment(t *testing.T) {
	segs := spokenSegments(t)
	for i, u := range recognised(t, expecting(t), segs) {
		if len(u.Words) == 0 {
			t.Errorf("nothing is heard from %.2f to %.2f", u.Start, u.End)
		}
		at := segs[i].Start
		for _, w := range u.Words {
			if w.Start < at || w.End < w.Start || w.End > segs[i].End() || w.Confidence <= 0 || w.Confidence > 1 {
				t.Errorf("%+v in a segment of %.2f to %.2f", u, segs[i].Start, segs[i].End())
			}
			at = w.End
		}
		if u.Channel != segs[i].Channel || u.Start != segs[i].Start || u.End != segs[i].End() {
			t.Errorf("%+v of segment %d", u, i)
		}
	}
}

func TestACancelledRecognitionGivesTheReason(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	for _, r := range []*Recogniser{plain(t), expecting(t)} {
		if _, err := r.Recognise(ctx, spokenSegments(t)[1]); !errors.Is(err, context.Canceled) {
			t.Errorf("the error is %v", err)
		}
	}
}

func TestARecogniserIsClosedTwiceAndThenGivesAnError(t *testing.T) {
	set := modelstest.Find(t)
	seg := spokenSegments(t)[0]
	for _, some := range []int{0, 3} {
		r, err := New(set, Options{Phrases: lexicon(t)[:some], Say: say})
		if err != nil {
			t.Fatal(err)
		}
		if u, err := r.Recognise(context.Background(), seg); err != nil || u.Text == "" {
			t.Errorf("heard %q, %v", u.Text, err)
		}
		for range 2 {
			if err := r.Close(); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := r.Recognise(context.Background(), seg); err == nil {
			t.Error("a closed recogniser hears")
		}
	}
}

func TestFilesThatAreNoModelAreNamed(t *testing.T) {
	good := modelstest.Find(t)
	for _, c := range []struct {
		name, want string
		spoil      func() models.Set
	}{
		{"a vocabulary that is missing", "none.txt", func() models.Set { s := good; s.Vocabulary = "none.txt"; return s }},
		{"an encoder that is missing", "none.onnx", func() models.Set { s := good; s.Encoder = "none.onnx"; return s }},
		{"a decoder that is missing", "none.onnx", func() models.Set { s := good; s.Decoder = "none.onnx"; return s }},
		{"an encoder for a decoder", "not a merged decoder", func() models.Set { s := good; s.Decoder = s.Encoder; return s }},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := New(c.spoil(), Options{})
			if err == nil {
				_ = r.Close()
				t.Fatal("it is opened")
			}
			if !strings.Contains(err.Error(), c.want) {
				t.Errorf("%q does not say %q", err, c.want)
			}
		})
	}
}

// resident is the memory of the process, in MB.
func resident(tb testing.TB) float64 {
	tb.Helper()
	b, err := os.ReadFile("/proc/self/statm")
	if err != nil {
		tb.Skip("no /proc/self/statm here")
	}
	var size, pages int
	if _, err := fmt.Sscan(string(b), &size, &pages); err != nil {
		tb.Fatal(err)
	}
	return float64(pages*os.Getpagesize()) / (1 << 20)
}

// How many MB may be added by 200 recognitions of a second (half under the race detector) (measured: below 1; an
// encoder's output kept each time is 9) and by opening and closing a recogniser
// five times (measured: 6; a model left open each time is 75).
const (
	recognisingMayAdd = 5
	openingMayAdd     = 20
)

// listener is set in the process that listens for the test below.
const listener = "SIDETONE_TEST_LISTENER"

// It is measured in a process of its own that gives back what is freed: in this
// one, what other tests left free would hide what is lost.
func TestListeningLongDoesNotTakeMoreMemory(t *testing.T) {
	if os.Getenv(listener) != "" {
		listenLong(t)
		return
	}
	if testing.Short() {
		t.Skip("recognises some hundred segments")
	}
	modelstest.Find(t)
	resident(t)
	cmd := exec.Command(os.Args[0], "-test.run", "^"+t.Name()+"$", "-test.v")
	cmd.Env = append(os.Environ(), listener+"=1", "MALLOC_ARENA_MAX=1", "MALLOC_TRIM_THRESHOLD_=0", "MALLOC_MMAP_THRESHOLD_=65536")
	out, err := cmd.CombinedOutput()
	t.Logf("%s", out)
	if err != nil {
		t.Error(err)
	}
}

func listenLong(t *testing.T) {
	set := modelstest.Find(t)
	r, err := New(set, Options{Phrases: lexicon(t)[:40], Say: say})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	seg := audio.Segment{Samples: audiotest.Prompt(t, "digits/7")}
	listen := func(n int) float64 {
		for range n {
			if _, err := r.Recognise(context.Background(), seg); err != nil {
				t.Fatal(err)
			}
		}
		debug.FreeOSMemory()
		return resident(t)
	}
	before := listen(60) // arenas and caches fill up
	after := listen(200 / (1 + shorter))
	t.Logf("%.1f MB, %.1f MB after more recognitions", before, after)
	if after > before+recognisingMayAdd {
		t.Errorf("recognitions took %.1f MB more", after-before)
	}
	reopen := func(n int) float64 {
		for range n {
			other, err := New(set, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if err := other.Close(); err != nil {
				t.Fatal(err)
			}
		}
		debug.FreeOSMemory()
		return resident(t)
	}
	before = reopen(10) // glibc settles only after several
	after = reopen(5)
	t.Logf("%.1f MB, %.1f MB after opening and closing 5 more", before, after)
	if after > before+openingMayAdd {
		t.Errorf("opening and closing took %.1f MB more", after-before)
	}
}
