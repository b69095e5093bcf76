package report

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"io"

	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/timeline"
)

// Schema is the JSON Schema (draft 2020-12) of what JSON writes.
//
//go:embed debrief.schema.json
var Schema []byte

// JSON writes tl in its one versioned form, which Schema describes. Lists are
// never null. It refuses a timeline whose steps point at calls that do not
// exist: a reader would believe them.
func JSON(w io.Writer, tl *timeline.Timeline) error {
	out := *tl
	out.Version = timeline.Version
	out.Transcript = make([]transcript.Utterance, len(tl.Transcript))
	for i, u := range tl.Transcript {
		if u.Words == nil {
			u.Words = []transcript.Word{}
		}
		out.Transcript[i] = u
	}
	if out.Calls == nil {
		out.Calls = []callouts.Call{}
	}
	maneuvers := make([]jsonManeuver, len(tl.Maneuvers))
	for i, m := range tl.Maneuvers {
		if m.Steps == nil {
			m.Steps = []rules.StepResult{}
		}
		if m.Findings == nil {
			m.Findings = []rules.Finding{}
		}
		if m.Remarks == nil {
			m.Remarks = []string{}
		}
		for _, s := range m.Steps {
			if s.Call != nil && (*s.Call < 0 || *s.Call >= len(tl.Calls)) {
				return fmt.Errorf("step %q of %q rests on call %d, but there are %d calls", s.ID, m.Procedure, *s.Call, len(tl.Calls))
			}
		}
		maneuvers[i] = newJSONManeuver(tl.Recording, m)
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	if err := enc.Encode(jsonTimeline{&out, maneuvers}); err != nil {
		return fmt.Errorf("writing the debrief as JSON: %w", err)
	}
	return nil
}

// The written form has, beside what is in the timeline, the time of day and the
// place in its own file of each moment, where they are known.
type (
	jsonTimeline struct {
		*timeline.Timeline
		Maneuvers []jsonManeuver `json:"maneuvers"`
	}
	jsonManeuver struct {
		rules.Assessment
		jsonMoment
		Steps    []jsonStep    `json:"steps"`
		Findings []jsonFinding `json:"findings"`
	}
	jsonStep struct {
		rules.StepResult
		Phase string `json:"phase"`
		jsonMoment
	}
	jsonFinding struct {
		rules.Finding
		jsonMoment
	}
	jsonMoment struct {
		Clock  *timeline.Clock `json:"clock,omitempty"`
		File   string          `json:"file,omitempty"`
		FileAt *float64        `json:"file_at,omitempty"`
	}
)

func newJSONMoment(r timeline.Recording, at *float64) (m jsonMoment) {
	if at == nil {
		return m
	}
	m.Clock = r.ClockAt(*at)
	if len(r.Parts) > 0 {
		file, second := r.Place(*at)
		m.File, m.FileAt = file, &second
	}
	return m
}

func newJSONManeuver(r timeline.Recording, a rules.Assessment) jsonManeuver {
	m := jsonManeuver{a, newJSONMoment(r, &a.Start), []jsonStep{}, []jsonFinding{}}
	for i, s := range a.Steps {
		m.Steps = append(m.Steps, jsonStep{s, phaseOf(a, i), newJSONMoment(r, s.At)})
	}
	for _, f := range a.Findings {
		m.Findings = append(m.Findings, jsonFinding{f, newJSONMoment(r, f.At)})
	}
	return m
}
