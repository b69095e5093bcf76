package rules

import "sidetone/callouts"

// A step may ask for the figure that was called at another step. How much that
// costs depends on the calls of both.

// comparedWith is the step whose figure step s asks for, -1 for none.
func (j *judging) comparedWith(s int) int {
	if v := j.steps[s].Value; v != nil && v.AsCalledAt != "" {
		return j.index(v.AsCalledAt)
	}
	return -1
}

// aimed is a step with the figure it asks for filled in, where that is called at
// another step.
func (j *judging) aimed(s int, choices []choice) *planStep {
	st := &j.steps[s]
	of := j.comparedWith(s)
	if of < 0 {
		return st
	}
	c := j.callOf(choices[of])
	if c == nil {
		return st
	}
	return st.as(j.steps[of].spokenAt(c), c)
}

// as is a step that asks for the figure of a call, itself when there is none.
func (s *planStep) as(v *float64, c *callouts.Call) *planStep {
	if v == nil {
		return s
	}
	t := *s
	t.aim(*v)
	start := c.Start
	t.asAt = &start
	return &t
}

// spokenAt is the figure of a call as taken for a step, nil when it has none.
func (s *planStep) spokenAt(c *callouts.Call) *float64 {
	v, _, _, ok := s.reading(c)
	if !ok {
		return nil
	}
	return &v
}

// unlike is what it costs more to take a call for step s when another call is
// taken for step of, than it does when nobody knows the figure. Where either step
// is optional that does not sway what is said of required ones, nor is it
// cheaper to pass over the other call.
func (j *judging) unlike(s, of, call, ofCall int) cost {
	c, o := &j.all[j.usable[call]], &j.all[j.usable[ofCall]]
	st := &j.steps[s]
	k := st.as(j.steps[of].spokenAt(o), o).costValue(c) - st.costValue(c)
	if st.Optional || j.steps[of].Optional {
		k /= optionalPart
	}
	return max(0, k)
}
