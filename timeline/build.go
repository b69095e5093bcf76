package timeline

import (
	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/rules"
)

// Build puts a lesson together. Lists that are missing become empty ones, since
// the JSON form has no null lists. What the recording is too poor for is not said.
func Build(rec Recording, t *transcript.Transcript, calls []callouts.Call, maneuvers []rules.Assessment, notes ...string) *Timeline {
	tl := &Timeline{
		Version:    Version,
		Recording:  rec,
		Transcript: []transcript.Utterance{},
		Maneuvers:  append([]rules.Assessment{}, maneuvers...),
		Notes:      notes,
	}
	if t != nil {
		tl.Transcript = append(tl.Transcript, t.Utterances...)
	}
	for i := range tl.Transcript {
		if tl.Transcript[i].Words == nil {
			tl.Transcript[i].Words = []transcript.Word{}
		}
	}
	for i := range tl.Maneuvers {
		m := &tl.Maneuvers[i]
		m.Steps = append([]rules.StepResult{}, m.Steps...) // doubt changes them
		m.Findings = append([]rules.Finding{}, m.Findings...)
		if m.Remarks == nil {
			m.Remarks = []string{}
		}
	}
	tl.Calls = HeardOnly(calls, tl.Maneuvers)
	rec.doubt(tl.Maneuvers)
	doubtTimes(tl.Maneuvers, tl.Calls)
	return tl
}
