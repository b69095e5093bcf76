package callouts

import "math"

// leastOwn is the probability, by what the words mean, from which a word before a
// phrase is of the call's own wording.
const leastOwn = 0.5

// begins is the word the wording of a call begins with: a phrase is often the end of
// what is said for it, "and now we bring in flaps ten". It reaches back over its clause
// as far as the words mean the call and belong to no other.
func (h *hearing) begins(c *candidate) int {
	class := h.finder.freely[c.callout].class
	if h.odds == nil || class == 0 {
		return c.first
	}
	free := 0 // the words from here to the call's are of no other call
	for i := range h.chosen {
		if o := &h.chosen[i]; o.first < c.first {
			free = max(free, o.end)
		}
	}
	w := c.first
	for w > free && !h.ends(w-1) && math.Exp(float64(h.odds[w-1][class])) >= leastOwn {
		w--
	}
	return w
}
