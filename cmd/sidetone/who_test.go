package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sidetone/audio"
	"sidetone/audio/audiotest"
	"sidetone/audio/hear"
	"sidetone/audio/models/modelstest"
	"sidetone/audio/voices"
	"sidetone/timeline"
)

func TestWhatIsWrongWithAVoiceIsSaidBeforeListening(t *testing.T) {
	dir := t.TempDir()
	lesson := wav(t, filepath.Join(dir, "lesson.wav"), make([]float32, 10*audio.Rate))
	words := put(t, filepath.Join(dir, "lesson.vtt"), []byte("WEBVTT\n\n00:00.000 --> 00:01.000\nflaps ten\n"))
	for _, c := range []struct{ name, recording, voice, want string }{
		{"only a name", lesson, "student", "write a name and where"},
		{"no name", lesson, "=" + lesson, "write a name and where"},
		{"neither a file nor a time", lesson, "student=yesterday", "no file \"yesterday\""},
		{"it ends before it begins", lesson, "student=0:05-0:02", "0:02 is not after 0:05"},
		{"beyond the end", lesson, "student=1:00-1:10", "only 0:10 long"},
		{"in words", words, "student=0:00-0:01", "holds words"},
	} {
		code, stdout, stderr := sidetone(t, "debrief", c.recording, "--no-html", "--voice", c.voice)
		if code != 2 || stdout != "" || !strings.Contains(stderr, c.want) {
			t.Errorf("%s: status %d, %q, want %q", c.name, code, stderr, c.want)
		}
	}
}

func TestVoicesAreClipsOrStretches(t *testing.T) {
	clip := put(t, filepath.Join(t.TempDir(), "at-home.wav"), nil)
	got, err := voicesOf([]string{"student=" + clip, " Anna = 1:02:30-1:02:50", "instructor=90s-100s"})
	want := []hear.Voice{{Name: "student", Clip: clip}, {Name: "Anna", From: 3750, To: 3770}, {Name: "instructor", From: 90, To: 100}}
	if err != nil || len(got) != 3 || got[0] != want[0] || got[1] != want[1] || got[2] != want[2] {
		t.Errorf("%+v, %v", got, err)
	}
}

func TestTheDebriefSaysWhatVoicesWereTaught(t *testing.T) {
	given := []hear.Voice{{Name: "student", Clip: "/home/x/clip.wav"}, {Name: "Anna", From: 60, To: 70}, {Name: "Anna", From: 90, To: 95}, {Name: "instructor", From: 1, To: 2}}
	notes := strings.Join(voiceNotes(given, &voices.Report{Tried: 12, Right: 11, Unsure: 1, Nobodys: 2, Voices: []voices.Learnt{
		{Name: "student", Seconds: 11.6, Named: 40}, {Name: "Anna", Seconds: 9, Named: 1}, {Name: "instructor", Trouble: "too short"},
	}}), "\n")
	for _, want := range []string{
		"student by 12 s of clear speech (clip.wav)", "Anna by 9 s of clear speech (1:00 to 1:10, 1:30 to 1:35)", "11 of 12 were told rightly",
		"40 utterances by student, 1 utterance by Anna", "2 utterances by somebody else", "1 utterance unsure", "90 % likely",
		"instructor (0:01 to 0:02) was not learnt: too short", "Anna is neither",
	} {
		if !strings.Contains(notes, want) {
			t.Errorf("%q is not said:\n%s", want, notes)
		}
	}
	if n := voiceNotes(nil, nil); n != nil {
		t.Errorf("of no voices: %q", n)
	}
}

// The first minute of the demo lesson, two voices on one channel, and a third on the
// radio at 0:41.
func TestVoicesAreToldInTheDemoLesson(t *testing.T) {
	modelstest.Find(t)
	whole := audiotest.Load(t, filepath.Join("..", "..", "testdata", "demo", "lesson.wav"))
	dir := t.TempDir()
	lesson := wav(t, filepath.Join(dir, "lesson.wav"), whole[:70*audio.Rate])
	out := filepath.Join(dir, "lesson.json")
	args := append([]string{"debrief", lesson, "--no-html", "--keep-nothing", "--json", out, "--procedure", "slow-flight-clean"},
		"--voice", "student=0:09.5-0:26", "--voice", "instructor=0:01-0:09", "--voice", "instructor=0:34-0:40")
	if m := filepath.Join(modelstest.Root(), "bin", "models"); dirExists(m) {
		args = append(args, "--models", m)
	}
	code, stdout, stderr := sidetone(t, args...)
	if code != 0 {
		t.Fatalf("status %d: %s", code, stderr)
	}
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	var tl timeline.Timeline
	if err := json.NewDecoder(bytes.NewReader(b)).Decode(&tl); err != nil {
		t.Fatal(err)
	}
	named := 0
	for _, u := range tl.Transcript {
		mid := (u.Start + u.End) / 2
		want := "student"
		switch {
		case mid < 9.3, mid > 33.5 && mid < 40.8, mid > 50.2 && mid < 55:
			want = "instructor"
		case mid > 40.8 && mid < 46:
			want = "" // the radio
		}
		if u.Speaker != "" && u.Speaker != want {
			t.Errorf("%.1f %q is said to be by %q", u.Start, u.Text, u.Speaker)
		}
		if u.Speaker != "" {
			named++
		}
	}
	if named < 12 || !strings.Contains(stdout, "Voices were learnt: student by") {
		t.Errorf("%d of %d utterances have a name\n%s", named, len(tl.Transcript), stdout)
	}
}

func dirExists(dir string) bool {
	st, err := os.Stat(dir)
	return err == nil && st.IsDir()
}
