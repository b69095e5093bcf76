package main

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/asticode/go-astisub"

	"sidetone/audio"
	"sidetone/audio/models/modelstest"
	"sidetone/audio/recognise/kept"
	"sidetone/audio/transcript"
)

func TestFilesForOtherProgramsAreWritten(t *testing.T) {
	dir := t.TempDir()
	in := captions(t, dir)
	want, err := transcript.ReadFile(in)
	if err != nil {
		t.Fatal(err)
	}
	at := func(name string) string { return filepath.Join(dir, name) }
	for _, name := range []string{"out.vtt", "out.srt", "out.txt", "out.json"} {
		code, _, stderr := sidetone(t, "debrief", in, "--no-html", "--captions", at(name), "--chapters", at("chapters.vtt"), "--steps-csv", at("steps.csv"), "--calls-csv", at("calls.csv"))
		if code != exitDone {
			t.Fatalf("exit status %d: %s", code, stderr)
		}
		got, err := transcript.ReadFile(at(name))
		if err != nil {
			t.Fatal(err)
		}
		if len(got.Utterances) != len(want.Utterances) {
			t.Errorf("%s: %d lines of %d", name, len(got.Utterances), len(want.Utterances))
			continue
		}
		for i, u := range got.Utterances {
			if u.Text != want.Utterances[i].Text {
				t.Errorf("%s: %q became %q", name, want.Utterances[i].Text, u.Text)
			}
		}
	}
	if s, err := astisub.OpenFile(at("chapters.vtt")); err != nil || len(s.Items) == 0 {
		t.Errorf("chapters: %v", err)
	}
	for _, name := range []string{"steps.csv", "calls.csv"} {
		rows, err := csv.NewReader(strings.NewReader(read(t, at(name)))).ReadAll()
		if err != nil || len(rows) < 3 {
			t.Errorf("%s: %d rows, %v", name, len(rows), err)
		}
	}
}

func TestFilesThatCannotBeWrittenAreRefusedBeforehand(t *testing.T) {
	dir := t.TempDir()
	in := captions(t, dir)
	for name, c := range map[string]struct {
		args []string
		code int
		says string
	}{
		"captions of no known form":  {[]string{"--captions", filepath.Join(dir, "out.doc")}, exitUsage, ".vtt, .srt, .txt or .json"},
		"one file for two things":    {[]string{"--steps-csv", filepath.Join(dir, "x.csv"), "--calls-csv", filepath.Join(dir, "x.csv")}, exitUsage, "two different files"},
		"a folder that is not there": {[]string{"--chapters", filepath.Join(dir, "no", "x.vtt")}, exitFailure, "cannot be written"},
		"words for words":            {[]string{"--words", in}, exitUsage, "goes with a recording"},
	} {
		before := files(t, dir)
		code, _, stderr := sidetone(t, append([]string{"debrief", in, "--no-html"}, c.args...)...)
		if code != c.code || !strings.Contains(stderr, c.says) || files(t, dir) != before {
			t.Errorf("%s: exit status %d: %s", name, code, stderr)
		}
	}
}

// demoPart is the demo lesson from one second to another.
func demoPart(t *testing.T, dir string, from, to int) string {
	t.Helper()
	b, err := os.ReadFile(demoFile("lesson.wav"))
	if err != nil {
		t.Fatal(err)
	}
	const second = 2 * audio.Rate
	return put(t, filepath.Join(dir, "lesson.wav"), append(b[:44:44], b[44+from*second:44+to*second]...))
}

// What was heard is written out, put right, and given back with the sound.
func TestWordsPutRightByHandAreUsed(t *testing.T) {
	set := modelstest.Find(t)
	t.Setenv(kept.EnvDir, t.TempDir())
	dir := t.TempDir()
	lesson := demoPart(t, dir, 22, 30)
	run := func(args ...string) {
		t.Helper()
		if code, _, stderr := sidetone(t, append([]string{"debrief", lesson, "--models", set.Dir, "--no-html"}, args...)...); code != exitDone {
			t.Fatalf("exit status %d: %s", code, stderr)
		}
	}
	heard := filepath.Join(dir, "heard.json")
	run("--captions", heard)
	for _, ending := range []string{".txt", ".vtt"} {
		edited, after := filepath.Join(dir, "edited"+ending), filepath.Join(dir, "after.json")
		run("--captions", edited)
		text := read(t, edited)
		if !strings.Contains(text, "coming") {
			t.Fatalf("%s does not say coming:\n%s", ending, text)
		}
		put(t, edited, []byte(strings.ReplaceAll(text, "coming", "going")))
		run("--words", edited, "--captions", after)
		was, err := transcript.ReadFile(heard)
		if err != nil {
			t.Fatal(err)
		}
		is, err := transcript.ReadFile(after)
		if err != nil {
			t.Fatal(err)
		}
		words := func(t *transcript.Transcript) (all []transcript.Word) {
			for _, u := range t.Utterances {
				all = append(all, u.Words...)
			}
			return all
		}
		w, x := words(was), words(is)
		if len(w) != len(x) {
			t.Fatalf("%s: %d words became %d", ending, len(w), len(x))
		}
		changed := 0
		for i := range w {
			if strings.EqualFold(strings.Trim(w[i].Text, ".,"), "coming") {
				changed++
				w[i].Text, w[i].Confidence = strings.Replace(w[i].Text, "coming", "going", 1), 1
			}
			if w[i] != x[i] {
				t.Errorf("%s: %+v became %+v", ending, w[i], x[i])
			}
		}
		if changed == 0 {
			t.Errorf("%s: nothing was changed", ending)
		}
	}
}
