package rules

import (
	"fmt"
	"slices"

	"sidetone/callouts"
)

// doubt makes the verdict on a faulty step unsure where another explanation,
// almost as cheap, has nothing wrong with it, and says what would decide.
func (j *judging) doubt(s int, r *StepResult) {
	if c, _ := j.otherwise(s, true); c != nil && (r.Verdict == NotHeard || !c.Perhaps || c.Confidence >= mayExcuse) {
		if r.Verdict == NotHeard {
			r.Reason = fmt.Sprintf("Perhaps at %s, heard as %q, but not clearly; listen there.", Clock(c.Start), c.Heard)
			at := c.Start
			r.At = &at
		} else {
			r.Reason = sentences(r.Reason, fmt.Sprintf("But at %s there may be a call that puts it right; listen there.", Clock(c.Start)))
		}
		r.Verdict = Unsure
		return
	}
	c, choices := j.otherwise(s, false)
	if c == nil {
		return
	}
	for _, o := range j.required() {
		was, is := j.chosen(j.unit(o), j.choices), j.chosen(j.unit(o), choices)
		if was < 0 || is >= 0 {
			continue
		}
		_, _, when := j.due(o)
		r.Verdict = Unsure
		r.Reason = sentences(r.Reason, fmt.Sprintf("Or else the call at %s was this one, and %s was not heard; a second call %s would decide it, listen there.",
			Clock(c.Start), inSentence(j.steps[o].Title), when))
		return
	}
}

// mayExcuse is the least confidence of a call that was perhaps made and may put right
// what was heard clearly: a call that was made at the wrong time or with the wrong
// figure is known of, one that is missing is not.
const mayExcuse = 0.25

// otherwise looks for an explanation almost as cheap in which nothing is wrong
// with a step: nor, when clean is set, with any step that nothing is wrong with
// now. Else those may be wrong, but not by being moved: an inversion is an
// inversion whichever of the two steps it is told of. It gives the call the step
// would then have, nil when there is no such explanation.
func (j *judging) otherwise(s int, clean bool) (*callouts.Call, []choice) {
	p := j.problem
	p.options, p.none, p.late = slices.Clone(p.options), slices.Clone(p.none), forbidding
	p.delays, p.like = nil, nil
	bound := make([]bool, len(j.steps)) // the steps nothing may be wrong with
	here := j.unit(s)
	for _, o := range j.required() {
		own := o == here[0]
		unit := j.unit(o)
		if !own && j.wrong(unit, j.choices) {
			for _, m := range unit {
				if j.choices[m].kind == inPlace { // a call in place with a fault excuses nobody by being moved
					p.options[m] = unmoved(p.options[m])
				}
			}
			continue
		}
		if !own && !clean {
			for _, m := range unit {
				p.options[m] = unmoved(p.options[m])
			}
			continue
		}
		hope := false
		for _, m := range unit {
			bound[m] = true
			p.options[m] = j.good(m)
			hope = hope || len(p.options[m]) > 0
			p.none[m] = forbidding
		}
		if !hope {
			return nil, nil
		}
		// What a group of n pays n times when it is silent, it gets back n-1 times.
		p.offset -= cost(len(unit)-1) * (forbidding - costNotHeard)
	}
	for _, d := range j.problem.delays {
		if bound[d.step] || !clean && !j.faulty(d.step, j.choices) {
			p.delays = append(p.delays, d) // those of faulty steps are paid for as they are
		}
	}
	for _, l := range j.problem.like {
		if bound[l.step] {
			price := l.price
			l.price = func(call, of int) cost {
				if k := price(call, of); k < costOff {
					return k
				}
				return forbidding
			}
		}
		p.like = append(p.like, l)
	}
	choices, total := j.solver.solveBelow(&p, j.total+closeCall)
	if choices == nil {
		return nil, nil
	}
	for _, d := range j.problem.delays {
		if !slices.Contains(p.delays, d) && j.problem.mistimed(j.choices, d) {
			total += costLate
		}
	}
	if total-j.total >= closeCall {
		return nil, nil
	}
	for _, o := range j.required() {
		if bound[o] && j.wrong(j.unit(o), choices) {
			return nil, nil
		}
	}
	at := j.chosen(here, choices)
	if at < 0 {
		return nil, nil
	}
	return j.callOf(choices[at]), choices
}

// good are the options of a step in which nothing is wrong with it.
func (j *judging) good(s int) []option {
	st := &j.steps[s]
	var out []option
	for _, o := range j.problem.options[s] {
		c := &j.all[j.usable[o.call]]
		if _, late := j.afterCue(st, c); !late && o.place < j.problem.none[s] && st.costValue(c) < costOff {
			out = append(out, option{o.call, o.place, unlimited})
		}
	}
	return out
}

func unmoved(options []option) []option {
	out := slices.Clone(options)
	for i := range out {
		out[i].move = unlimited
	}
	return out
}

// required are the steps that are asked for, one for each group.
func (j *judging) required() []int {
	var out []int
	for s := range j.steps {
		if !j.steps[s].Optional && j.unit(s)[0] == s {
			out = append(out, s)
		}
	}
	return out
}

// unit are the steps of which a step is one and one is needed, itself among them.
func (j *judging) unit(s int) []int {
	if j.problem.group[s] == 0 {
		return []int{s}
	}
	var out []int
	for o, g := range j.problem.group {
		if g == j.problem.group[s] {
			out = append(out, o)
		}
	}
	return out
}

// chosen is the step of a unit that has a call, -1 when none has.
func (j *judging) chosen(unit []int, choices []choice) int {
	for _, s := range unit {
		if choices[s].kind != none {
			return s
		}
	}
	return -1
}

// wrong tells whether something is wrong with a unit.
func (j *judging) wrong(unit []int, choices []choice) bool {
	s := j.chosen(unit, choices)
	return s < 0 || j.faulty(s, choices)
}

// faulty tells whether something is wrong with a required step.
func (j *judging) faulty(s int, choices []choice) bool {
	ch := choices[s]
	if j.steps[s].Optional {
		return false
	}
	if ch.kind != inPlace || j.aimed(s, choices).costValue(j.callOf(ch)) >= costOff {
		return true
	}
	if _, late := j.afterCue(&j.steps[s], j.callOf(ch)); late {
		return true
	}
	return slices.ContainsFunc(j.problem.delays, func(d delay) bool { return d.step == s && j.problem.mistimed(choices, d) })
}
