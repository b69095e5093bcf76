package rules

import (
	"fmt"
	"math"
	"slices"

	"sidetone/callouts"
)

// Holds and nevers are looked at when it is settled which call is for which
// step. Where they begin or end with a step that was not heard clearly in its
// place, the stretch is taken as short as it can have been: the fault of that
// step is told already, and this is not to be told on top of it.

// edge is where a stretch begins or ends, and how to say that.
type edge struct {
	at   float64
	name string // "" when it is the maneuver that begins or ends
}

// span is the stretch between two bounds of a maneuver that lasts from start to
// end. ok is false when it cannot be said.
func (j *judging) span(from, until Bound, start, end float64) (a, b edge, ok bool) {
	a, b = edge{at: start}, edge{at: math.Nextafter(end, math.Inf(1))}
	if from.Step != "" {
		if a, ok = j.edge(from.Step, false); !ok {
			return a, b, false
		}
	}
	if from.Cue != "" {
		if a, ok = j.cueAfter(from.Cue, start); !ok {
			return a, b, false
		}
	}
	if until.Step != "" {
		if b, ok = j.edge(until.Step, true); !ok {
			return a, b, false
		}
	}
	if until.Cue != "" {
		if b, ok = j.cueAfter(until.Cue, a.at); !ok {
			return a, b, false
		}
	}
	return a, b, a.at < b.at && a.at <= end
}

// edge is the call of a step, or the earliest or latest it can have been.
func (j *judging) edge(step string, earliest bool) (edge, bool) {
	s := j.index(step)
	if s < 0 {
		return edge{}, false
	}
	if o := j.chosen(j.unit(s), j.choices); o >= 0 {
		s = o
	}
	name := inSentence(j.steps[s].Title)
	if c := j.call(s); c != nil && j.choices[s].kind == inPlace && c.Confidence >= fairlyHeard {
		return edge{c.Start, fmt.Sprintf("%s at %s", name, Clock(c.Start))}, true
	}
	from, to, _ := j.due(s)
	if earliest {
		return edge{from, name}, true
	}
	return edge{to, name}, true
}

// cueAfter is the first cue from a second on.
func (j *judging) cueAfter(id string, second float64) (edge, bool) {
	for _, c := range j.cues[id] {
		if c.at >= second-clockSlack {
			return edge{c.at, fmt.Sprintf("%q at %s", spoken(id), Clock(c.at))}, true
		}
	}
	return edge{}, false
}

// made are the calls of some callouts that were clearly made in a stretch.
func (j *judging) made(ids []string, a, b edge) []int {
	var out []int
	for i := j.lo; i < j.hi; i++ {
		c := &j.all[i]
		if c.Stance == callouts.Done && c.Confidence >= fairlyHeard && slices.Contains(ids, c.ID) && c.Start >= a.at && c.Start < b.at {
			out = append(out, i)
		}
	}
	slices.SortStableFunc(out, func(x, y int) int {
		switch {
		case j.all[x].Start < j.all[y].Start:
			return -1
		case j.all[x].Start > j.all[y].Start:
			return 1
		}
		return 0
	})
	return out
}

// stepOf is the step a call was chosen for, -1 when there is none.
func (j *judging) stepOf(call int) int {
	return slices.IndexFunc(j.choices, func(ch choice) bool { return ch.kind != none && j.usable[ch.call] == call })
}

// watchHolds notes, once for each hold, the figure that was furthest outside
// its limits.
func (j *judging) watchHolds(start, end float64) {
	for i := range j.holds {
		h := &j.holds[i]
		a, b, ok := j.span(h.From, h.Until, start, end)
		if !ok {
			continue
		}
		st := &h.step
		if v := h.Hold.Value.AsCalledAt; v != "" {
			of := j.index(v)
			if of < 0 || j.call(of) == nil || j.call(of).Confidence < fairlyHeard {
				continue
			}
			st = st.as(j.steps[of].spokenAt(j.call(of)), j.call(of))
		}
		if !st.hasTarget {
			continue
		}
		worst, most, outside, back := -1, 0.0, 0, -1
		for _, i := range j.made(h.Calls, a, b) {
			if s := j.stepOf(i); s >= 0 && j.aimed(s, j.choices).hasTarget {
				continue // it is judged there
			}
			_, miss, _, ok := st.reading(&j.all[i])
			switch {
			case !ok:
			case miss == 0:
				if worst >= 0 && back < 0 {
					back = i
				}
			default:
				outside++
				if miss > most {
					worst, most, back = i, miss, -1
				}
			}
		}
		if worst < 0 {
			continue
		}
		c := &j.all[worst]
		at := c.Start
		also := ""
		if outside > 1 {
			also = fmt.Sprintf(", the furthest of %d", outside)
		}
		m := fmt.Sprintf("%s: %s was called at %s%s, %s.", h.Title, figure(*st.spokenAt(c), st.Value.Of), Clock(at), also, st.wanted())
		if back >= 0 {
			o := &j.all[back]
			m = sentences(m, fmt.Sprintf("At %s it was %s again.", Clock(o.Start), figure(*st.spokenAt(o), st.Value.Of)))
		} else {
			m = sentences(m, "No figure within limits was called after it.")
		}
		j.found = append(j.found, Finding{Step: h.ID, Kind: string(OffValue), Severity: h.Severity, At: &at,
			Message: sentences(m, h.Teach), Reference: j.source(st.Reference, st.facts)})
	}
}

// watchNevers notes, once for each never, the first call that was made where it
// must not be, unless the order has told of it already.
func (j *judging) watchNevers(start, end float64) {
	for _, n := range j.nevers {
		a, b, ok := j.span(n.From, n.Until, start, end)
		if !ok {
			continue
		}
		for _, i := range j.made(n.Calls, a, b) {
			c := &j.all[i]
			if a.name != "" && c.Start <= a.at {
				continue // that is where it begins
			}
			s := j.stepOf(i)
			if s >= 0 && j.choices[s].kind == moved {
				continue
			}
			at := c.Start
			// That it came twice is the lesser part of it.
			j.found = slices.DeleteFunc(j.found, func(f Finding) bool {
				return f.Kind == string(OutOfOrder) && f.Severity == Note && f.At != nil && *f.At == at && s < 0
			})
			where := ""
			switch {
			case a.name != "" && b.name != "":
				where = fmt.Sprintf(", between %s and %s", a.name, b.name)
			case a.name != "":
				where = ", after " + a.name
			case b.name != "":
				where = ", before " + b.name
			}
			j.found = append(j.found, Finding{Step: n.ID, Kind: string(OutOfOrder), Severity: n.Severity, At: &at,
				Message:   sentences(fmt.Sprintf("%s: %s at %s%s.", n.Title, wasSaid(c), Clock(at), where), n.Teach),
				Reference: j.source(n.Reference, n.facts)})
			break
		}
	}
}

// wasSaid tells of a call by its words, or by who added it.
func wasSaid(c *callouts.Call) string {
	if c.AddedBy != "" {
		return "a call was added by " + c.AddedBy
	}
	return fmt.Sprintf("%q was heard", c.Heard)
}
