package rules

import (
	"slices"
	"strings"
)

// link works out which step comes before which: phases follow one another, and
// within a phase a step follows those it names, or the one above it when it
// names none. Steps that may come at any time are left out of all that unless
// another step names them.
func (p *Procedure) link() error {
	n := len(p.steps)
	byID := make(map[string]int, n)
	var ids []string
	for i, s := range p.steps {
		byID[s.ID] = i
		ids = append(ids, s.ID)
	}
	next := make([][]int, n) // next[a]: the steps told to follow a
	for i, s := range p.steps {
		for k, id := range s.After {
			a, ok := byID[id]
			if !ok {
				return p.pos.errorf(s.pos.after[k], "step %q comes after %q, which is no step%s", s.ID, id, meant(id, ids))
			}
			next[a] = append(next[a], i)
		}
		if s.Within != nil {
			of, ok := byID[s.Within.Of]
			if !ok {
				return p.pos.errorf(s.pos.within, "step %q is due after %q, which is no step%s", s.ID, s.Within.Of, meant(s.Within.Of, ids))
			}
			if of == i {
				return p.pos.errorf(s.pos.within, "step %q is due after itself", s.ID)
			}
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
		for j := i - 1; j >= 0 && p.steps[j].phase == s.phase; j-- {
			if !p.steps[j].Anytime {
				next[j] = append(next[j], i)
				break
			}
		}
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
		at := place{1, 1}
		for k, id := range s.After {
			if a := byID[id]; a == i || p.before[i][a] {
				at = s.pos.after[k]
			}
		}
		if at == (place{1, 1}) {
			continue // told at the step of the circle that closes it
		}
		return p.pos.errorf(at, "the order goes in a circle: %s", strings.Join(circle(p, next, i), " before "))
	}
	return nil
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
