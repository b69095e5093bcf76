package rules

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"sidetone/callouts"
)

// ErrOtherAircraft is returned by Bind when a procedure is not for an aircraft.
var ErrOtherAircraft = errors.New("the procedure is not for this aircraft")

// Plan is a procedure made out for one aircraft: conditions decided, targets
// worked out. It is safe for concurrent use.
type Plan struct {
	Procedure *Procedure
	Aircraft  *Aircraft

	steps  []planStep // those that apply, in the order of the file
	before [][]bool   // over steps, transitive
	rank   []int      // over steps: place in an order that respects before
	calls  map[string][]int
	links  []Link
	holds  []planHold
	nevers []planNever
}

// planStep is a step that applies to the aircraft.
type planStep struct {
	*Step
	hasTarget        bool
	target, low, top float64
	facts            []string // those that decide whether the step applies and what its figure is
	asAt             *float64 // when the figure is that of another step: when it was called
}

// planHold is a hold that applies to the aircraft. Its step asks for the figure.
type planHold struct {
	*Hold
	step planStep
}

// planNever is a never that applies to the aircraft.
type planNever struct {
	*Never
	facts []string // those that decide whether it does
}

// aim sets what figure is asked for.
func (s *planStep) aim(target float64) {
	s.hasTarget, s.target, s.low, s.top = true, target, target-s.Value.Minus, target+s.Value.Plus
}

// Bind makes a procedure out for an aircraft. Errors point into the procedure
// file, where it asks for a fact the aircraft does not have or that is of the
// wrong kind; ErrOtherAircraft says that the procedure is for others.
func Bind(p *Procedure, ac *Aircraft) (*Plan, error) {
	f, err := newFacts(ac)
	if err != nil {
		return nil, err
	}
	b := binding{p: p, facts: f}
	ok := b.condition("aircraft", p.Aircraft, p.pos.aircraft)
	if len(b.errs) == 0 && !ok {
		return nil, fmt.Errorf("procedure %q, aircraft %q: %w", p.ID, ac.ID, ErrOtherAircraft)
	}
	plan := &Plan{Procedure: p, Aircraft: ac, calls: map[string][]int{}}
	for _, s := range p.steps {
		if !b.condition(fmt.Sprintf("step %q, when", s.ID), s.When, s.pos.when) {
			continue
		}
		ps := planStep{Step: s, facts: b.used}
		if s.Value != nil {
			b.target(&ps, fmt.Sprintf("step %q, target", s.ID), s.pos.target)
		}
		for _, id := range s.Calls {
			plan.calls[id] = append(plan.calls[id], len(plan.steps))
		}
		plan.steps = append(plan.steps, ps)
	}
	for _, h := range p.Holds {
		if b.condition(fmt.Sprintf("hold %q, when", h.ID), h.When, h.pos.when) {
			ps := planStep{Step: &Step{ID: h.ID, Title: h.Title, Calls: h.Calls, Value: &h.Value, Reference: h.Reference}, facts: b.used}
			b.target(&ps, fmt.Sprintf("hold %q, target", h.ID), h.pos.target)
			plan.holds = append(plan.holds, planHold{h, ps})
		}
	}
	for _, n := range p.Nevers {
		if b.condition(fmt.Sprintf("never %q, when", n.ID), n.When, n.pos.when) {
			plan.nevers = append(plan.nevers, planNever{n, b.used})
		}
	}
	if len(b.errs) > 0 {
		return nil, together(b.errs)
	}
	plan.order()
	plan.link()
	return plan, nil
}

// binding decides what depends on the facts, and collects what is wrong with that.
type binding struct {
	p     *Procedure
	facts *facts
	used  []string // the facts of the last condition
	errs  []*SourceError
}

func (b *binding) fail(what, src string, at place, column int, err error) {
	b.errs = append(b.errs, b.p.pos.errorf(place{at.line, at.column + column}, "%s %q: %v", what, src, err))
}

// readable tells whether an expression can be read; where not, the parser told so.
func readable(src string) bool {
	_, bad := badExpression(src)
	return bad == ""
}

func (b *binding) condition(what, src string, at place) bool {
	ok, used, col, err := b.facts.condition(src)
	if err != nil && readable(src) {
		b.fail(what, src, at, col, err)
	}
	b.used = used
	return ok
}

