package rules

import (
	"fmt"
	"strings"

	"sidetone/callouts"
)

// GivenUp says how it is known that an attempt was abandoned. Times are seconds of
// the recording, nil for what was not heard.
type GivenUp struct {
	Said  string   // the words it was given up with
	At    *float64 // when they were said
	Again *float64 // when the same maneuver was begun afresh
}

// JudgeAbandoned holds calls[lo:hi] against an attempt that was given up: due are
// the steps up to last, a place in Links, and those that may come at any time.
// Steps not heard are no faults, and holds and nevers that would go on beyond last
// end with the attempt.
func (pl *Plan) JudgeAbandoned(calls []callouts.Call, lo, hi, last int, how GivenUp) Assessment {
	j := newJudging(pl.until(last), calls, lo, hi)
	j.givenUp = &how
	j.choices, j.total = j.solver.solve(&j.problem)
	a := j.assess()
	j.abandon(&a, pl)
	return a
}

// until is the plan without the steps behind a place in Links.
func (pl *Plan) until(last int) *Plan {
	keep := map[string]bool{}
	for i, l := range pl.links {
		if i <= last || l.Anytime {
			for _, s := range l.steps {
				keep[pl.steps[s].ID] = true
			}
		}
	}
	out := &Plan{Procedure: pl.Procedure, Aircraft: pl.Aircraft, calls: map[string][]int{}}
	for _, s := range pl.steps {
		if !keep[s.ID] {
			continue
		}
		for _, id := range s.Calls {
			out.calls[id] = append(out.calls[id], len(out.steps))
		}
		out.steps = append(out.steps, s)
	}
	reached := func(b Bound) Bound {
		if b.Step != "" && pl.Applies(b.Step) && !keep[b.Step] {
			return Bound{}
		}
		return b
	}
	begins := func(b Bound) bool { return reached(b) == b }
	for _, h := range pl.holds {
		if begins(h.From) {
			short := *h.Hold
			short.Until = reached(h.Until)
			out.holds = append(out.holds, planHold{&short, h.step})
		}
	}
	for _, n := range pl.nevers {
		if begins(n.From) {
			short := *n.Never
			short.Until = reached(n.Until)
			out.nevers = append(out.nevers, planNever{&short, n.facts})
		}
	}
	out.order()
	out.link()
	return out
}

// abandon notes that the attempt was given up, where and how that is known.
func (j *judging) abandon(a *Assessment, whole *Plan) {
	how, heard := j.givenUp, 0
	for _, s := range j.required() {
		if j.chosen(j.unit(s), j.choices) >= 0 {
			heard++
		}
	}
	left := whole.asked() - len(j.required())
	a.Abandoned = &Abandonment{At: a.End}
	last := j.last()
	after := ""
	if last >= 0 {
		after = fmt.Sprintf(", after %s at %s", inSentence(j.steps[last].Title), Clock(j.call(last).Start))
	}
	called := fmt.Sprintf("%d of %d calls were heard", heard, whole.asked())
	switch {
	case how.At != nil:
		a.Abandoned.At = *how.At
		a.Abandoned.Reason = fmt.Sprintf("Abandoned at %s with %q%s: %s.", Clock(*how.At), strings.TrimRight(how.Said, ".,;!?"), after, called)
	case how.Again != nil:
		a.Abandoned.Reason = fmt.Sprintf("Abandoned%s, and begun afresh at %s: %s.", after, Clock(*how.Again), called)
	default:
		a.Abandoned.Reason = fmt.Sprintf("Abandoned%s: %s, and none of the %d after it.", after, called, left)
	}
	for i := range a.Steps {
		if s := &a.Steps[i]; s.Waived == OtherAircraft && whole.Applies(s.ID) {
			s.Waived, s.Reason = NotReached, "The attempt was abandoned before it."
		}
	}
}

// asked is how many calls are asked for, of several of which one is enough one.
func (pl *Plan) asked() int {
	n := 0
	for _, l := range pl.links {
		if !l.Optional {
			n++
		}
	}
	return n
}

// last is the step with the latest call, -1 when none was heard.
func (j *judging) last() int {
	last := -1
	for s := range j.steps {
		if j.choices[s].kind != none && !j.steps[s].Optional && (last < 0 || j.choices[s].call > j.choices[last].call) {
			last = s
		}
	}
	return last
}
