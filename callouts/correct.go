package callouts

import (
	"slices"
	"strings"

	"sidetone/callouts/figures"
)

// takeBack is a way to take back what was just said. "correction" is the word
// of the standard (FAA Pilot/Controller Glossary, CORRECTION); the rest is how
// people talk.
type takeBack struct {
	words []string
	// weak ones mean other things too: they count only when the new figure ends
	// the clause.
	weak bool
}

var takeBacks = func() (out []takeBack) {
	for _, s := range []string{"correction", "i mean", "i meant", "make that", "make it", "scratch that", "or rather", "rather", "disregard", "that should be", "excuse me"} {
		out = append(out, takeBack{words: strings.Fields(s)})
	}
	for _, s := range []string{"no no", "no", "nope", "negative", "sorry", "wait", "oops", "actually"} {
		out = append(out, takeBack{words: strings.Fields(s), weak: true})
	}
	return out
}()

// correctionGap is the longest silence, in seconds, before and after the words
// that take a figure back.
const correctionGap = 3.0

// correct finds the figures that were put right in the same breath. The call
// keeps its place, its value is the last figure, and what was taken back is
// noted. A call without a figure that is taken back for another call was not
// meant: it is denied.
func (h *hearing) correct(chosen []candidate) []candidate {
	for i := 0; i < len(chosen); i++ {
		c := &chosen[i]
		for {
			at, weak := h.takenBack(c)
			if at < 0 {
				break
			}
			next := -1
			if i+1 < len(chosen) && chosen[i+1].first >= at && h.onlyFillers(at, chosen[i+1].first) {
				next = i + 1
			}
			if next >= 0 && chosen[next].callout != c.callout {
				if !weak {
					c.stance = Denied
				}
				break
			}
			if len(c.readings) == 0 {
				break
			}
			old := c.readings[0].value
			if next >= 0 && len(chosen[next].readings) > 0 {
				c.readings, c.end = chosen[next].readings, chosen[next].end
				chosen = slices.Delete(chosen, next, next+1)
			} else if !h.newFigure(c, at, weak) {
				break
			}
			if c.readings[0].value != old {
				c.corrected = &old
			}
		}
		// What lies in words that put it right is no call of its own.
		for i+1 < len(chosen) && chosen[i+1].first < c.end {
			chosen = slices.Delete(chosen, i+1, i+2)
		}
	}
	return chosen
}

// takenBack looks for words that take c back and returns the word after them,
// or -1.
func (h *hearing) takenBack(c *candidate) (after int, weak bool) {
	ts := h.stream.tokens
	i := h.skipFillers(c.end)
	found, strong := false, false
	for {
		n := 0
		for _, tb := range takeBacks {
			if len(tb.words) > n && h.spells(i, tb.words) {
				n = len(tb.words)
				strong = strong || !tb.weak
			}
		}
		if n == 0 || ts[i].start-ts[i-1].end > correctionGap || !h.sameSpeaker(c.first, i) {
			break
		}
		found = true
		i = h.skipFillers(i + n)
	}
	if !found || i >= len(ts) || ts[i].start-ts[i-1].end > correctionGap || !h.sameSpeaker(c.first, i) {
		return -1, false
	}
	return i, !strong
}

// newFigure reads a bare figure at word i, or after the callout's own words.
func (h *hearing) newFigure(c *candidate, i int, weak bool) bool {
	ts := h.stream.tokens
	q := figures.Quantity(h.finder.lexicon.Callouts[c.callout].Quantity)
	for skip := 0; skip <= 2 && i < len(ts); skip++ {
		rs := h.figures.At(i, q)
		rs = slices.DeleteFunc(rs, func(r figures.Reading) bool { return h.crosses(i, r.End) })
		if len(rs) > 0 {
			best := rs[0]
			end := best.UnitEnd
			if weak && end < len(ts) && !h.ends(end-1) && !acknowledgements[ts[end].text] {
				return false
			}
			c.readings = c.readings[:0:0]
			for _, r := range rs {
				c.readings = append(c.readings, weighed{r.Value, c.p * r.Weight})
			}
			c.end = end
			return true
		}
		if t := ts[i].text; !links[t] && t != "it" && t != "make" && t != "that" && !h.ownWord(c, t) {
			return false
		}
		i++
	}
	return false
}

// ownWord says whether w belongs to the phrase of the call.
func (h *hearing) ownWord(c *candidate, w string) bool {
	return c.pattern.pre >= 0 && h.finder.words[c.pattern.pre][w]
}

// ends says whether something audible ends at word i.
func (h *hearing) ends(i int) bool {
	t := &h.stream.tokens[i]
	return t.stop || t.comma || t.broken || h.stream.pause(i) >= clauseGap
}

func (h *hearing) spells(i int, words []string) bool {
	for k, w := range words {
		if i+k >= len(h.stream.tokens) || h.stream.tokens[i+k].text != w {
			return false
		}
	}
	return true
}

var fillers = set("uh", "um", "er", "erm", "ah", "oh", "well", "")

func (h *hearing) skipFillers(i int) int {
	for i < len(h.stream.tokens) && fillers[h.stream.tokens[i].text] {
		i++
	}
	return i
}

func (h *hearing) onlyFillers(first, end int) bool { return h.skipFillers(first) >= end }

// sameSpeaker says whether words i and j are of one speaker as far as is known.
func (h *hearing) sameSpeaker(i, j int) bool {
	a, b := h.speakers[h.stream.tokens[i].utterance], h.speakers[h.stream.tokens[j].utterance]
	return a == b
}
