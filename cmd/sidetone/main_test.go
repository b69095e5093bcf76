package main

import (
	"bytes"
	"encoding/json"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sidetone/audio"
	"sidetone/audio/models/modelstest"
	"sidetone/timeline"
)

// sidetone runs a command line in a folder and returns what it said.
func sidetone(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	code = run(args, &out, &errs)
	return code, out.String(), errs.String()
}

func put(t testing.TB, path string, content []byte) string {
	t.Helper()
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func wav(t *testing.T, path string, samples []float32) string {
	t.Helper()
	var b bytes.Buffer
	if err := audio.WriteWAV(&b, audio.Rate, samples); err != nil {
		t.Fatal(err)
	}
	return put(t, path, b.Bytes())
}

// files lists what is in a folder.
func files(t *testing.T, dir string) string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return strings.Join(names, " ")
}

func TestWhatCannotBeDebriefedIsSaidInOneLineAndLeavesNothingBehind(t *testing.T) {
	set := modelstest.Find(t)
	brokenYAML := "id: mine\ntitle: Mine\nphases:\n  - title: One\n    steps:\n      - id: a\n        title: A\n" +
		"        call: trim-set\n        reference: common practice, no source\n        sevrity: note\n"
	cases := []struct {
		name string
		args func(dir string) []string
		code int
		says []string
	}{
		{"a file that is not there", func(dir string) []string { return []string{filepath.Join(dir, "lesson.wav")} }, exitFailure, []string{"no such file"}},
		{"an empty file", func(dir string) []string { return []string{put(t, filepath.Join(dir, "lesson.wav"), nil)} }, exitFailure, []string{"lesson.wav", "empty"}},
		{"text renamed .wav", func(dir string) []string {
			return []string{put(t, filepath.Join(dir, "lesson.wav"), []byte("Dear diary, today we flew.\n"))}
		}, exitFailure, []string{"lesson.wav"}},
		{"a folder", func(dir string) []string {
			return []string{dir}
		}, exitFailure, []string{"folder"}},
		{"text renamed .vtt", func(dir string) []string {
			return []string{put(t, filepath.Join(dir, "lesson.vtt"), []byte("Dear diary\n"))}
		}, exitFailure, []string{"lesson.vtt"}},
		{"an unknown procedure", func(string) []string {
			return []string{demoFile("lesson.wav"), "--procedure", "slow-flight-claen"}
		}, exitUsage, []string{`"slow-flight-claen"`, "slow-flight-clean"}},
		{"a procedure with a mistyped key", func(dir string) []string {
			return []string{demoFile("lesson.wav"), "--procedure", put(t, filepath.Join(dir, "mine.yaml"), []byte(brokenYAML))}
		}, exitFailure, []string{"mine.yaml:10:9", "sevrity", "severity"}},
		{"an aircraft that is not YAML", func(dir string) []string {
			return []string{demoFile("lesson.wav"), "--aircraft", put(t, filepath.Join(dir, "ours.yaml"), []byte("id: [\n"))}
		}, exitFailure, []string{"ours.yaml:1:"}},
		{"a page that cannot be written", func(dir string) []string {
			return []string{captions(t, dir), "--html", filepath.Join(dir, "no", "such", "folder", "page.html")}
		}, exitFailure, []string{"cannot be written"}},
		{"listening files that are missing", func(dir string) []string {
			return []string{demoFile("lesson.wav"), "--models", dir}
		}, exitFailure, []string{"sidetone setup"}},
		{"an unknown option", func(string) []string { return []string{"lesson.wav", "--loud"} }, exitUsage, []string{"--loud"}},
		{"no recording", func(string) []string { return nil }, exitUsage, []string{"RECORDING"}},
		{"a channel that is no channel", func(string) []string { return []string{demoFile("lesson.wav"), "--channels", "middle"} }, exitUsage, []string{"middle", "left"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			args := c.args(dir)
			before := files(t, dir)
			all := append([]string{"debrief"}, args...)
			if !strings.Contains(strings.Join(args, " "), "--models") {
				all = append(all, "--models", set.Dir)
			}
			code, stdout, stderr := sidetone(t, all...)
			if code != c.code {
				t.Errorf("exit status %d, want %d", code, c.code)
			}
			if stdout != "" {
				t.Errorf("standard output: %q", stdout)
			}
			lines := strings.Split(strings.TrimSpace(stderr), "\n")
			if want := map[int]int{exitFailure: 1, exitUsage: 2}[c.code]; len(lines) != want {
				t.Errorf("%d lines, want %d: %q", len(lines), want, stderr)
			}
			for _, s := range c.says {
				if !strings.Contains(lines[0], s) {
					t.Errorf("%q does not say %q", lines[0], s)
				}
			}
			if after := files(t, dir); after != before {
				t.Errorf("left behind: %q, there was %q", after, before)
			}
		})
	}
}

