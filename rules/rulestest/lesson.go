// Package rulestest makes the calls of invented lessons out of the procedures
// themselves, for tests.
package rulestest

import (
	"slices"

	"sidetone/callouts"
	"sidetone/rules"
)

// Gap is the time from one call of a lesson to the next, and Length that of a
// call, in seconds.
const (
	Gap    = 6.0
	Length = 1.5
)

// Lesson is a list of calls that is easy to change.
type Lesson []callouts.Call

// Perfect calls every step that applies to the aircraft, in the order of the
// file, with the figures asked for and in time. Of several steps of which one is
// needed it calls the first, or the one that is preferred. The first call starts
// at second start. Steps lists the step each call is for.
func Perfect(plan *rules.Plan, start float64, preferred ...string) (lesson Lesson, steps []string) {
	flown := chosen(plan, preferred)
	gap := Gap
	place := map[string]int{}
	for i, s := range flown {
		place[s.ID] = i
		if s.Within == nil {
			continue
		}
		if of, ok := place[s.Within.Of]; ok {
			// One more gap than there is, so that a call may also be moved.
			gap = min(gap, s.Within.Seconds/float64(i-of+1))
		}
	}
	at := start
	for i, s := range flown {
		if i > 0 {
			at += gap
		}
		if s.NotBefore != nil {
			if of, ok := place[s.NotBefore.Of]; ok && of < i {
				at = max(at, lesson[of].Start+s.NotBefore.Seconds)
			}
		}
		c := Call(s.Calls[0], at)
		c.End = c.Start + min(Length, gap/2)
		if s.Value != nil {
			v, _, _, ok := plan.Target(s.ID)
			if of, called := place[s.Value.AsCalledAt]; called && of < i && lesson[of].Value != nil {
				v = *lesson[of].Value
			} else if !ok {
				v = 90 // any figure will do
			}
			c = With(c, s.Value.Of, v)
		}
		lesson, steps = append(lesson, c), append(steps, s.ID)
	}
	return lesson, steps
}

// chosen are the steps that are flown: all that apply, but one of each group.
func chosen(plan *rules.Plan, preferred []string) []*rules.Step {
	group := map[int]string{}
	for _, s := range plan.Procedure.Steps() {
		if plan.Applies(s.ID) && s.Group > 0 && (group[s.Group] == "" || slices.Contains(preferred, s.ID)) {
			group[s.Group] = s.ID
		}
	}
	var out []*rules.Step
	for _, s := range plan.Procedure.Steps() {
		if plan.Applies(s.ID) && (s.Group == 0 || group[s.Group] == s.ID) {
			out = append(out, s)
		}
	}
	return out
}

// Call is a clear call without a figure.
func Call(id string, start float64) callouts.Call {
	return callouts.Call{ID: id, Start: start, End: start + Length, Stance: callouts.Done, Confidence: 0.95, Heard: id}
}

// With gives a call a figure.
func With(c callouts.Call, q callouts.Quantity, v float64) callouts.Call {
	c.Value, c.Unit, c.Readings = &v, q.Unit(), []callouts.Reading{{Quantity: q, Value: v}}
	return c
}

// Without is the lesson without call i.
func (l Lesson) Without(i int) Lesson {
	return append(append(Lesson{}, l[:i]...), l[i+1:]...)
}

// Moved is the lesson with call i made just before call to, all other calls in
// their order and the times as they were.
func (l Lesson) Moved(i, to int) Lesson {
	c := l[i]
	out := l.Without(i)
	out = append(out[:to], append(Lesson{c}, out[to:]...)...)
	for k := range out {
		out[k].Start, out[k].End = l[k].Start, l[k].End
	}
	return out
}

// Replaced is the lesson with call i replaced by c, at the time of i.
func (l Lesson) Replaced(i int, c callouts.Call) Lesson {
	out := append(Lesson{}, l...)
	c.Start, c.End = l[i].Start, l[i].End
	out[i] = c
	return out
}

// Shifted is the lesson some seconds later.
func (l Lesson) Shifted(seconds float64) Lesson {
	out := append(Lesson{}, l...)
	for i := range out {
		out[i].Start += seconds
		out[i].End += seconds
	}
	return out
}
