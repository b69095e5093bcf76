package logbook_test

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"sidetone/timeline/logbook"
)

func TestARemovedLessonTakesItsOwnFilesAlongAndNoOthers(t *testing.T) {
	dir := t.TempDir()
	b := open(t, filepath.Join(dir, "library"))
	file := func(path, content string) logbook.File {
		if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
		f, err := logbook.Look(path)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	copied := func(content string) logbook.File { return file(filepath.Join(b.RecordingsDir(), content), content) }
	elsewhere := file(filepath.Join(dir, "flight.wav"), "flight")
	one, shared, other := copied("one"), copied("shared"), copied("other")
	gone := add(t, b, logbook.Lesson{Title: "gone"}, elsewhere, one, shared)
	l, err := b.Lesson(t.Context(), gone)
	if err != nil {
		t.Fatal(err)
	}
	sound := file(b.SoundPath(l.Digest, ".mp3"), "made of it")
	stays := add(t, b, logbook.Lesson{Title: "stays"}, shared, other)
	for _, id := range []int64{gone, stays} {
		if _, _, err := b.Append(t.Context(), id, note("said")); err != nil {
			t.Fatal(err)
		}
	}
	r, err := b.Remove(t.Context(), gone)
	if err != nil || r.Lesson.Title != "gone" || len(r.Copies) != 2 || len(r.Stays) != 1 || r.Stays[0].Path != elsewhere.Path {
		t.Errorf("%+v, %v", r, err)
	}
	for _, f := range []struct {
		logbook.File
		there bool
		what  string
	}{{elsewhere, true, "the recording elsewhere"}, {one, false, "the copy"}, {shared, true, "the copy another lesson has too"}, {other, true, "another lesson's copy"}, {sound, false, "the sound made of it"}} {
		if _, err := os.Stat(f.Path); (err == nil) != f.there {
			t.Errorf("%s: %v", f.what, err)
		}
	}
	if _, err := b.Lesson(t.Context(), gone); !errors.Is(err, logbook.ErrNoLesson) {
		t.Errorf("it is still there: %v", err)
	}
	if _, err := b.Remove(t.Context(), gone); !errors.Is(err, logbook.ErrNoLesson) {
		t.Errorf("again: %v", err)
	}
	if facts, err := b.Facts(t.Context(), stays); err != nil || len(facts) != 1 {
		t.Errorf("of the other lesson %d facts are left, %v", len(facts), err)
	}
}

func TestTheNumberOfARemovedLessonIsNotGivenAgain(t *testing.T) {
	b := open(t, t.TempDir())
	add(t, b, logbook.Lesson{Title: "first"})
	last := add(t, b, logbook.Lesson{Title: "last"})
	if _, err := b.Remove(t.Context(), last); err != nil {
		t.Fatal(err)
	}
	if next := add(t, b, logbook.Lesson{Title: "next"}); next == last {
		t.Errorf("the next lesson is number %d again", next)
	}
}

func TestNoFactGoesWhileItsLessonIsThere(t *testing.T) {
	b := open(t, t.TempDir())
	id := add(t, b, logbook.Lesson{})
	if _, _, err := b.Append(t.Context(), id, note("said")); err != nil {
		t.Fatal(err)
	}
	for _, s := range []string{`DELETE FROM facts`, `DELETE FROM lessons`} {
		if err := logbook.Tamper(b, s); err == nil {
			t.Errorf("%s is allowed", s)
		}
	}
}
