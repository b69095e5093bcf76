package callouts

// leastOwn is the probability, by what the words mean, from which a word before a
// phrase is of the call's own wording.
const leastOwn = 0.5

// begins is the word the wording of a call begins with: a phrase is often the end of
// what is said for it, "and now we bring in flaps ten". It reaches back over its clause
// as far as the words mean the call and belong to no other.
func (h *hearing) begins(c *candidate) int {
	w := c.first
	for w > 0 && !h.taken[w-1] && !h.ends(w-1) {
		if p, ok := h.support(c.callout, w-1, w); !ok || p < leastOwn {
			break
		}
		w--
	}
	return w
}
