package hear_test

import (
	"context"
	"errors"
	"math"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"sidetone/audio"
	"sidetone/audio/audiotest"
	"sidetone/audio/hear"
	"sidetone/audio/speech"
	"sidetone/audio/transcript"
)

// loud is a detector to whom whatever sounds is speech.
type loud struct{ closed *atomic.Int32 }

func (loud) Probability(window []float32) (float32, error) {
	for _, v := range window {
		if v > 0.01 || v < -0.01 {
			return 1, nil
		}
	}
	return 0, nil
}

func (l loud) Close() error {
	if l.closed != nil {
		l.closed.Add(1)
	}
	return nil
}

func loudness() (hear.Detector, error) { return loud{}, nil }

// echo is a recogniser that says how loud a segment is, in hundredths.
type echo struct {
	pause func(audio.Segment) error
}

func (e echo) Recognise(ctx context.Context, seg audio.Segment) (transcript.Utterance, error) {
	u := transcript.Utterance{Start: seg.Start, End: seg.End(), Channel: seg.Channel}
	if e.pause != nil {
		if err := e.pause(seg); err != nil {
			return u, err
		}
	}
	peak := 0.0
	for _, v := range seg.Samples {
		peak = max(peak, math.Abs(float64(v)))
	}
	names := map[int]string{10: "ten", 20: "twenty", 30: "thirty", 40: "forty"}
	if name := names[int(math.Round(100*peak))]; name != "" {
		u.Text, u.Words = name, []transcript.Word{{Text: name, Start: u.Start, End: u.End, Confidence: 1}}
	}
	return u, nil
}

func (echo) Close() error { return nil }

// sound is seconds long and at each time sounds for a second, five syllables,
// with that level and a pitch by it.
func sound(seconds float64, at map[float64]float64) []float32 {
	const syllable = audio.Rate / 5
	x := make([]float32, int(seconds*audio.Rate))
	for from, level := range at {
		for i := range audio.Rate {
			if i%syllable < syllable*3/4 {
				x[int(from*audio.Rate)+i] = float32(level * math.Sin(2*math.Pi*(300+2000*level)*(float64(i)+0.5)/audio.Rate))
			}
		}
	}
	return x
}

func texts(us []transcript.Utterance) []string {
	var out []string
	for _, u := range us {
		out = append(out, u.Text)
	}
	return out
}

// eachSound cuts at short pauses, so that each sound is a segment.
var eachSound = func() speech.Cutting {
	c := speech.DefaultCutting
	c.Pause = 0.4
	return c
}()

