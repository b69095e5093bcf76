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
// made, in order of Start. Of steps that are unsure already it is only noted how likely
// a hint at them is.
func (pl *Plan) Hint(a *Assessment, hints []callouts.Call) {
	for i := range a.Steps {
		r := &a.Steps[i]
		doubted := r.Verdict == Unsure && r.Call == nil
		if r.Verdict != NotHeard && !doubted || r.due == nil || a.Abandoned != nil {
			continue
		}
		h, st := pl.hinted(r, a, hints)
		if h == nil {
			continue
		}
		if h.ID != callouts.Unclear {
			r.hinted = st.likely(h)
		}
		if doubted {
			continue
		}
		r.Verdict = Unsure
		switch {
		case h.ID == callouts.Unclear:
			r.Reason = sentences(r.Reason, fmt.Sprintf("But at %s something was said that was not understood, written as %q.", Clock(h.Start), h.Heard))
		case r.hinted < faintHint:
			r.Reason = sentences(r.Reason, fmt.Sprintf("Or it is what was said at %s: %q.", Clock(h.Start), h.Heard))
		default:
			r.Reason = fmt.Sprintf("Perhaps at %s, in other words: %q; listen there.", Clock(h.Start), h.Heard)
		}
		at := h.Start
		for k := range a.Findings {
			if f := &a.Findings[k]; f.Step == r.ID && f.Kind == string(NotHeard) {
				f.Kind, f.Severity, f.At = string(Unsure), Note, &at
				f.Message = r.Title + ": " + inSentence(r.Reason)
			}
		}
	}
}

const (
	// leastHint is the least that a hint must be believed to be one at a step, and rightFigure
	// how much likelier it is, as odds, where it has the very figure the step asks for.
	leastHint, rightFigure = 0.03, 15
	// faintHint is the probability below which a hint is told beside what was not heard.
	faintHint = 0.1
	// believed is the least confidence of a hint that is as good as a call where a
	// procedure misses that call, and sure how much it is believed there. Of 29 such on
	// the tuning lessons, from their words and their recordings at 20 dB, 26 were calls
	// of that step in time.
	believed, sure = 0.3, 0.8
	// expecting is how much likelier a call is where a procedure expects it, and it is the
	// one thing missing, than its confidence says, as odds. On the same lessons 19 of the
	// 21 steps were called that rested on calls of 0.05 to 0.5 with no other fault.
	expecting = 20
)

// Expected gives the calls that were made, for all one can tell, since an assessment by
// the plan lacks nothing else: those steps rest on that were not heard clearly and were
// made in place, and hints at what is missing.
func (pl *Plan) Expected(a *Assessment, calls, hints []callouts.Call) (out []callouts.Call) {
	if a.Abandoned != nil {
		return nil
	}
	for i := range a.Steps {
		r := &a.Steps[i]
		switch {
		case r.Call != nil && r.inPlace:
			c := calls[*r.Call]
			if slices.ContainsFunc(calls, func(o callouts.Call) bool { return o.Stance == callouts.Asked && c.Again(o) }) {
				continue // a question is no answer
			}
			if c.Confidence = min(sure, likelier(c.Confidence, expecting)); c.Confidence >= fairlyHeard {
				c.Perhaps, c.Expected = false, true
				out = append(out, c)
			}
		case r.Call == nil && r.due != nil:
			h, st := pl.hinted(r, a, hints)
			if h != nil && h.ID != callouts.Unclear && st.likely(h) >= believed && st.costValue(h) < costOff {
				c := *h
				c.Perhaps, c.Expected, c.Confidence = false, true, sure
				out = append(out, c)
			}
		}
	}
	return out
}

// likely is the probability that a hint is at the call of the step.
func (s *planStep) likely(h *callouts.Call) float64 {
	p := h.Confidence
	if s.Value == nil || !s.hasTarget {
		return p
	}
	if _, miss, _, ok := s.reading(h); ok && miss == 0 {
		return likelier(p, rightFigure)
	}
	return p
}

// likelier is a probability whose odds are so many times those of p.
func likelier(p, times float64) float64 { return times * p / (times*p + 1 - p) }

// Likely is the likeliest a hint is at a call of the link.
func (pl *Plan) Likely(l Link, h *callouts.Call) (p float64) {
	for _, s := range l.steps {
		if st := &pl.steps[s]; slices.Contains(st.Calls, h.ID) {
			p = max(p, st.likely(h))
		}
	}
	return p
}

// hinted is the likeliest hint at a step's call, or at one that would do instead, nil
// when there is none, and the step it would be for.
func (pl *Plan) hinted(r *StepResult, a *Assessment, hints []callouts.Call) (best *callouts.Call, step *planStep) {
	from, to := r.due.from, r.due.to
	if from <= a.Start {
		from -= hintReach
	}
	if to >= a.End {
		to += hintReach
	}
	top := 0.0
	var least *callouts.Call // what was least understood
	at := slices.IndexFunc(pl.steps, func(s planStep) bool { return s.ID == r.ID })
	for i := range hints {
		h := &hints[i]
		if h.Start < from || h.Start > to {
			continue
		}
		if h.ID == callouts.Unclear {
			if h.End <= to && pl.steps[at].mayBe(h) && (least == nil || h.Confidence < least.Confidence) {
				least = h
			}
			continue
		}
		for s := range pl.steps {
			st := &pl.steps[s]
			if (s == at || st.Group != 0 && st.Group == pl.steps[at].Group) && st.mayBe(h) && slices.Contains(st.Calls, h.ID) {
				if p := st.likely(h); p >= leastHint && p > top {
					best, step, top = h, st, p
				}
			}
		}
	}
	if best == nil {
		return least, &pl.steps[at]
	}
	return best, step
}
