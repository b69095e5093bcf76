package rules

import (
	"fmt"
	"slices"

	"sidetone/callouts"
)

// due is when a call should have come, in seconds of the recording.
type due struct{ from, to float64 }

// hintReach is how long before the first call of a maneuver, and after its last, a hint
// may be one at a call of it, in seconds.
const hintReach = 20

// Hint makes steps of an assessment by the plan that were not heard unsure, where a hint
// at their call lies in the time in which it was due. Hints are calls that may have been
// made, in order of Start.
func (pl *Plan) Hint(a *Assessment, hints []callouts.Call) {
	for i := range a.Steps {
		r := &a.Steps[i]
		if r.Verdict != NotHeard || r.due == nil || a.Abandoned != nil {
			continue
		}
		h := pl.hinted(r, a, hints)
		if h == nil {
			continue
		}
		r.Verdict = Unsure
		r.Reason = fmt.Sprintf("Perhaps at %s, in other words: %q; listen there.", Clock(h.Start), h.Heard)
		at := h.Start
		for k := range a.Findings {
			if f := &a.Findings[k]; f.Step == r.ID && f.Kind == string(NotHeard) {
				f.Kind, f.Severity, f.At = string(Unsure), Note, &at
				f.Message = r.Title + ": " + inSentence(r.Reason)
			}
		}
	}
}

// hinted is the likeliest hint at a step's call, or at one that would do instead, nil
// when there is none.
func (pl *Plan) hinted(r *StepResult, a *Assessment, hints []callouts.Call) (best *callouts.Call) {
	from, to := r.due.from, r.due.to
	if from <= a.Start {
		from -= hintReach
	}
	if to >= a.End {
		to += hintReach
	}
	at := slices.IndexFunc(pl.steps, func(s planStep) bool { return s.ID == r.ID })
	for i := range hints {
		h := &hints[i]
		if h.Start < from || h.Start > to || best != nil && h.Confidence <= best.Confidence {
			continue
		}
		for s := range pl.steps {
			st := &pl.steps[s]
			if (s == at || st.Group != 0 && st.Group == pl.steps[at].Group) && st.mayBe(h) && slices.Contains(st.Calls, h.ID) {
				best = h
			}
		}
	}
	return best
}
