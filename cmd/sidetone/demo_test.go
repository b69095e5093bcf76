package main

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"

	"sidetone/audio/models/modelstest"
	"sidetone/rules"
	"sidetone/timeline"
)

type answers struct {
	Maneuvers []struct {
		Procedure string
		Begins    float64
		Ends      float64
		Steps     map[string]struct {
			Verdict rules.Verdict
			At      float64
			Value   *float64
		}
		Findings []struct {
			Step, Kind string
			At         float64
		}
	}
}

// within is how far a time may be from the answer sheet, in seconds.
const within = 1.0

func TestTheDemoLessonIsDebriefedAsItsAnswerSheetSays(t *testing.T) {
	set := modelstest.Find(t)
	dir := t.TempDir()
	page, data := filepath.Join(dir, "page.html"), filepath.Join(dir, "debrief.json")
	var table, aside bytes.Buffer
	f := debriefFlags{html: page, json: data, hearing: hearingFlags{models: set.Dir, threads: 2, channels: "auto"}}
	if err := debrief(context.Background(), []string{demoFile("lesson.wav")}, f, &table, &aside); err != nil {
		t.Fatal(err)
	}
	var tl timeline.Timeline
	b, err := os.ReadFile(data)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &tl); err != nil {
		t.Fatal(err)
	}
	var want answers
	b, err = os.ReadFile(demoFile("answers.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	if err := yaml.UnmarshalWithOptions(b, &want, yaml.Strict()); err != nil {
		t.Fatal(err)
	}
	if len(tl.Maneuvers) != len(want.Maneuvers) {
		t.Fatalf("%d maneuvers found, %d were flown", len(tl.Maneuvers), len(want.Maneuvers))
	}
	for i, w := range want.Maneuvers {
		m := tl.Maneuvers[i]
		if m.Procedure != w.Procedure {
			t.Errorf("maneuver %d is %s, it was %s", i+1, m.Procedure, w.Procedure)
			continue
		}
		if math.Abs(m.Start-w.Begins) > 5 || math.Abs(m.End-w.Ends) > 5 {
			t.Errorf("%s: found from %.1f to %.1f, flown from %.1f to %.1f", m.Procedure, m.Start, m.End, w.Begins, w.Ends)
		}
		for _, s := range m.Steps {
			a, called := w.Steps[s.ID]
			switch {
			case !called && s.Verdict != rules.NotApplicable:
				t.Errorf("%s, %s: %s, but it was not called and is optional (%s)", m.Procedure, s.ID, s.Verdict, s.Reason)
			case !called:
			case s.Verdict != a.Verdict:
				t.Errorf("%s, %s: %s, the sheet says %s (%s)", m.Procedure, s.ID, s.Verdict, a.Verdict, s.Reason)
			case s.At != nil && math.Abs(*s.At-a.At) > within:
				t.Errorf("%s, %s: at %.1f, the sheet says %.1f", m.Procedure, s.ID, *s.At, a.At)
			case a.Value != nil && (s.Value == nil || *s.Value != *a.Value):
				t.Errorf("%s, %s: value %v, the sheet says %v", m.Procedure, s.ID, s.Value, *a.Value)
			}
		}
		if len(m.Findings) != len(w.Findings) {
			t.Errorf("%s: %d findings, the sheet has %d: %+v", m.Procedure, len(m.Findings), len(w.Findings), m.Findings)
		}
		for _, a := range w.Findings {
			found := false
			for _, f := range m.Findings {
				if f.Step == a.Step && f.Kind == a.Kind {
					found = true
					if f.At == nil || math.Abs(*f.At-a.At) > within {
						t.Errorf("%s: finding %s %s at %v, the sheet says %.1f", m.Procedure, f.Step, f.Kind, f.At, a.At)
					}
				}
			}
			if !found {
				t.Errorf("%s: %s was not found to be %s", m.Procedure, a.Step, a.Kind)
			}
		}
	}
	for name, text := range map[string]string{"table": table.String(), "page": read(t, page)} {
		for _, sentence := range []string{"Trim set at 0:21 came before power back at 0:24.", "Flaps up at 2:14 came before positive rate at 2:1"} {
			if !strings.Contains(text, sentence) {
				t.Errorf("the %s does not say %q", name, sentence)
			}
		}
	}
	for i, line := range strings.Split(table.String(), "\n") {
		if n := len([]rune(line)); n > 80 {
			t.Errorf("line %d of the table is %d columns wide", i+1, n)
		}
	}
}

func demoFile(name string) string {
	return filepath.Join("..", "..", "testdata", "demo", name)
}

func read(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}
