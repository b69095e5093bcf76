package main

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sidetone/audio"
	"sidetone/audio/models/modelstest"
	"sidetone/timeline"
)

// broadcast writes a WAV file with a bext chunk that says when it began.
func broadcast(t *testing.T, path, date, clock string, pcm []byte) string {
	t.Helper()
	le := binary.LittleEndian
	bext := make([]byte, 602)
	copy(bext[320:], date+clock)
	b := []byte("RIFF\xff\xff\xff\xffWAVEbext")
	b = append(le.AppendUint32(b, uint32(len(bext))), bext...)
	b = append(b, "fmt \x10\x00\x00\x00\x01\x00\x01\x00"...)
	b = le.AppendUint32(b, audio.Rate)
	b = le.AppendUint32(b, 2*audio.Rate)
	b = append(b, 2, 0, 16, 0)
	b = le.AppendUint32(append(b, "data"...), uint32(len(pcm)))
	return put(t, path, append(b, pcm...))
}

// The demo lesson as a recorder would split it, in the middle of a maneuver.
func TestALessonInTwoFilesIsOneTimeline(t *testing.T) {
	set := modelstest.Find(t)
	b, err := os.ReadFile(demoFile("lesson.wav"))
	if err != nil {
		t.Fatal(err)
	}
	const second = 2 * audio.Rate
	pcm := b[44:][:75*second]
	dir := t.TempDir()
	read := func(args ...string) timeline.Timeline {
		t.Helper()
		code, stdout, stderr := sidetone(t, append([]string{"debrief", "--models", set.Dir, "--no-html", "--json", "-"}, args...)...)
		if code != exitDone {
			t.Fatalf("exit status %d: %s", code, stderr)
		}
		var tl timeline.Timeline
		if err := json.Unmarshal([]byte(stdout), &tl); err != nil {
			t.Fatal(err)
		}
		return tl
	}
	whole := read(broadcast(t, filepath.Join(dir, "whole.wav"), "2026-05-01", "14:32:05", pcm))
	cut := 31*second + 100
	one := broadcast(t, filepath.Join(dir, "one.wav"), "2026-05-01", "14:32:05", pcm[:cut])
	two := broadcast(t, filepath.Join(dir, "two.wav"), "2026-05-01", "14:32:36", pcm[cut:])
	split := read(one, two, "--starts", "09:00:00Z")
	if len(whole.Maneuvers) == 0 || len(split.Maneuvers) != len(whole.Maneuvers) || len(split.Calls) != len(whole.Calls) {
		t.Fatalf("%d maneuvers and %d calls in two files, %d and %d in one", len(split.Maneuvers), len(split.Calls), len(whole.Maneuvers), len(whole.Calls))
	}
	for i, s := range split.Maneuvers[0].Steps {
		w := whole.Maneuvers[0].Steps[i]
		if s.Verdict != w.Verdict || (s.At == nil) != (w.At == nil) || s.At != nil && math.Abs(*s.At-*w.At) > 0.001 {
			t.Errorf("%s is %s in two files and %s in one", s.ID, s.Verdict, w.Verdict)
		}
	}
	if r := split.Recording; r.File != "one.wav, two.wav" || len(r.Parts) != 2 || math.Abs(r.Parts[1].Start-31) > 0.01 || r.Parts[1].Gap != 0 || math.Abs(r.Duration-75) > 0.01 {
		t.Errorf("the recording is %+v", r)
	}
	if got := whole.Recording.Starts.String(); got != "2026-05-01T14:32:05" {
		t.Errorf("it began at %s", got)
	}
	if got := split.Recording.ClockAt(40).Day(); got != "09:00:40Z" {
		t.Errorf("given the time it began, second 40 is at %s", got)
	}
}

func TestWhatWasNotRecordedBetweenFilesIsSaid(t *testing.T) {
	set := modelstest.Find(t)
	dir := t.TempDir()
	minute := make([]byte, 60*2*audio.Rate)
	begin := func(name, clock string) string {
		return broadcast(t, filepath.Join(dir, name), "2026-05-01", clock, minute)
	}
	one, two := begin("one.wav", "14:00:00"), begin("two.wav", "14:01:12")
	for _, c := range []struct {
		name  string
		files []string
		says  string
	}{
		{"twelve seconds between two files", []string{one, two}, "Between one.wav and two.wav 12 s were not recorded"},
		{"files in the wrong order", []string{two, one}, "By their own clocks one.wav begins 2:12 min before two.wav ends: name the files in the order they were recorded."},
	} {
		code, stdout, stderr := sidetone(t, append([]string{"debrief", "--models", set.Dir, "--no-html"}, c.files...)...)
		if text := strings.Join(strings.Fields(stdout), " "); code != exitDone || !strings.Contains(text, c.says) {
			t.Errorf("%s: exit status %d, %s\n%s", c.name, code, stderr, stdout)
		}
	}
}

func TestTheTimeOfDayIsGivenOrRefused(t *testing.T) {
	dir := t.TempDir()
	in := captions(t, dir)
	code, stdout, stderr := sidetone(t, "debrief", in, "--no-html", "--starts", "14:32:05Z")
	if code != exitDone || !strings.Contains(stdout, "began 14:32:05Z") || !strings.Contains(stdout, "14:32:19Z") { // trim set at 0:14
		t.Errorf("exit status %d: %s\n%s", code, stderr, stdout)
	}
	code, _, stderr = sidetone(t, "debrief", in, "--no-html", "--starts", "noonish")
	if code != exitUsage || !strings.Contains(stderr, "noonish") || !strings.Contains(stderr, "14:32:05Z") {
		t.Errorf("exit status %d: %s", code, stderr)
	}
	recording := put(t, filepath.Join(dir, "a.wav"), bytes.Repeat([]byte{1, 0}, 100))
	if code, _, stderr := sidetone(t, "debrief", recording, in); code != exitUsage || !strings.Contains(stderr, "only recordings") {
		t.Errorf("a recording and captions together: exit status %d: %s", code, stderr)
	}
}
