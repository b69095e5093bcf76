package main

import (
	"cmp"
	"math"
	"slices"

	"sidetone/callouts"
	"sidetone/cmd/internal/lesson"
)

// near is how far apart, in seconds, a call made and a call found may lie.
const near = 1.5

// pairing is a call made and the call found for it.
type pairing struct {
	made, found   int
	value, stance bool // they agree
}

func (p pairing) right() bool { return p.value && p.stance }

// pair finds for each call made the call found of the same callout within reach,
// one for one: those first that agree in value and stance, then the nearest.
func pair(made []lesson.SpokenCall, found []callouts.Call) []pairing {
	var all []pairing
	for i, m := range made {
		for j, f := range found {
			if !f.Perhaps && m.Is(f.ID) && f.Start <= m.End+near && f.End >= m.Start-near {
				all = append(all, pairing{i, j, sameValue(m.Value, f.Value), m.Stance == f.Stance})
			}
		}
	}
	agreement := func(p pairing) int {
		n := 0
		if p.value {
			n += 2
		}
		if p.stance {
			n++
		}
		return n
	}
	apart := func(p pairing) float64 { return math.Abs(made[p.made].Start - found[p.found].Start) }
	slices.SortStableFunc(all, func(a, b pairing) int {
		return cmp.Or(cmp.Compare(agreement(b), agreement(a)), cmp.Compare(apart(a), apart(b)))
	})
	usedMade, usedFound := map[int]bool{}, map[int]bool{}
	var out []pairing
	for _, p := range all {
		if !usedMade[p.made] && !usedFound[p.found] {
			usedMade[p.made], usedFound[p.found] = true, true
			out = append(out, p)
		}
	}
	return out
}

func sameValue(a, b *float64) bool {
	if a == nil || b == nil {
		return a == b
	}
	return *a == *b
}

// counts tells whether a call of this stance can change a verdict. The others
// are named only: nothing is lost when they are not found.
func counts(s callouts.Stance) bool { return s == callouts.Done || s == callouts.Ordered }