func TestARecordingWithoutCallsGetsAnHonestEmptyDebrief(t *testing.T) {
	set := modelstest.Find(t)
	rng := rand.New(rand.NewPCG(1, 2))
	const seconds = 8
	silence := make([]float32, seconds*audio.Rate)
	engine := make([]float32, seconds*audio.Rate)
	level := 0.0
	for i := range engine {
		level = 0.98*level + 0.02*rng.NormFloat64()
		engine[i] = float32(level)
	}
	for name, c := range map[string]struct {
		samples []float32
		says    string
	}{
		"silence":       {silence, "No speech was found"},
		"engine noise":  {engine, "No speech was found"},
		"half a second": {silence[:audio.Rate/2], "No speech was found"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			code, stdout, stderr := sidetone(t, "debrief", wav(t, filepath.Join(dir, "lesson.wav"), c.samples), "--models", set.Dir)
			if code != exitDone {
				t.Fatalf("exit status %d: %s", code, stderr)
			}
			if !strings.Contains(strings.Join(strings.Fields(stdout), " "), c.says) {
				t.Errorf("the table does not say %q:\n%s", c.says, stdout)
			}
			if strings.Contains(stdout, "not heard") && !strings.Contains(stdout, `"not heard" is not "not done"`) {
				t.Errorf("something is said to be not heard:\n%s", stdout)
			}
			if got := files(t, dir); got != "lesson.debrief.html lesson.wav" {
				t.Errorf("files: %s", got)
			}
		})
	}
}

func TestATruncatedRecordingIsReadAsFarAsItGoesAndSaysSo(t *testing.T) {
	set := modelstest.Find(t)
	b, err := os.ReadFile(demoFile("lesson.wav"))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	cut := put(t, filepath.Join(dir, "lesson.wav"), b[:30*2*audio.Rate+45])
	code, stdout, stderr := sidetone(t, "debrief", cut, "--models", set.Dir, "--no-html", "--json", "-")
	if code != exitDone {
		t.Fatalf("exit status %d: %s", code, stderr)
	}
	var tl timeline.Timeline
	if err := json.Unmarshal([]byte(stdout), &tl); err != nil {
		t.Fatalf("standard output is not JSON alone: %v", err)
	}
	if d := tl.Recording.Duration; d < 29.9 || d > 30.1 {
		t.Errorf("%.2f s read of 30", d)
	}
	if len(tl.Calls) < 4 {
		t.Errorf("only %d calls", len(tl.Calls))
	}
	code, stdout, _ = sidetone(t, "debrief", cut, "--models", set.Dir, "--no-html")
	if code != exitDone || !strings.Contains(stdout, "0:30") {
		t.Errorf("the table does not tell where the recording breaks off:\n%s", stdout)
	}
}

// captions writes the words of a whole clean maneuver, with trim before power.
func captions(t testing.TB, dir string) string {
	t.Helper()
	words := []string{"Carb heat on", "Trim set", "Power back seventeen hundred", "Nose up", "Airspeed six five knots", "Full power", "Carb heat cold", "Cruise power", "Trim set"}
	var b strings.Builder
	b.WriteString("WEBVTT\n")
	for i, w := range words {
		s := 10 + 4*i
		b.WriteString("\n00:00:" + two(s) + ".000 --> 00:00:" + two(s+2) + ".000\n<v Student>" + w + ".\n")
	}
	return put(t, filepath.Join(dir, "lesson.vtt"), []byte(b.String()))
}

func two(n int) string { return string([]byte{byte('0' + n/10), byte('0' + n%10)}) }

