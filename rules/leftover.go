package rules

import "slices"

// leftOver takes a call that serves no step for the one step it can be, where that was
// not heard, if the explanation is dearer then by no more than costLeftOver and no other
// step loses its call: "power back nineteen hundred" after the trim has two faults, and
// so has "carb heat cold" half a minute late and after the climb; they cost no less than
// silence, but they are no silence.
func (j *judging) leftOver() {
	for s := range j.steps {
		if j.choices[s].kind != none || j.steps[s].Optional || j.problem.group[s] != 0 || !j.hasLeftOver(s) {
			continue
		}
		p := j.problem
		p.none = slices.Clone(p.none)
		p.none[s] = forbidding
		choices, total := j.solver.solveBelow(&p, j.total+costLeftOver)
		if choices == nil || j.silent(choices) >= j.silent(j.choices) {
			continue
		}
		j.problem, j.choices, j.total = p, choices, total
	}
}

// hasLeftOver tells whether a call that was clearly made, with a wrong figure or for a
// step that can be late, can only be that of a step and is not.
func (j *judging) hasLeftOver(s int) bool {
	return slices.ContainsFunc(j.problem.options[s], func(o option) bool {
		c := &j.all[j.usable[o.call]]
		return !c.Perhaps && c.Confidence >= fairlyHeard && len(j.calls[c.ID]) == 1 && (j.steps[s].Within != nil || j.steps[s].costValue(c) >= costOff) &&
			!slices.ContainsFunc(j.choices, func(ch choice) bool { return ch.kind != none && ch.call == o.call })
	})
}

// silent counts the required steps that have no call.
func (j *judging) silent(choices []choice) int {
	n := 0
	for _, s := range j.required() {
		if j.chosen(j.unit(s), choices) < 0 {
			n++
		}
	}
	return n
}
