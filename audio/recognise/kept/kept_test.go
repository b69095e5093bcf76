package kept

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"sidetone/audio"
	"sidetone/audio/recognise"
	"sidetone/audio/transcript"
)

// counting is a recogniser that says how long a segment is, and counts.
type counting struct {
	asked, closed *atomic.Int32
	err           error
}

func (c counting) Recognise(_ context.Context, seg audio.Segment) (transcript.Utterance, error) {
	c.asked.Add(1)
	u := transcript.Utterance{Start: seg.Start, End: seg.End(), Channel: seg.Channel}
	if c.err != nil || len(seg.Samples) == 16000 { // a second is not understood
		return u, c.err
	}
	third := (seg.End() - seg.Start) / 3
	u.Text = "carb heat"
	u.Words = []transcript.Word{
		{Text: "carb", Start: seg.Start, End: seg.Start + third, Confidence: 0.9},
		{Text: "heat", Start: seg.Start + third, End: seg.Start + 2*third, Confidence: 1.0 / 3},
	}
	return u, nil
}

func (c counting) Close() error { c.closed.Add(1); return nil }

func segment(start float64, n int, level float32) audio.Segment {
	s := audio.Segment{Channel: 1, Start: start, Samples: make([]float32, n)}
	for i := range s.Samples {
		s.Samples[i] = level * float32(i%7)
	}
	return s
}

// rig is a recogniser over a store, and how often the one beneath was opened and
// asked.
type rig struct {
	*Recogniser
	opened, asked, closed atomic.Int32
}

func newRig(store *Store, settings string, fresh bool, err error) *rig {
	r := &rig{}
	r.Recogniser = New(store, settings, fresh, func() (recognise.Recogniser, error) {
		r.opened.Add(1)
		return counting{&r.asked, &r.closed, err}, nil
	})
	return r
}

