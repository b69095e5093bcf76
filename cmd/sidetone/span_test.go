package main

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sidetone/timeline"
)

func TestTimesOfARecording(t *testing.T) {
	for s, want := range map[string]float64{
		"12:30": 750, "0:05": 5, "1:02:03": 3723, "90s": 90, "2m": 120, "1h2m3s": 3723, "75:30": 4530, "12:30.5": 750.5, "0:00": 0, "0s": 0,
	} {
		if got, err := seconds("--from", s); err != nil || got != want {
			t.Errorf("%q is %v s, %v; want %v", s, got, err, want)
		}
	}
	for _, s := range []string{"", "90", "12:75", "1:75:00", "noon", "-5s", "-1:00", "1:2:3", "12:30 pm", "1e3", "12:3", "::", "NaN"} {
		if got, err := seconds("--to", s); err == nil || !strings.Contains(err.Error(), "12:30") || !strings.Contains(err.Error(), fmt.Sprintf("--to %q", s)) {
			t.Errorf("%q is %v s, %v", s, got, err)
		}
	}
}

// twoManeuvers is captions of two slow flights, at 0:10 and at 5:10.
func twoManeuvers(t *testing.T, dir string) string {
	t.Helper()
	words := []string{"Carb heat on", "Power back seventeen hundred", "Nose up", "Airspeed six five knots", "Trim set", "Full power", "Carb heat cold", "Cruise power", "Trim set"}
	var b strings.Builder
	b.WriteString("WEBVTT\n")
	for _, m := range []string{"00:00:", "00:05:"} {
		for i, w := range words {
			s := 10 + 5*i
			b.WriteString("\n" + m + two(s) + ".000 --> " + m + two(s+2) + ".000\n<v Student>" + w + ".\n")
		}
	}
	return put(t, filepath.Join(dir, "lesson.vtt"), []byte(b.String()))
}

func TestOnlyTheStretchAskedForIsJudged(t *testing.T) {
	dir := t.TempDir()
	in := twoManeuvers(t, dir)
	for _, c := range []struct {
		says  string
		args  []string
		at    []int // when the maneuvers begin, in seconds
		judge *timeline.Span
	}{
		{"all of it", nil, []int{10, 310}, nil},
		{"from a time on", []string{"--from", "4:00"}, []int{310}, &timeline.Span{From: 240, To: 352}},
		{"up to a time", []string{"--to", "90s"}, []int{10}, &timeline.Span{From: 0, To: 90}},
		{"between two", []string{"--from", "2:00", "--to", "3:00"}, nil, &timeline.Span{From: 120, To: 180}},
		{"to beyond its end", []string{"--from", "4:00", "--to", "2:00:00"}, []int{310}, &timeline.Span{From: 240, To: 352}},
		{"one procedure between two", []string{"--procedure", "slow-flight-clean", "--from", "5:00", "--to", "5:40"}, []int{310}, &timeline.Span{From: 300, To: 340}},
	} {
		t.Run(c.says, func(t *testing.T) {
			code, stdout, stderr := sidetone(t, append([]string{"debrief", in, "--no-html", "--json", "-"}, c.args...)...)
			var tl timeline.Timeline
			if err := json.Unmarshal([]byte(stdout), &tl); err != nil || code != exitDone {
				t.Fatalf("exit status %d, %v: %s", code, err, stderr)
			}
			var at []int
			for _, m := range tl.Maneuvers {
				at = append(at, int(m.Start))
				for _, s := range m.Steps {
					if s.Call != nil && tl.Calls[*s.Call].Start != *s.At {
						t.Errorf("%s rests on call %d, which is at %v", s.ID, *s.Call, tl.Calls[*s.Call].Start)
					}
				}
			}
			if !slices.Equal(at, c.at) {
				t.Errorf("begin at %v, want %v", at, c.at)
			}
			switch {
			case (tl.Judged == nil) != (c.judge == nil):
				t.Errorf("judged %v, want %v", tl.Judged, c.judge)
			case tl.Judged != nil && *tl.Judged != *c.judge:
				t.Errorf("judged %v, want %v", *tl.Judged, *c.judge)
			}
			_, table, _ := sidetone(t, append([]string{"debrief", in, "--no-html"}, c.args...)...)
			if said := strings.Contains(table, "was judged."); said != (c.judge != nil) {
				t.Errorf("that only a part was judged is said: %v", said)
			}
		})
	}
}

func TestAStretchThatCannotBe(t *testing.T) {
	dir := t.TempDir()
	in := twoManeuvers(t, dir)
	for _, c := range []struct {
		says string
		args []string
		want string
	}{
		{"no time", []string{"--from", "noon"}, `--from "noon" is no time of the recording: write minutes and seconds as 12:30`},
		{"a bare number", []string{"--to", "90"}, `or seconds as 90s`},
		{"the end before the beginning", []string{"--from", "3:00", "--to", "2:00"}, "--to 2:00 is not after --from 3:00"},
		{"nothing between", []string{"--from", "3:00", "--to", "3:00"}, "--to 3:00 is not after --from 3:00"},
		{"an end at the beginning", []string{"--to", "0:00"}, "--to 0:00 is not after --from 0:00"},
		{"beyond the end", []string{"--from", "1:00:00"}, "--from 1:00:00: the recording is only 5:52 long"},
	} {
		code, stdout, stderr := sidetone(t, append([]string{"debrief", in}, c.args...)...)
		if code != exitUsage || stdout != "" || !strings.Contains(stderr, c.want) {
			t.Errorf("%s: exit status %d, %q", c.says, code, stderr)
		}
		if got := files(t, dir); got != "lesson.vtt" {
			t.Errorf("%s: left behind %s", c.says, got)
		}
	}
	_, stdout, _ := sidetone(t, "debrief", in, "--no-html", "--procedure", "steep-turns", "--from", "2:00", "--to", "3:00")
	if s := strings.Join(strings.Fields(stdout), " "); !strings.Contains(s, `No step of "Steep turns" was heard between 2:00 and 3:00.`) || !strings.Contains(s, "Widen --from and --to") {
		t.Errorf("nothing heard in the stretch: %s", stdout)
	}
}