func TestAFileOfWordsIsDebriefedWithoutListening(t *testing.T) {
	dir := t.TempDir()
	in := captions(t, dir)
	// No listening files are needed: the folder named holds none.
	code, stdout, stderr := sidetone(t, "debrief", in, "--models", dir)
	if code != exitDone {
		t.Fatalf("exit status %d: %s", code, stderr)
	}
	for _, s := range []string{"Slow flight, clean", "Trim set at 0:14 came before power back at 0:18."} {
		if !strings.Contains(stdout, s) {
			t.Errorf("the table does not say %q:\n%s", s, stdout)
		}
	}
	if strings.Contains(stdout, "\x1b") {
		t.Error("colours in piped output")
	}
	page := read(t, filepath.Join(dir, "lesson.debrief.html"))
	if strings.Contains(page, "data:audio") {
		t.Error("the page has sound in it")
	}
}

func TestAnAircraftFileWithFewFactsStillServesTheProceduresThatNeedNoMore(t *testing.T) {
	dir := t.TempDir()
	ours := put(t, filepath.Join(dir, "ours.yaml"), []byte(`id: ours
title: Our trainer
facts:
  carburettor: {value: true}
  retractable_gear: {value: false}
  boost_pump: {value: false}
  flap_stages: {value: [10, 20, 30], unit: deg}
  cruise_power: {value: 2300, unit: rpm}
  entry_power: {value: 1700, unit: rpm}
  slow_flight_speed: {value: 65, unit: kt}
  constant_speed_propeller: {value: false}
`))
	code, stdout, stderr := sidetone(t, "debrief", captions(t, dir), "--no-html", "--aircraft", ours)
	if code != exitDone {
		t.Fatalf("exit status %d: %s", code, stderr)
	}
	for _, s := range []string{"Slow flight, clean", "Not looked for"} {
		if !strings.Contains(stdout, s) {
			t.Errorf("the table does not say %q:\n%s", s, stdout)
		}
	}
}

func TestTheJSONOfWordsIsTheSameContract(t *testing.T) {
	dir := t.TempDir()
	code, stdout, stderr := sidetone(t, "debrief", captions(t, dir), "--no-html", "--json", "-")
	if code != exitDone {
		t.Fatalf("exit status %d: %s", code, stderr)
	}
	var doc map[string]any
	if err := json.Unmarshal([]byte(stdout), &doc); err != nil {
		t.Fatal(err)
	}
	for _, k := range []string{"version", "recording", "transcript", "calls", "maneuvers"} {
		if _, ok := doc[k]; !ok {
			t.Errorf("no %q", k)
		}
	}
	// The JSON a debrief wrote can be read again as the words of a lesson.
	again := put(t, filepath.Join(dir, "again.json"), []byte(stdout))
	code, second, stderr := sidetone(t, "debrief", again, "--no-html", "--json", "-")
	if code != exitDone {
		t.Fatalf("exit status %d: %s", code, stderr)
	}
	var a, b timeline.Timeline
	if json.Unmarshal([]byte(stdout), &a) != nil || json.Unmarshal([]byte(second), &b) != nil {
		t.Fatal("not JSON")
	}
	if len(a.Maneuvers) != 1 || len(b.Maneuvers) != 1 || len(a.Calls) != len(b.Calls) {
		t.Errorf("%d maneuvers and %d calls became %d and %d", len(a.Maneuvers), len(a.Calls), len(b.Maneuvers), len(b.Calls))
	}
}

func TestHelpAndCompletionWork(t *testing.T) {
	for _, args := range [][]string{{}, {"--help"}, {"debrief", "--help"}, {"procedures"}, {"procedures", "list"}, {"procedures", "show", "slow-flight-clean"}, {"version"}, {"completion", "bash"}, {"__complete", "debrief", "x.wav", "--procedure", "slow"}} {
		code, stdout, stderr := sidetone(t, args...)
		if code != exitDone || stdout == "" {
			t.Errorf("sidetone %s: exit status %d, %q, %q", strings.Join(args, " "), code, stdout, stderr)
		}
	}
	code, _, stderr := sidetone(t, "debreif", "x.wav")
	if code != exitUsage || !strings.Contains(stderr, "debreif") {
		t.Errorf("a mistyped command: %d %q", code, stderr)
	}
	code, _, stderr = sidetone(t, "procedures", "show", "slow-flight")
	if code != exitUsage || !strings.Contains(stderr, "slow-flight") {
		t.Errorf("an unknown procedure: %d %q", code, stderr)
	}
}

func TestProgressIsQuietWhenPiped(t *testing.T) {
	if p := newProgress(io.Discard); p.w != nil {
		t.Error("progress is shown on what is no terminal")
	}
}
