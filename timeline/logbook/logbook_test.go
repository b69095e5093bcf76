package logbook_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"sidetone/audio/transcript"
	"sidetone/rules"
	"sidetone/timeline"
	"sidetone/timeline/logbook"
)

func open(t testing.TB, dir string) *logbook.Book {
	t.Helper()
	b, err := logbook.Open(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	return b
}

func add(t testing.TB, b *logbook.Book, l logbook.Lesson, files ...logbook.File) int64 {
	t.Helper()
	id, _, err := b.Add(t.Context(), l, files)
	if err != nil {
		t.Fatal(err)
	}
	return id
}

func note(text string) logbook.Fact {
	at := 1.5
	return logbook.Fact{Key: uuid.NewString(), Kind: logbook.KindNote, Author: "Robin", Text: text, At: &at}
}

func TestFactsAreThereAfterReopening(t *testing.T) {
	dir := t.TempDir()
	b := open(t, dir)
	id := add(t, b, logbook.Lesson{Title: "Slow flight"})
	kept, fresh, err := b.Append(t.Context(), id, note("look up"))
	if err != nil || !fresh || kept.Number != 1 || time.Since(kept.Written) > time.Minute {
		t.Fatalf("kept %+v, fresh %v, %v", kept, fresh, err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	facts, err := open(t, dir).Facts(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]logbook.Fact{kept}, facts); d != "" {
		t.Error(d)
	}
}

func TestTheSameFactSentTwiceIsKeptOnce(t *testing.T) {
	b := open(t, t.TempDir())
	id := add(t, b, logbook.Lesson{})
	f := note("once")
	first, _, _ := b.Append(t.Context(), id, f)
	f.Text = "changed on the way"
	second, fresh, err := b.Append(t.Context(), id, f)
	if err != nil || fresh || second.Text != "once" || second.Number != first.Number {
		t.Errorf("again it gave %+v, fresh %v, %v", second, fresh, err)
	}
}

func TestWritersAtOnceLoseNothing(t *testing.T) {
	dir := t.TempDir()
	// Two programs on one logbook, each with several writers.
	books := []*logbook.Book{open(t, dir), open(t, dir)}
	id := add(t, books[0], logbook.Lesson{})
	var wg sync.WaitGroup
	const writers, each = 8, 10
	for w := range writers {
		wg.Go(func() {
			for range each {
				if _, _, err := books[w%2].Append(t.Context(), id, note("n")); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	facts, err := books[0].Facts(t.Context(), id)
	if err != nil || len(facts) != writers*each {
		t.Fatalf("%d facts, %v", len(facts), err)
	}
	for i, f := range facts {
		if f.Number != i+1 {
			t.Fatalf("fact %d is numbered %d", i+1, f.Number)
		}
	}
}

func TestFactsThatCannotBeKept(t *testing.T) {
	b := open(t, t.TempDir())
	id := add(t, b, logbook.Lesson{})
	m := &logbook.Maneuver{Procedure: "steep-turns", Start: 1}
	at, word := -1.0, -1
	for name, f := range map[string]logbook.Fact{
		"without an author":                  {Kind: logbook.KindNote, Text: "x", Maneuver: m},
		"a verdict on no step":               {Kind: logbook.KindVerdict, Author: "R", Hand: logbook.Accept, Maneuver: m},
		"overruled without a reason":         {Kind: logbook.KindVerdict, Author: "R", Hand: logbook.Overrule, Verdict: rules.Heard, Maneuver: m, Step: "s"},
		"overruled to no verdict":            {Kind: logbook.KindVerdict, Author: "R", Hand: logbook.Overrule, Verdict: "fine", Reason: "r", Maneuver: m, Step: "s"},
		"a hand there is none of":            {Kind: logbook.KindVerdict, Author: "R", Hand: "clap", Maneuver: m, Step: "s"},
		"a call at no time":                  {Kind: logbook.KindCall, Author: "R", Callout: "trim"},
		"a note before the start":            {Kind: logbook.KindNote, Author: "R", Text: "x", At: &at},
		"a word before the first":            {Kind: logbook.KindWord, Author: "R", Text: "x", Word: &word},
		"an empty note":                      {Kind: logbook.KindNote, Author: "R", Text: "  ", Maneuver: m},
		"a note of nowhere":                  {Kind: logbook.KindNote, Author: "R", Text: "x"},
		"a note too long":                    {Kind: logbook.KindNote, Author: "R", Text: strings.Repeat("x", 9000), Maneuver: m},
		"the undoing of a fact yet to come":  {Kind: logbook.KindUndo, Author: "R", Undo: 1},
		"a tick at something not to work on": {Kind: logbook.KindWorkOn, Author: "R", Of: 7, Done: true},
		"a kind there is none of":            {Kind: "rumour", Author: "R"},
	} {
		f.Key = uuid.NewString()
		if _, _, err := b.Append(t.Context(), id, f); !errors.Is(err, logbook.ErrFact) {
			t.Errorf("%s: %v", name, err)
		}
	}
	f := note("x")
	f.Key = "1"
	if _, _, err := b.Append(t.Context(), id, f); !errors.Is(err, logbook.ErrFact) {
		t.Errorf("without a key: %v", err)
	}
	if _, _, err := b.Append(t.Context(), id+1, note("x")); !errors.Is(err, logbook.ErrNoLesson) {
		t.Errorf("of a lesson there is none of: %v", err)
	}
	if facts, _ := b.Facts(t.Context(), id); len(facts) != 0 {
		t.Errorf("%d were kept all the same", len(facts))
	}
}

func TestUndoingAnUndoingBringsBack(t *testing.T) {
	undo := func(n int) logbook.Fact { return logbook.Fact{Kind: logbook.KindUndo, Undo: n} }
	for name, c := range map[string]struct {
		facts []logbook.Fact
		want  []bool
	}{
		"nothing undone":                   {[]logbook.Fact{note("a"), note("b")}, []bool{true, true}},
		"the first undone":                 {[]logbook.Fact{note("a"), note("b"), undo(1)}, []bool{false, true, true}},
		"undone and brought back":          {[]logbook.Fact{note("a"), undo(1), undo(2)}, []bool{true, false, true}},
		"and undone once more":             {[]logbook.Fact{note("a"), undo(1), undo(2), undo(3)}, []bool{false, true, false, true}},
		"undone twice, one of them undone": {[]logbook.Fact{note("a"), undo(1), undo(1), undo(2)}, []bool{false, false, true, true}},
	} {
		if got := logbook.Standing(c.facts); !cmp.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}

func TestAManeuverIsFoundAgainAfterItMoved(t *testing.T) {
	tl := &timeline.Timeline{Maneuvers: []rules.Assessment{
		{Procedure: "steep-turns", Start: 100, End: 160}, {Procedure: "slow-flight", Start: 130, End: 150}, {Procedure: "steep-turns", Start: 200, End: 260}}}
	for _, c := range []struct {
		procedure string
		start     float64
		want      int
	}{{"steep-turns", 100, 0}, {"steep-turns", 80, 0}, {"steep-turns", 195, 2}, {"slow-flight", 100, 1}, {"slow-flight", 69, -1}, {"steep-turns", 321, -1}, {"landing", 100, -1}} {
		if got := (logbook.Maneuver{Procedure: c.procedure, Start: c.start}).Find(tl); got != c.want {
			t.Errorf("%s at %v is maneuver %d, want %d", c.procedure, c.start, got, c.want)
		}
	}
}

func TestCorrectedWordsKeepTheirPlaces(t *testing.T) {
	heard := []transcript.Utterance{
		{Start: 1, End: 3, Text: "carve ye on", Words: []transcript.Word{{Text: "carve", Start: 1, End: 1.5}, {Text: "ye", Start: 1.5, End: 1.8}, {Text: "on", Start: 2, End: 3, Confidence: .9}}},
		{Start: 5, End: 6, Text: "um trim", Words: []transcript.Word{{Text: "um", Start: 5, End: 5.2}, {Text: "trim", Start: 5.2, End: 6}}},
	}
	word := func(n int, text string) logbook.Fact {
		return logbook.Fact{Kind: logbook.KindWord, Word: &n, Text: text}
	}
	facts := []logbook.Fact{word(0, "carp"), word(0, "carb"), word(1, "heat"), word(3, ""), word(4, "trim set"), word(2, "off"), {Kind: logbook.KindUndo, Undo: 6}}
	got := logbook.Correct(heard, logbook.Corrections(facts))
	if got.Utterances[0].Text != "carb heat on" || got.Utterances[1].Text != "trim set" {
		t.Fatalf("%+v", got.Utterances)
	}
	w := got.Utterances[0].Words
	if w[0].Start != 1 || w[0].End != 1.5 || w[0].Confidence != 1 || w[2].Confidence != .9 {
		t.Errorf("%+v", w)
	}
	if w := got.Utterances[1].Words; len(w) != 2 || w[0].Start != 5.2 || w[1].End != 6 || w[0].End > w[1].Start || w[0].Estimated {
		t.Errorf("%+v", w)
	}
	if heard[0].Text != "carve ye on" || heard[0].Words[0].Text != "carve" {
		t.Error("what was heard was changed")
	}
}

func file(t testing.TB, path, content string) logbook.File {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
		t.Fatal(err)
	}
	f, err := logbook.Look(path)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestAMovedRecordingIsFoundByItsContent(t *testing.T) {
	for _, to := range []string{"flights/renamed.wav", "flights/may/a.wav", "may/a.wav", "a.wav", "archive/old/a.wav"} {
		dir := t.TempDir()
		b := open(t, filepath.Join(dir, "book"))
		from := filepath.Join(dir, "flights", "a.wav")
		id := add(t, b, logbook.Lesson{}, file(t, from, "one lesson"))
		add(t, b, logbook.Lesson{}, file(t, filepath.Join(dir, "archive", "old", "other.wav"), "other one!"))
		if got, ok, err := b.Recording(t.Context(), id); err != nil || !ok || got[0] != from {
			t.Fatalf("before: %v %v %v", got, ok, err)
		}
		moved := filepath.Join(dir, filepath.FromSlash(to))
		if err := os.MkdirAll(filepath.Dir(moved), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.Rename(from, moved); err != nil {
			t.Fatal(err)
		}
		file(t, from, "no lesson!") // as long, and in its place
		got, ok, err := b.Recording(t.Context(), id)
		if err != nil || !ok || got[0] != moved {
			t.Errorf("moved to %s: %v %v %v", to, got, ok, err)
		}
		os.Remove(moved)
		if _, ok, _ := b.Recording(t.Context(), id); ok {
			t.Errorf("%s was deleted and is found", to)
		}
	}
}

func TestALargeFileIsKnownByItsBlocks(t *testing.T) {
	dir := t.TempDir()
	content := []byte(strings.Repeat("0123456789abcdef", 6<<20/16))
	a := file(t, filepath.Join(dir, "a"), string(content))
	if b := file(t, filepath.Join(dir, "b"), string(content)); a.Digest != b.Digest {
		t.Error("the same content has two digests")
	}
	for _, at := range []int{0, len(content) - 1, len(content) / 2} {
		content[at] ^= 1
		// The middle block of an even number lies beside the middle.
		if b := file(t, filepath.Join(dir, "b"), string(content)); a.Digest == b.Digest && at != len(content)/2 {
			t.Errorf("another byte at %d is not seen", at)
		}
		content[at] ^= 1
	}
	if b := file(t, filepath.Join(dir, "b"), string(content[:len(content)-1])); a.Digest == b.Digest {
		t.Error("another size is not seen")
	}
}

func TestARecordingIsAddedOnce(t *testing.T) {
	b := open(t, t.TempDir())
	f := file(t, filepath.Join(t.TempDir(), "a.wav"), "lesson")
	first := add(t, b, logbook.Lesson{Title: "a"}, f)
	second, known, err := b.Add(t.Context(), logbook.Lesson{Title: "b"}, []logbook.File{f})
	if err != nil || !known || second != first {
		t.Errorf("lesson %d, known %v, %v", second, known, err)
	}
}

func TestALogbookOfANewerProgramIsRefused(t *testing.T) {
	dir := t.TempDir()
	b := open(t, dir)
	if err := logbook.Pretend(b, 99); err != nil {
		t.Fatal(err)
	}
	b.Close()
	if _, err := logbook.Open(context.Background(), dir); err == nil || !strings.Contains(err.Error(), "newer") {
		t.Errorf("opened with %v", err)
	}
}

func TestWhatWasWrittenCannotBeChanged(t *testing.T) {
	b := open(t, t.TempDir())
	id := add(t, b, logbook.Lesson{})
	if _, _, err := b.Append(t.Context(), id, note("n")); err != nil {
		t.Fatal(err)
	}
	if err := b.SetHearing(t.Context(), id, logbook.Hearing{Debrief: []byte("{}")}); err != nil {
		t.Fatal(err)
	}
	for _, s := range []string{`UPDATE facts SET author = 'x'`, `DELETE FROM facts`, `UPDATE hearings SET machine = x'00'`} {
		if err := logbook.Tamper(b, s); err == nil {
			t.Errorf("%s was done", s)
		}
	}
	if err := b.SetHearing(t.Context(), id, logbook.Hearing{Debrief: []byte("{}")}); err == nil {
		t.Error("a lesson was heard twice")
	}
}

func TestACoverSaysWhatWasPutRightLast(t *testing.T) {
	b := open(t, t.TempDir())
	id := add(t, b, logbook.Lesson{Title: "Slow flight", Aircraft: "ours", Source: "id: ours"})
	put := func(c logbook.Cover) int {
		t.Helper()
		f, _, err := b.Append(t.Context(), id, logbook.Fact{Key: uuid.NewString(), Kind: logbook.KindCover, Author: "Robin", Cover: &c})
		if err != nil {
			t.Fatal(err)
		}
		return f.Number
	}
	now := func(title, student, aircraft, source string) {
		t.Helper()
		l, err := b.Lesson(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		if l.Title != title || l.Student != student || l.Aircraft != aircraft || l.Source != source {
			t.Errorf("it says %q, %q, %q, %q", l.Title, l.Student, l.Aircraft, l.Source)
		}
		if g := l.AsGiven(); g.Title != "Slow flight" || g.Student != "" || g.Aircraft != "ours" || g.Source != "id: ours" {
			t.Errorf("at first it is to have said %+v", g)
		}
	}
	sam, kim, complex, ours := "Sam", "Kim", "complex", "ours"
	put(logbook.Cover{Student: &sam})
	now("Slow flight", "Sam", "ours", "id: ours")
	second := put(logbook.Cover{Student: &kim, Aircraft: &complex})
	now("Slow flight", "Kim", "complex", "") // its own description was of the other aircraft
	put(logbook.Cover{Aircraft: &ours})
	now("Slow flight", "Kim", "ours", "id: ours")
	if _, _, err := b.Append(t.Context(), id, logbook.Fact{Key: uuid.NewString(), Kind: logbook.KindUndo, Author: "Robin", Undo: second}); err != nil {
		t.Fatal(err)
	}
	now("Slow flight", "Sam", "ours", "id: ours")
}

func TestALessonIsListenedToByOneAtATime(t *testing.T) {
	b := open(t, t.TempDir())
	id := add(t, b, logbook.Lesson{Title: "Slow flight"})
	claim := func(listener string, long time.Duration, want bool) {
		t.Helper()
		if got, err := b.Claim(t.Context(), id, listener, long); err != nil || got != want {
			t.Errorf("%s: %v, %v; want %v", listener, got, err, want)
		}
	}
	claim("one", time.Hour, true)
	claim("two", time.Hour, false)
	claim("one", time.Millisecond, true) // goes on, and is killed
	time.Sleep(20 * time.Millisecond)
	claim("two", time.Hour, true)
	if err := b.Unclaim(t.Context(), id, "one"); err != nil {
		t.Fatal(err)
	}
	claim("one", time.Hour, false)
	if err := b.Unclaim(t.Context(), id, "two"); err != nil {
		t.Fatal(err)
	}
	claim("one", time.Hour, true)
	if err := b.SetHearing(t.Context(), id, logbook.Hearing{Debrief: []byte("{}")}); err != nil {
		t.Fatal(err)
	}
	claim("one", time.Hour, false) // nothing is left to listen to
}