func (b *binding) target(s *planStep, what string, at place) {
	if s.Value.Target == "" {
		return
	}
	t, used, col, err := b.facts.number(s.Value.Target, s.Value.Of.Unit())
	if err != nil && !readable(s.Value.Target) {
		return
	}
	if err != nil {
		b.fail(what, s.Value.Target, at, col, err)
		return
	}
	s.aim(t)
	s.facts = append(s.facts, used...)
}

// Target is the figure a step asks for on this aircraft and the limits it is
// still good within, in the unit of its quantity. ok is false when it asks for
// none, or for one that is called at another step.
func (pl *Plan) Target(step string) (target, low, high float64, ok bool) {
	for i := range pl.steps {
		if s := &pl.steps[i]; s.ID == step && s.hasTarget {
			return s.target, s.low, s.top, true
		}
	}
	return 0, 0, 0, false
}

// Verify is the caution to look the facts up that decide whether a step is flown in
// this aircraft and what its figure is, "" where none do.
func (pl *Plan) Verify(step string) string {
	return pl.verify(pl.Facts(step))
}

func (pl *Plan) verify(facts []string) string {
	if len(facts) == 0 {
		return ""
	}
	var list []string
	for _, f := range facts {
		list = append(list, strings.ReplaceAll(f, "_", " ")+" "+pl.Aircraft.Facts[f].String())
	}
	return "VERIFY: POH (" + strings.Join(list, ", ") + ")"
}

// source is a reference, with the caution where facts decide.
func (pl *Plan) source(reference string, facts []string) string {
	if v := pl.verify(slices.Compact(slices.Sorted(slices.Values(facts)))); v != "" {
		return reference + "; " + v
	}
	return reference
}

// Facts are the names of the facts that decide whether a step is flown in this
// aircraft and what its figure is, sorted.
func (pl *Plan) Facts(step string) []string {
	for i := range pl.steps {
		if s := &pl.steps[i]; s.ID == step {
			return slices.Compact(slices.Sorted(slices.Values(s.facts)))
		}
	}
	return nil
}

// Applies tells whether a step, hold or never applies to this aircraft.
func (pl *Plan) Applies(id string) bool {
	return slices.ContainsFunc(pl.steps, func(s planStep) bool { return s.ID == id }) ||
		slices.ContainsFunc(pl.holds, func(h planHold) bool { return h.ID == id }) ||
		slices.ContainsFunc(pl.nevers, func(n planNever) bool { return n.ID == id })
}

// order restricts the order of the procedure to the steps that apply. It is
// transitive already, so leaving a step out loses nothing.
func (pl *Plan) order() {
	n := len(pl.steps)
	pl.before, pl.rank = make([][]bool, n), make([]int, n)
	for a := range n {
		pl.before[a] = make([]bool, n)
		for b := range n {
			pl.before[a][b] = pl.Procedure.before[pl.steps[a].index][pl.steps[b].index]
		}
	}
	placed := make([]bool, n)
	for r := range n {
		for s := range n {
			if placed[s] || waits(pl.before, placed, s) {
				continue
			}
			pl.rank[s], placed[s] = r, true
			break
		}
	}
}

func waits(before [][]bool, placed []bool, s int) bool {
	for a := range before {
		if before[a][s] && !placed[a] {
			return true
		}
	}
	return false
}

// reading picks the reading of a call's figure that suits the step best. ok is
// false when the call carries no figure of the step's quantity; miss is how far
// outside the tolerance the figure lies, 0 when it is good.
func (s *planStep) reading(c *callouts.Call) (value, miss float64, rank int, ok bool) {
	if len(c.Readings) == 0 && c.Value != nil && (c.Unit == "" || c.Unit == s.Value.Of.Unit()) {
		return *c.Value, s.miss(*c.Value), 0, true
	}
	for i, r := range c.Readings {
		if r.Quantity != s.Value.Of {
			continue
		}
		if m := s.miss(r.Value); !ok || m < miss {
			value, miss, rank, ok = r.Value, m, i, true
		}
	}
	return value, miss, rank, ok
}

// miss is how far a figure lies outside the tolerance of the step.
func (s *planStep) miss(v float64) float64 {
	if !s.hasTarget {
		return 0
	}
	if s.Value.Of == callouts.Heading {
		d := math.Remainder(v-s.target, 360) // the short way round
		return max(0, d-s.Value.Plus, -d-s.Value.Minus)
	}
	return max(0, v-s.top, s.low-v)
}
