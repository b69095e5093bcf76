package report

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"sidetone/timeline"
)

func clock(t *testing.T, s string) *timeline.Clock {
	t.Helper()
	c, err := timeline.ParseClock(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// inParts is the lesson as a recorder split it at 1:00, with ten seconds lost.
func inParts(t *testing.T) *timeline.Timeline {
	tl := lesson()
	tl.Recording.File = "one.wav, two.wav"
	tl.Recording.Starts = clock(t, "2026-05-01T14:32:05Z")
	tl.Recording.Parts = []timeline.Part{
		{File: "one.wav", Duration: 60, Channels: 2, SampleRate: 48000, Starts: clock(t, "2026-05-01T14:32:05Z")},
		{File: "two.wav", Start: 60, Duration: 120, Channels: 1, SampleRate: 44100, Starts: clock(t, "2026-05-01T14:33:15Z"), Gap: 10},
	}
	return tl
}

func TestTimesOfDayAndFilesAreShownWhereTheyAreKnown(t *testing.T) {
	var table, page bytes.Buffer
	if err := Terminal(&table, inParts(t), TerminalOptions{}); err != nil {
		t.Fatal(err)
	}
	if err := HTML(&page, inParts(t), Media{}, PageOptions{}); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{"table": strings.Join(strings.Fields(table.String()), " "), "page": page.String()} {
		for _, want := range []string{
			"began 2026-05-01 14:32:05Z",
			"from 1:00: two.wav, began 14:33:15Z",
			"14:32:14Z to 14:34:26Z, one.wav 0:09 to two.wav 1:11", // the maneuver
			"14:33:50Z, two.wav 0:35",                              // carb heat cold was due at 1:35.6
			"14:32:41Z, one.wav 0:36",                              // trim set at 0:36
		} {
			if !strings.Contains(text, want) {
				t.Errorf("the %s does not say %q", name, want)
			}
		}
	}
	var bare bytes.Buffer
	if err := Terminal(&bare, lesson(), TerminalOptions{}); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(bare.String(), "began") || strings.Contains(bare.String(), "lesson.wav 0:36") {
		t.Errorf("a recording of an unknown time, in one file, has times of day or places:\n%s", bare.String())
	}
}

func TestJSONGivesTimesOfDayAndFilesWhereTheyAreKnown(t *testing.T) {
	if err := schema(t).Validate(written(t, inParts(t))); err != nil {
		t.Error(err)
	}
	var b bytes.Buffer
	if err := JSON(&b, inParts(t)); err != nil {
		t.Fatal(err)
	}
	var doc struct {
		Recording timeline.Recording
		Maneuvers []struct {
			Clock, File string
			Findings    []struct {
				Step, Clock, File string
				At                float64
				FileAt            float64 `json:"file_at"`
			}
			Steps []struct{ ID, Clock string }
		}
	}
	if err := json.Unmarshal(b.Bytes(), &doc); err != nil {
		t.Fatal(err)
	}
	m := doc.Maneuvers[0]
	if m.Clock != "2026-05-01T14:32:14Z" || m.File != "one.wav" {
		t.Errorf("the maneuver begins at %s in %s", m.Clock, m.File)
	}
	seen := 0
	for _, f := range m.Findings {
		if f.Step == "carb-heat-cold" {
			seen++
			if f.Clock != "2026-05-01T14:33:50Z" || f.File != "two.wav" || f.FileAt < 35.5 || f.FileAt > 35.7 || f.At != 95.6 {
				t.Errorf("the finding at %v is at %s, %s %v", f.At, f.Clock, f.File, f.FileAt)
			}
		}
	}
	for _, s := range m.Steps {
		if s.ID == "trim-entry" {
			seen++
			if s.Clock != "2026-05-01T14:32:41Z" {
				t.Errorf("trim is at %s", s.Clock)
			}
		}
	}
	if seen != 2 {
		t.Errorf("%d of 2 places seen", seen)
	}
	if got := doc.Recording.Parts[1]; got.Gap != 10 || got.Starts.String() != "2026-05-01T14:33:15Z" {
		t.Errorf("part 2 is read back as %+v", got)
	}
	s := schema(t)
	bad := written(t, inParts(t))
	bad["recording"].(map[string]any)["starts"] = "half past two"
	if s.Validate(bad) == nil {
		t.Error("the schema lets a time in words pass")
	}
}