func listen(t *testing.T, path string, opt hear.Options) *hear.Result {
	t.Helper()
	if opt.Detectors == nil {
		opt.Detectors = loudness
	}
	if opt.Recogniser == nil {
		opt.Recogniser = echo{}
	}
	opt.Cutting = eachSound
	res, err := hear.Listen(context.Background(), path, opt)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

func TestEachChannelIsHeardByItself(t *testing.T) {
	path := audiotest.WriteWAV(t,
		sound(12, map[float64]float64{1: 0.1, 5: 0.2}),
		sound(12, map[float64]float64{3: 0.3, 5.2: 0.4}))
	res := listen(t, path, hear.Options{Speakers: map[int]string{0: "student", 1: "instructor"}})
	var got []string
	for _, u := range res.Transcript.Utterances {
		got = append(got, u.Speaker+" "+u.Text)
	}
	want := []string{"student ten", "instructor thirty", "student twenty", "instructor forty"}
	if !slices.Equal(got, want) {
		t.Errorf("heard %q, want %q", got, want)
	}
	for i, at := range []float64{1, 3, 5, 5.2} {
		if u := res.Transcript.Utterances[i]; u.Channel != i%2 || u.Start > at || u.Start < at-0.3 || u.End < at+0.95 || u.End > at+1.3 {
			t.Errorf("%q is on channel %d from %.2f to %.2f", u.Text, u.Channel, u.Start, u.End)
		}
	}
	if res.Duration != 12 || res.Speech < 4 || res.Speech > 6.5 {
		t.Errorf("%.2f s read, %.2f s of speech", res.Duration, res.Speech)
	}
}

func TestChannelsThatAreCopiesAreHeardOnce(t *testing.T) {
	one := sound(8, map[float64]float64{1: 0.1, 4: 0.2})
	res := listen(t, audiotest.WriteWAV(t, one, slices.Clone(one)), hear.Options{})
	if got := texts(res.Transcript.Utterances); !slices.Equal(got, []string{"ten", "twenty"}) {
		t.Errorf("heard %q", got)
	}
}

func TestOnlyTheChannelsAskedForAreHeard(t *testing.T) {
	path := audiotest.WriteWAV(t,
		sound(6, map[float64]float64{1: 0.1}), sound(6, map[float64]float64{3: 0.3}))
	for _, c := range []struct {
		name     string
		channels []int
		want     []string
	}{
		{"the first", []int{0}, []string{"ten"}},
		{"the second", []int{1}, []string{"thirty"}},
		{"both", []int{0, 1}, []string{"ten", "thirty"}},
		{"both, the second first", []int{1, 0}, []string{"ten", "thirty"}},
		{"none named is all found", []int{}, []string{"ten", "thirty"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			res := listen(t, path, hear.Options{Channels: c.channels})
			if got := texts(res.Transcript.Utterances); !slices.Equal(got, c.want) {
				t.Errorf("heard %q, want %q", got, c.want)
			}
		})
	}
	for _, bad := range []int{-1, 2} {
		_, err := hear.Listen(context.Background(), path, hear.Options{Channels: []int{bad}, Detectors: loudness, Recogniser: echo{}})
		if err == nil || !strings.Contains(err.Error(), "there is no channel") {
			t.Errorf("channel %d: %v", bad, err)
		}
	}
}

func TestUtterancesAreInTheOrderTheyWereSaidWhateverTakesLonger(t *testing.T) {
	at := map[float64]float64{}
	for i := range 10 {
		at[1+2*float64(i)] = 0.1 * float64(i%4+1)
	}
	var n atomic.Int32
	slow := echo{pause: func(audio.Segment) error {
		if n.Add(1)%2 == 1 {
			time.Sleep(20 * time.Millisecond)
		}
		return nil
	}}
	for _, workers := range []int{0, 1, 4} {
		res := listen(t, audiotest.WriteWAV(t, sound(22, at)), hear.Options{Recogniser: slow, Workers: workers})
		want := []string{"ten", "twenty", "thirty", "forty", "ten", "twenty", "thirty", "forty", "ten", "twenty"}
		if got := texts(res.Transcript.Utterances); !slices.Equal(got, want) {
			t.Errorf("with %d workers heard %q", workers, got)
		}
	}
}

func TestAsManySegmentsAreRecognisedAtOnceAsAsked(t *testing.T) {
	at := map[float64]float64{}
	for i := range 8 {
		at[1+2*float64(i)] = 0.1
	}
	for _, workers := range []int{1, 3} {
		var now, most atomic.Int32
		busy := echo{pause: func(audio.Segment) error {
			n := now.Add(1)
			for m := most.Load(); n > m && !most.CompareAndSwap(m, n); m = most.Load() {
			}
			// Until as many are at it as were asked for: a busy machine brings them late.
			for late := time.Now().Add(3 * time.Second); int(most.Load()) < workers && time.Now().Before(late); {
				time.Sleep(time.Millisecond)
			}
			time.Sleep(20 * time.Millisecond) // and for one too many
			now.Add(-1)
			return nil
		}}
		listen(t, audiotest.WriteWAV(t, sound(18, at)), hear.Options{Recogniser: busy, Workers: workers})
		if int(most.Load()) != workers {
			t.Errorf("%d at once, asked for %d", most.Load(), workers)
		}
	}
}

func TestWhatIsNotUnderstoodIsNoUtterance(t *testing.T) {
	res := listen(t, audiotest.WriteWAV(t, sound(8, map[float64]float64{1: 0.55, 4: 0.2})), hear.Options{})
	if got := texts(res.Transcript.Utterances); !slices.Equal(got, []string{"twenty"}) {
		t.Errorf("heard %q", got)
	}
	if res.Speech < 2 {
		t.Errorf("%.2f s of speech: what is not understood is speech too", res.Speech)
	}
}

func TestSilenceHasNoWords(t *testing.T) {
	res := listen(t, audiotest.WriteWAV(t, make([]float32, 5*audio.Rate)), hear.Options{})
	if len(res.Transcript.Utterances) > 0 || res.Speech != 0 || res.Duration != 5 {
		t.Errorf("%+v, %.2f s of speech in %.2f s", res.Transcript, res.Speech, res.Duration)
	}
}

func TestProgressOnlyGoesOnAndReachesTheEnd(t *testing.T) {
	path := audiotest.WriteWAV(t,
		sound(30, map[float64]float64{1: 0.1, 10: 0.2}), sound(30, map[float64]float64{20: 0.3}))
	var told []hear.Progress
	res := listen(t, path, hear.Options{Progress: func(p hear.Progress) { told = append(told, p) }})
	if len(told) < 10 {
		t.Fatalf("told %d times of 30 s", len(told))
	}
	for i := 1; i < len(told); i++ {
		a, b := told[i-1], told[i]
		if b.Position < a.Position || b.Speech < a.Speech || b.Elapsed < a.Elapsed {
			t.Errorf("after %+v came %+v", a, b)
		}
	}
	for _, p := range told {
		if p.Duration != 30 || p.Position > 30 {
			t.Errorf("%+v of 30 s", p)
		}
	}
	if told[0].Stage != "looking at the channels" {
		t.Errorf("first told %+v", told[0])
	}
	if last := told[len(told)-1]; last.Position != 30 || last.Speech != res.Speech || last.Stage != "listening" {
		t.Errorf("last told %+v, result has %.2f s of speech", last, res.Speech)
	}
}

// leakless checks that nothing f started is left, then or a moment later.
func leakless(t *testing.T, f func()) {
	t.Helper()
	before := runtime.NumGoroutine()
	f()
	for range 100 {
		if runtime.NumGoroutine() <= before {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	b := make([]byte, 1<<16)
	t.Errorf("%d goroutines before, %d after:\n%s", before, runtime.NumGoroutine(), b[:runtime.Stack(b, true)])
}

// long is a recording of five minutes with something said in its first seconds.
func long(t *testing.T) string {
	x := sound(300, map[float64]float64{1: 0.1, 3: 0.2})
	return audiotest.WriteWAV(t, x)
}

func TestTheRecognisersErrorIsGivenBackWithoutReadingOn(t *testing.T) {
	path := long(t)
	deaf := errors.New("deaf")
	leakless(t, func() {
		var closed atomic.Int32
		read := 0.0
		failed := make(chan struct{})
		var once sync.Once
		_, err := hear.Listen(context.Background(), path, hear.Options{
			Recogniser: echo{pause: func(audio.Segment) error {
				once.Do(func() { close(failed) })
				return deaf
			}},
			Detectors: func() (hear.Detector, error) { return loud{&closed}, nil },
			Progress: func(p hear.Progress) {
				if read = p.Position; read > 10 { // the recogniser has had its segment by now
					<-failed
					time.Sleep(5 * time.Millisecond)
				}
			},
		})
		if !errors.Is(err, deaf) {
			t.Errorf("the error is %v", err)
		}
		if read > 60 {
			t.Errorf("read on to %.0f s after the recogniser failed in the first seconds", read)
		}
		if closed.Load() != 1 {
			t.Errorf("%d detectors closed", closed.Load())
		}
	})
}

func TestACancelledListeningEndsPromptly(t *testing.T) {
	path := long(t)
	leakless(t, func() {
		ctx, cancel := context.WithCancel(context.Background())
		defer cancel()
		read := 0.0
		_, err := hear.Listen(ctx, path, hear.Options{Recogniser: echo{}, Detectors: loudness, Progress: func(p hear.Progress) {
			if read = p.Position; read > 5 {
				cancel()
			}
		}})
		if !errors.Is(err, context.Canceled) {
			t.Errorf("the error is %v", err)
		}
		if read > 7 {
			t.Errorf("read on to %.0f s", read)
		}
	})
}

// waiting is a recogniser that goes on until it is cancelled.
type waiting struct{ echo }

func (waiting) Recognise(ctx context.Context, seg audio.Segment) (transcript.Utterance, error) {
	<-ctx.Done()
	return transcript.Utterance{}, ctx.Err()
}

func TestCancellingReachesTheRecogniserAtWork(t *testing.T) {
	path := audiotest.WriteWAV(t, sound(6, map[float64]float64{1: 0.1}))
	leakless(t, func() {
		why := errors.New("enough")
		ctx, cancel := context.WithCancelCause(context.Background())
		time.AfterFunc(50*time.Millisecond, func() { cancel(why) })
		_, err := hear.Listen(ctx, path, hear.Options{Recogniser: waiting{}, Detectors: loudness})
		if !errors.Is(err, why) {
			t.Errorf("the error is %v", err)
		}
	})
}

func TestABeforehandCancelledListeningReadsNothing(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	path := audiotest.WriteWAV(t, sound(6, nil))
	if _, err := hear.Listen(ctx, path, hear.Options{Recogniser: echo{}, Detectors: loudness}); !errors.Is(err, context.Canceled) {
		t.Errorf("the error is %v", err)
	}
}

// failing is a detector that fails after a hundred windows.
type failing struct {
	loud
	n int
}

var errFailing = errors.New("no more windows")

func (f *failing) Probability(w []float32) (float32, error) {
	if f.n++; f.n > 100 {
		return 0, errFailing
	}
	return f.loud.Probability(w)
}

func TestADetectorsErrorIsGivenBackAndStopsTheRecogniser(t *testing.T) {
	path := audiotest.WriteWAV(t, sound(10, map[float64]float64{1: 0.1}))
	leakless(t, func() {
		_, err := hear.Listen(context.Background(), path, hear.Options{
			Recogniser: waiting{}, // ends only when it is told to
			Detectors:  func() (hear.Detector, error) { return &failing{}, nil },
		})
		if !errors.Is(err, errFailing) {
			t.Errorf("the error is %v", err)
		}
	})
}

func TestDetectorsMadeBeforeOneThatFailsAreClosed(t *testing.T) {
	path := audiotest.WriteWAV(t, sound(3, map[float64]float64{1: 0.1}), sound(3, map[float64]float64{0: 0.3}))
	var made, closed atomic.Int32
	none := errors.New("no model")
	_, err := hear.Listen(context.Background(), path, hear.Options{Recogniser: echo{}, Channels: []int{0, 1},
		Detectors: func() (hear.Detector, error) {
			if made.Add(1) == 2 {
				return nil, none
			}
			return loud{&closed}, nil
		}})
	if !errors.Is(err, none) || closed.Load() != 1 {
		t.Errorf("error %v, %d closed", err, closed.Load())
	}
}

func TestWhatIsNoRecordingIsAnErrorWithItsName(t *testing.T) {
	_, err := hear.Listen(context.Background(), filepath.Join(t.TempDir(), "none.wav"), hear.Options{Recogniser: echo{}, Detectors: loudness})
	if err == nil || !strings.Contains(err.Error(), "none.wav") {
		t.Errorf("the error is %v", err)
	}
}

func TestWhatComesThroughToTheOtherSeatIsTakenOnce(t *testing.T) {
	path := audiotest.WriteWAV(t,
		sound(12, map[float64]float64{1: 0.4, 5: 0.3}),
		sound(12, map[float64]float64{1: 0.1, 8: 0.4})) // the first is 12 dB fainter here, and misheard as "ten"
	res := listen(t, path, hear.Options{Speakers: map[int]string{0: "student", 1: "instructor"}})
	var got []string
	for _, u := range res.Transcript.Utterances {
		got = append(got, u.Speaker+" "+u.Text)
	}
	if want := []string{"student forty", "student thirty", "instructor forty"}; !slices.Equal(got, want) || res.Crosstalk != (hear.Crosstalk{Words: 1}) {
		t.Errorf("heard %q, %+v; want %q", got, res.Crosstalk, want)
	}
}
