package rules

import (
	"slices"

	"sidetone/callouts"
)

// Procedure is the ordered list of calls a maneuver is flown by, as read from
// a procedure file. It is made by ParseProcedure and not changed afterwards.
type Procedure struct {
	ID      string
	Title   string
	Summary string
	// Aircraft is a condition over aircraft facts; "" means any aircraft.
	Aircraft string
	// NeverWith are callouts that are not made in this maneuver: where one is
	// heard, something else is flown.
	NeverWith []string
	Phases    []Phase

	steps  []*Step
	before [][]bool // before[a][b]: step a comes before step b, transitively
	pos    *positions
}

// Phase is a named stretch of a procedure. Phases follow one another.
type Phase struct {
	Title string
	Steps []*Step
}

// Step is one thing to be called.
type Step struct {
	ID    string
	Title string
	// Calls are the callout ids that satisfy the step, any one of them.
	Calls []string
	// Value is what figure the call should carry, nil when none matters.
	Value *Expectation
	// After names the steps this one must follow. When the file leaves it out
	// it is nil, and the step follows the one above it.
	After []string
	// Anytime steps belong nowhere in the order.
	Anytime bool
	// Optional steps are shown when heard and never held against anyone.
	Optional bool
	// Repeats marks calls rightly made earlier as well, such as trimming after
	// each stage of flap.
	Repeats bool
	// When is a condition over aircraft facts; "" means always.
	When string
	// Within asks for the call soon after another, nil when it may take its time.
	Within *Within
	// Severity is how much a fault in this step matters.
	Severity Severity
	// Reference is the source of the step, Teach one sentence for the student.
	Reference string
	Teach     string

	phase int
	index int
	pos   stepPositions
}

// Expectation is the figure a call should carry, in the unit of its quantity.
type Expectation struct {
	Of callouts.Quantity
	// Target is an expression over aircraft facts giving a number; "" when any
	// figure will do.
	Target string
	// Plus and Minus are how far above and below the target is still good.
	Plus, Minus float64
	// Optional figures need not be said with the call.
	Optional bool
}

// Within asks for a call to start at most Seconds after the call of step Of did.
type Within struct {
	Seconds float64
	Of      string
}

// Steps are all steps, in the order of the file.
func (p *Procedure) Steps() []*Step { return p.steps }

// Before tells whether the order has step a before step b, by their ids.
func (p *Procedure) Before(a, b string) bool {
	at := func(id string) int { return slices.IndexFunc(p.steps, func(s *Step) bool { return s.ID == id }) }
	i, j := at(a), at(b)
	return i >= 0 && j >= 0 && p.before[i][j]
}

// Phase is the title of the phase the step is in.
func (p *Procedure) Phase(s *Step) string { return p.Phases[s.phase].Title }

// Callouts are the ids of all callouts the procedure listens for, sorted.
func (p *Procedure) Callouts() []string {
	var ids []string
	for _, s := range p.steps {
		ids = append(ids, s.Calls...)
	}
	slices.Sort(ids)
	return slices.Compact(ids)
}

// CheckCallouts reports the first step that listens for a callout not in known,
// with file, line and column and the likeliest id that was meant.
func (p *Procedure) CheckCallouts(known []string) error {
	for i, id := range p.NeverWith {
		if !slices.Contains(known, id) {
			return p.pos.errorf(p.pos.never[i], "no callout is called %q%s", id, meant(id, known))
		}
	}
	for _, s := range p.steps {
		for i, id := range s.Calls {
			if !slices.Contains(known, id) {
				return p.pos.errorf(s.pos.calls[i], "step %q: no callout is called %q%s", s.ID, id, meant(id, known))
			}
		}
	}
	return nil
}
