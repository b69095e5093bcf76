package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sidetone/timeline/logbook"
)

func TestLessonsAreListedAndRemovedByCommand(t *testing.T) {
	library := filepath.Join(t.TempDir(), "library")
	book, err := logbook.Open(t.Context(), library)
	if err != nil {
		t.Fatal(err)
	}
	copied := put(t, filepath.Join(book.RecordingsDir(), "a.wav"), []byte("copied"))
	own := put(t, filepath.Join(t.TempDir(), "own.wav"), []byte("own"))
	for _, path := range []string{copied, own} {
		f, err := logbook.Look(path)
		if err != nil {
			t.Fatal(err)
		}
		if _, _, err := book.Add(t.Context(), logbook.Lesson{Title: "of " + f.Name, Student: "Sam"}, []logbook.File{f}); err != nil {
			t.Fatal(err)
		}
	}
	book.Close()
	for _, c := range []struct {
		does     string
		args     []string
		code     int
		says     string
		copy     bool // whether it is there afterwards
		recorded bool
	}{
		{"both are listed", []string{"list"}, 0, "2       ", true, true},
		{"it is asked first", []string{"remove", "1"}, 0, "Nothing was removed", true, true},
		{"the copy goes", []string{"remove", "1", "--yes"}, 0, "own copy of the recording “a.wav”", false, true},
		{"it is gone", []string{"remove", "1", "--yes"}, 1, "no such lesson", false, true},
		{"the recording elsewhere stays", []string{"remove", "2", "--yes"}, 0, "stays where it is: " + own, false, true},
		{"a title is no number", []string{"remove", "of own.wav"}, 2, "not the number of a lesson", false, true},
		{"no lesson named", []string{"remove"}, 2, "LESSON", false, true},
	} {
		var out, errs bytes.Buffer
		code := runIn(t.Context(), append(append([]string{"desk"}, c.args...), "--library", library), &out, &errs)
		if said := out.String() + errs.String(); code != c.code || !strings.Contains(said, c.says) {
			t.Errorf("%s: %d %s", c.does, code, said)
		}
		for path, there := range map[string]bool{copied: c.copy, own: c.recorded} {
			if _, err := os.Stat(path); (err == nil) != there {
				t.Errorf("%s: %s: %v", c.does, path, err)
			}
		}
	}
	var out, errs bytes.Buffer
	nowhere := filepath.Join(t.TempDir(), "nowhere")
	if code := runIn(t.Context(), []string{"desk", "list", "--library", nowhere}, &out, &errs); code != 1 || !strings.Contains(errs.String(), "no library") {
		t.Errorf("a library there is none of: %d %s", code, errs.String())
	}
	if _, err := os.Stat(nowhere); err == nil {
		t.Error("a library was made")
	}
}
