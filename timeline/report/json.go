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
	out.Maneuvers = make([]rules.Assessment, len(tl.Maneuvers))
	for i, m := range tl.Maneuvers {
		if m.Steps == nil {
			m.Steps = []rules.StepResult{}
		}
		if m.Findings == nil {
			m.Findings = []rules.Finding{}
		}
		for _, s := range m.Steps {
			if s.Call != nil && (*s.Call < 0 || *s.Call >= len(tl.Calls)) {
				return fmt.Errorf("step %q of %q rests on call %d, but there are %d calls", s.ID, m.Procedure, *s.Call, len(tl.Calls))
			}
		}
		out.Maneuvers[i] = m
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	if err := enc.Encode(&out); err != nil {
		return fmt.Errorf("writing the debrief as JSON: %w", err)
	}
	return nil
}
