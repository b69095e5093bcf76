// Package rulestest makes the calls of invented lessons out of the procedures
// themselves, for tests.
package rulestest

import (
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
// file, with the figures asked for. The first call starts at second start.
// Steps lists the step each call is for.
func Perfect(plan *rules.Plan, start float64) (lesson Lesson, steps []string) {
	for _, s := range plan.Procedure.Steps() {
		if !plan.Applies(s.ID) {
			continue
		}
		c := Call(s.Calls[0], start+Gap*float64(len(lesson)))
		if s.Value != nil {
			v, _, _, ok := plan.Target(s.ID)
			if !ok {
				v = 90 // any figure will do
			}
			c = With(c, s.Value.Of, v)
		}
		lesson, steps = append(lesson, c), append(steps, s.ID)
	}
	return lesson, steps
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
		out[k].Start, out[k].End = l[k].Start, l[k].Start+Length
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
