package report

import (
	"encoding/json"
	"fmt"

	"sidetone/timeline"
)

// ReadJSON reads what JSON wrote. What the JSON does not have is not in the result:
// the notes, the readings of figures, the utterance of each call. It refuses steps
// that rest on calls there are none of.
func ReadJSON(b []byte) (*timeline.Timeline, error) {
	var tl timeline.Timeline
	if err := json.Unmarshal(b, &tl); err != nil {
		return nil, fmt.Errorf("reading a debrief: %w", err)
	}
	if tl.Version != timeline.Version {
		return nil, fmt.Errorf("the debrief is of version %d, this program reads version %d", tl.Version, timeline.Version)
	}
	var phases struct {
		Maneuvers []struct {
			Steps []struct {
				Phase string `json:"phase"`
			} `json:"steps"`
		} `json:"maneuvers"`
	}
	if err := json.Unmarshal(b, &phases); err != nil {
		return nil, fmt.Errorf("reading a debrief: %w", err)
	}
	for i := range tl.Maneuvers {
		m := &tl.Maneuvers[i]
		for j, s := range m.Steps {
			m.Phases = append(m.Phases, phases.Maneuvers[i].Steps[j].Phase)
			if s.Call != nil && (*s.Call < 0 || *s.Call >= len(tl.Calls)) {
				return nil, fmt.Errorf("step %q of %q rests on call %d, but there are %d calls", s.ID, m.Procedure, *s.Call, len(tl.Calls))
			}
		}
	}
	return &tl, nil
}
