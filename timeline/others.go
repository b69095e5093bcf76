package timeline

import (
	"slices"
	"strings"

	"sidetone/callouts"
	"sidetone/rules"
)

// "Going around" ends a slow flight, unless it is another airplane's.

const (
	ownBefore = 45.0 // seconds before a radio call of our own in which we do what it says
	ownAfter  = 12.0 // and seconds after it
	ownCalls  = 2    // how many calls of that there are at least
)

// rulesOut tells whether call i shows that it is not this plan that is flown.
func (s *search) rulesOut(p *rules.Plan, i int) bool {
	c := &s.calls[i]
	return c.Stance == callouts.Done && c.Confidence >= certainly && !s.others[i] && slices.Contains(p.Procedure.NeverWith, c.ID)
}

// elsewhere tells, for each call, whether it was made on the radio by others, as it
// seems: by nobody in the airplane as far as is known, and with nothing of the
// procedure around it that it is a call of.
func (s *search) elsewhere(radio []bool) []bool {
	out := make([]bool, len(s.calls))
	for i, on := range radio {
		if !on || !slices.ContainsFunc(s.tracks, func(t *track) bool { return slices.Contains(t.plan.Procedure.NeverWith, s.calls[i].ID) }) {
			continue
		}
		switch strings.ToLower(s.calls[i].Speaker) {
		case string(rules.Student), string(rules.Instructor):
			continue
		}
		out[i] = !slices.ContainsFunc(s.tracks, func(t *track) bool { return s.flown(t, i) })
	}
	return out
}

// flown tells whether a call stands among others of a plan that requires it: first
// the airplane is flown, then the radio call is made.
func (s *search) flown(t *track, i int) bool {
	required := func(k int) bool { return !t.links[k].Optional }
	own := t.listens[s.calls[i].ID]
	if !slices.ContainsFunc(own, required) {
		return false
	}
	heard := map[int]bool{}
	for j := range s.calls {
		c := &s.calls[j]
		if after := c.Start - s.calls[i].Start; after < -ownBefore || after > ownAfter || c.Stance != callouts.Done {
			continue
		}
		for _, k := range t.listens[c.ID] {
			if required(k) && !slices.Contains(own, k) && t.plan.Fit(t.links[k], c) < 1 {
				heard[k] = true
			}
		}
	}
	return len(heard) >= ownCalls
}
