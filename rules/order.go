package rules

import (
	"slices"
	"strings"
)

// link works out which step comes before which: phases follow one another, and
// within a phase a step follows those it names, or the one above it when it
// names none. Where one of several steps is needed they do not follow each
// other, and the step below follows all of them. Steps that may come at any time
// are left out of all that unless another step names them.
func (r *reader) link(p *Procedure) {
	n := len(p.steps)
	byID := make(map[string]int, n)
	var ids []string
	for i, s := range p.steps {
		if _, twice := byID[s.ID]; !twice {
			byID[s.ID] = i
		}
		ids = append(ids, s.ID)
	}
	lookup := func(id string, at place, format string, args ...any) int {
		i, ok := byID[id]
		if !ok {
			r.fail(at, format+", which is no step%s", append(args, id, Meant(id, ids))...)
			return -1
		}
		return i
	}
	next := make([][]int, n) // next[a]: the steps told to follow a
	for i, s := range p.steps {
		for k, id := range s.After {
			if a := lookup(id, s.pos.after[k], "step %q comes after %q", s.ID); a >= 0 {
				next[a] = append(next[a], i)
			}
		}
		for _, w := range []struct {
			*Within
			at     place
			before bool
		}{{s.Within, s.pos.within, false}, {s.NotBefore, s.pos.notBefore, true}} {
			if w.Within == nil || w.Of == "" {
				continue
			}
			of := lookup(w.Of, w.at, "step %q is due after %q", s.ID)
			switch {
			case of == i:
				r.fail(w.at, "step %q is due after itself", s.ID)
			case of >= 0 && w.before:
				next[of] = append(next[of], i)
			}
		}
		if s.Value != nil && s.Value.AsCalledAt != "" {
			r.calledAt(p, s.Value, i, lookup(s.Value.AsCalledAt, s.pos.asCalledAt, "step %q has the figure of %q", s.ID), s.pos.asCalledAt)
		}
		if s.Anytime {
			continue
		}
		for j, o := range p.steps {
			if !o.Anytime && o.phase < s.phase {
				next[j] = append(next[j], i)
			}
		}
		if s.After != nil {
			continue
		}
		above := 0 // the group above
		for j := i - 1; j >= 0 && p.steps[j].phase == s.phase; j-- {
			o := p.steps[j]
			if o.Anytime || s.Group > 0 && o.Group == s.Group {
				continue
			}
			if above > 0 && o.Group != above {
				break
			}
			next[j] = append(next[j], i)
			if o.Group == 0 {
				break
			}
			above = o.Group
		}
	}
	for _, h := range p.Holds {
		r.stretch(lookup, "hold", h.ID, h.From, h.Until, &h.pos)
		if h.Value.AsCalledAt != "" {
			r.calledAt(p, &h.Value, -1, lookup(h.Value.AsCalledAt, h.pos.asCalledAt, "hold %q has the figure of %q", h.ID), h.pos.asCalledAt)
		}
	}
	for _, v := range p.Nevers {
		r.stretch(lookup, "never", v.ID, v.From, v.Until, &v.pos)
	}
	p.before = make([][]bool, n)
	for a := range p.before {
		p.before[a] = make([]bool, n)
		reach(next, a, p.before[a])
	}
	for i, s := range p.steps {
		if !p.before[i][i] {
			continue
		}
		at := place{}
		for k, id := range s.After {
			if a, ok := byID[id]; ok && (a == i || p.before[i][a]) {
				at = s.pos.after[k]
			}
		}
		if w := s.NotBefore; w != nil && at == (place{}) {
			if a, ok := byID[w.Of]; ok && a != i && p.before[i][a] {
				at = s.pos.notBefore
			}
		}
		if at == (place{}) {
			continue // told at the step of the circle that closes it
		}
		r.fail(at, "the order goes in a circle: %s", strings.Join(circle(p, next, i), " before "))
		break // the others are on the same one, or told when this one is mended
	}
}

func (r *reader) stretch(lookup func(string, place, string, ...any) int, kind, id string, from, until Bound, pos *stretchPositions) {
	if from.Step != "" {
		lookup(from.Step, pos.from, kind+" %q begins with %q", id)
	}
	if until.Step != "" {
		lookup(until.Step, pos.until, kind+" %q ends with %q", id)
	}
}

// calledAt checks that step of carries a figure that e can be held against.
func (r *reader) calledAt(p *Procedure, e *Expectation, step, of int, at place) {
	switch {
	case of < 0:
	case of == step:
		r.fail(at, "the figure of a step cannot be as called at itself")
	case p.steps[of].Value == nil || p.steps[of].Value.Of != e.Of:
		r.fail(at, "step %q has no figure of %s to go by", p.steps[of].ID, e.Of)
	}
}

// reach marks all that follow from, which is itself marked only on a circle.
func reach(next [][]int, from int, seen []bool) {
	todo := slices.Clone(next[from])
	for len(todo) > 0 {
		s := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		if !seen[s] {
			seen[s] = true
			todo = append(todo, next[s]...)
		}
	}
}

// circle is a shortest way from a step back to itself.
func circle(p *Procedure, next [][]int, from int) []string {
	prev := map[int]int{}
	for todo := []int{from}; len(todo) > 0; todo = todo[1:] {
		for _, s := range next[todo[0]] {
			if _, seen := prev[s]; seen {
				continue
			}
			prev[s] = todo[0]
			if s == from {
				out := []string{p.steps[from].ID}
				for at := prev[from]; ; at = prev[at] {
					out = append(out, p.steps[at].ID)
					if at == from {
						slices.Reverse(out)
						return out
					}
				}
			}
			todo = append(todo, s)
		}
	}
	return nil
}