func open(t *testing.T, dir string, limit int64) *Store {
	t.Helper()
	s, err := Open(dir, limit)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func hear(t *testing.T, r *rig, seg audio.Segment) transcript.Utterance {
	t.Helper()
	u, err := r.Recognise(context.Background(), seg)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

func TestWhatIsKnownIsNotAskedAgain(t *testing.T) {
	store := open(t, t.TempDir(), Limit)
	first := newRig(store, "tiny", false, nil)
	segments := []audio.Segment{segment(3.25, 9000, 0.1), segment(100.1, 16000, 0.1), segment(7, 9001, 0.1)}
	var heard []transcript.Utterance
	for _, s := range segments {
		heard = append(heard, hear(t, first, s))
	}
	if heard[0].Text != "carb heat" || heard[0].Channel != 1 || math.Abs(heard[0].Words[1].Start-3.4375) > 1e-6 || len(heard[1].Words) != 0 {
		t.Errorf("heard %+v", heard)
	}
	again := newRig(store, "tiny", false, nil)
	for i, s := range segments {
		if u := hear(t, again, s); !reflect.DeepEqual(u, heard[i]) {
			t.Errorf("known as %+v, heard as %+v", u, heard[i])
		}
	}
	if again.opened.Load() != 0 || again.asked.Load() != 0 || again.Tally() != (Tally{Known: 3}) {
		t.Errorf("opened %d times, asked %d, %+v", again.opened.Load(), again.asked.Load(), again.Tally())
	}
	// The same sound elsewhere in a recording, or in another, is the same words then.
	if u := hear(t, again, segment(50, 9000, 0.1)); math.Abs(u.Words[0].Start-50) > 1e-9 || again.asked.Load() != 0 {
		t.Errorf("the same sound at 50 s is %+v", u)
	}
	if first.Close() != nil || again.Close() != nil || first.closed.Load() != 1 || again.closed.Load() != 0 {
		t.Errorf("closed %d and %d times", first.closed.Load(), again.closed.Load())
	}
}

func TestAnythingThatDecidesTheWordsMakesAnotherPiece(t *testing.T) {
	store := open(t, t.TempDir(), Limit)
	hear(t, newRig(store, "tiny", false, nil), segment(0, 9000, 0.1))
	for name, c := range map[string]struct {
		settings string
		seg      audio.Segment
	}{
		"another model":          {"base", segment(0, 9000, 0.1)},
		"no settings":            {"", segment(0, 9000, 0.1)},
		"one sample more":        {"tiny", segment(0, 9001, 0.1)},
		"a sound a hair louder":  {"tiny", segment(0, 9000, math.Nextafter32(0.1, 1))},
		"settings and sound run": {"tin", segment(0, 9000, 0.1)},
	} {
		r := newRig(store, c.settings, false, nil)
		if hear(t, r, c.seg); r.asked.Load() != 1 {
			t.Errorf("%s: asked %d times", name, r.asked.Load())
		}
	}
}

func TestFreshUsesNothingAndReplacesIt(t *testing.T) {
	store := open(t, t.TempDir(), Limit)
	s := segment(0, 9000, 0.1)
	hear(t, newRig(store, "tiny", false, nil), s)
	wrong := []transcript.Word{{Text: "wrong", End: 0.1}}
	if err := store.Put(key("tiny", s.Samples), wrong); err != nil {
		t.Fatal(err)
	}
	r := newRig(store, "tiny", true, nil)
	if u := hear(t, r, s); u.Text != "carb heat" || r.Tally() != (Tally{Heard: 1}) {
		t.Errorf("heard %q, %+v", u.Text, r.Tally())
	}
	if u := hear(t, newRig(store, "tiny", false, nil), s); u.Text != "carb heat" {
		t.Errorf("after a fresh run %q is known", u.Text)
	}
}

// pieces are the files of a store.
func pieces(t *testing.T, dir string) (paths []string) {
	t.Helper()
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			paths = append(paths, path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return paths
}

func TestADamagedPieceIsNoticedAndHeardAgain(t *testing.T) {
	for name, damage := range map[string]func(b []byte) []byte{
		"empty, as after the power failed": func([]byte) []byte { return nil },
		"cut short":                        func(b []byte) []byte { return b[:len(b)-3] },
		"a bit turned over":                func(b []byte) []byte { b[len(b)-20] ^= 1; return b },
		"something else altogether":        func([]byte) []byte { return []byte("Dear diary\n") },
		"another version":                  func(b []byte) []byte { return bytes.Replace(b, []byte("words 1"), []byte("words 2"), 1) },
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			store := open(t, dir, Limit)
			s := segment(0, 9000, 0.1)
			hear(t, newRig(store, "tiny", false, nil), s)
			path := pieces(t, dir)[0]
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, damage(b), 0o600); err != nil {
				t.Fatal(err)
			}
			r := newRig(store, "tiny", false, nil)
			if u := hear(t, r, s); u.Text != "carb heat" || r.Tally() != (Tally{Heard: 1, Damaged: 1}) {
				t.Errorf("heard %q, %+v", u.Text, r.Tally())
			}
			whole := newRig(store, "tiny", false, nil)
			if hear(t, whole, s); whole.Tally() != (Tally{Known: 1}) {
				t.Errorf("after that %+v", whole.Tally())
			}
		})
	}
	t.Run("a piece under the name of another", func(t *testing.T) {
		dir := t.TempDir()
		store := open(t, dir, Limit)
		hear(t, newRig(store, "tiny", false, nil), segment(0, 9000, 0.1))
		from := pieces(t, dir)[0]
		to := store.path(key("tiny", segment(0, 8000, 0.1).Samples))
		if err := errors.Join(os.MkdirAll(filepath.Dir(to), 0o700), os.Rename(from, to)); err != nil {
			t.Fatal(err)
		}
		r := newRig(store, "tiny", false, nil)
		if hear(t, r, segment(0, 8000, 0.1)); r.Tally() != (Tally{Heard: 1, Damaged: 1}) {
			t.Errorf("%+v", r.Tally())
		}
	})
}

func TestErrorsOfTheRecogniserAreNotKept(t *testing.T) {
	dir := t.TempDir()
	deaf := errors.New("deaf")
	r := newRig(open(t, dir, Limit), "tiny", false, deaf)
	if _, err := r.Recognise(context.Background(), segment(0, 9000, 0.1)); !errors.Is(err, deaf) {
		t.Errorf("the error is %v", err)
	}
	if p := pieces(t, dir); len(p) > 0 {
		t.Errorf("kept %q", p)
	}
	closed := New(open(t, dir, Limit), "tiny", false, func() (recognise.Recogniser, error) { return nil, deaf })
	if _, err := closed.Recognise(context.Background(), segment(0, 9000, 0.1)); !errors.Is(err, deaf) {
		t.Errorf("a recogniser that does not open: %v", err)
	}
}

func TestAStoreThatCannotBeWrittenCostsNothingButTheKeeping(t *testing.T) {
	dir := t.TempDir()
	store := open(t, dir, Limit)
	s := segment(0, 9000, 0.1)
	// A file where the folder of the piece should be: not even root writes into it.
	if err := os.WriteFile(filepath.Dir(store.path(key("tiny", s.Samples))), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	r := newRig(store, "tiny", false, nil)
	if u := hear(t, r, s); u.Text != "carb heat" || r.Tally().Trouble == nil {
		t.Errorf("heard %q, %+v", u.Text, r.Tally())
	}
}

func TestTheOldestPiecesGoWhenThereIsNoRoom(t *testing.T) {
	dir := t.TempDir()
	store := open(t, dir, 40*4096)
	var keys []Key
	for i := range 60 {
		k := key("tiny", segment(0, 100+i, 0.1).Samples)
		if err := store.Put(k, nil); err != nil {
			t.Fatal(err)
		}
		used := time.Now().Add(time.Duration(i-100) * time.Hour)
		if err := os.Chtimes(store.path(k), used, used); err != nil {
			t.Fatal(err)
		}
		keys = append(keys, k)
	}
	if _, err := store.Get(keys[0]); err != nil { // used just now: the oldest no more
		t.Fatal(err)
	}
	for name, age := range map[string]time.Duration{"new-1": 2 * time.Hour, "new-2": 0} {
		path := filepath.Join(filepath.Dir(store.path(keys[5])), name)
		if err := os.WriteFile(path, nil, 0o600); err != nil {
			t.Fatal(err)
		}
		then := time.Now().Add(-age)
		if err := os.Chtimes(path, then, then); err != nil {
			t.Fatal(err)
		}
	}
	if err := store.Trim(); err != nil {
		t.Fatal(err)
	}
	for i, k := range keys {
		_, err := store.Get(k)
		if want := i == 0 || i >= 60-35; (err == nil) != want {
			t.Errorf("piece %d: %v", i, err)
		}
	}
	left := 0
	for _, p := range pieces(t, dir) {
		switch filepath.Base(p) {
		case "new-1":
			t.Error("what was left half-written two hours ago is still there")
		case "new-2":
			left++
		}
	}
	if left != 1 {
		t.Error("what is being written was taken away")
	}
}

func TestOnlyTheUserMayReadWhatIsKept(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "words")
	hear(t, newRig(open(t, dir, Limit), "tiny", false, nil), segment(0, 9000, 0.1))
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		st, err := d.Info()
		if err == nil && st.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s may be read by others: %v", path, st.Mode())
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestSeveralRunsAtOnceDoNotSpoilEachOther(t *testing.T) {
	dir := t.TempDir()
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			r := newRig(open(t, dir, 10*4096), "tiny", false, nil)
			for i := range 50 {
				if u, err := r.Recognise(context.Background(), segment(0, 9000+i, 0.1)); err != nil || u.Text != "carb heat" {
					t.Errorf("heard %q, %v", u.Text, err)
				}
			}
			if t1 := r.Tally(); t1.Known+t1.Heard != 50 || t1.Damaged > 0 || t1.Trouble != nil {
				t.Errorf("%+v", t1)
			}
			if err := r.Close(); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
}

// FuzzPiece reads pieces whatever they hold: words, or an error.
func FuzzPiece(f *testing.F) {
	k := Key{1, 2, 3}
	f.Add(encode(k, []transcript.Word{{Text: "carb", Start: 0.1, End: 0.4, Confidence: 0.9}}))
	f.Add(encode(k, nil))
	f.Add([]byte(form))
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, b []byte) {
		words, err := decode(b, k)
		if err != nil {
			if !errors.Is(err, ErrDamaged) {
				t.Errorf("%v does not wrap ErrDamaged", err)
			}
		} else if again := encode(k, words); len(again) == 0 {
			t.Error("nothing comes of it")
		}
		// A body somebody signed may still hold what no recogniser says.
		words, err = decode(append(append(append([]byte(form), sum(k, b)...), '\n'), b...), k)
		if err == nil && plausible(words, 10) == nil {
			for _, w := range words {
				if !(w.Start > -2 && w.End < 12) {
					t.Errorf("a word from %v to %v of 10 s", w.Start, w.End)
				}
			}
		}
	})
}

func BenchmarkKnown(b *testing.B) {
	store, err := Open(b.TempDir(), Limit)
	if err != nil {
		b.Fatal(err)
	}
	r := newRig(store, "tiny", false, nil)
	seg := segment(0, 5*16000, 0.1) // five seconds
	for b.Loop() {
		if _, err := r.Recognise(context.Background(), seg); err != nil {
			b.Fatal(err)
		}
	}
}
