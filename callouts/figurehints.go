package callouts

import (
	"slices"

	"sidetone/audio/transcript"
	"sidetone/callouts/figures"
)

// Where it is plain what is meant, pilots say nothing but the figure: "seventy-five",
// "and that's forty-five" (common practice, no source). Which call that is only the
// procedure can tell, so it is a hint at every call with such a figure.

const (
	// figureAlone is the probability that a sentence of nothing but a figure is one
	// certain call with such a figure, and figureAmong that a figure is which stands among
	// other words.
	figureAlone = 0.06
	figureAmong = 0.02
)

// otherFigure are words whose figure is no call: a runway, a code, a count.
var otherFigure = set("runway", "number", "squawk", "squawking", "page", "item", "over", "minus", "plus", "every", "another", "pattern")

// figureHints are hints at the calls of which perhaps only the figure was said. Figures of
// calls that were told are theirs, unless another call has such a figure as well.
func (h *hearing) figureHints(t *transcript.Transcript) []Call {
	ofCall := make([]Quantity, len(h.stream.tokens))
	for i := range h.chosen {
		if len(h.chosen[i].readings) > 0 {
			for k := h.chosen[i].first; k < h.chosen[i].end; k++ {
				ofCall[k] = h.finder.lexicon.Callouts[h.chosen[i].callout].Quantity
			}
		}
	}
	var out []Call
	for w := 0; w < len(h.stream.tokens); {
		next := w + 1
		rs := map[Quantity][]figures.Reading{}
		for callout := range h.finder.freely {
			q := h.finder.lexicon.Callouts[callout].Quantity
			if q == "" || q == Count {
				continue
			}
			if _, read := rs[q]; !read {
				rs[q] = h.figuresAt(w, q)
			}
			if len(rs[q]) == 0 || ofCall[w] != "" && ofCall[w] != q {
				continue
			}
			p, end := h.byFigure(w, rs[q])
			next = max(next, end)
			if p == 0 {
				continue
			}
			c := candidate{pattern: &h.finder.freely[callout].pattern, callout: callout, first: w, end: end, thing: w, p: p}
			c = h.withFigure(c, rs[q])
			c.stance = Done
			call := h.call(t, &c)
			call.Perhaps = true
			out = append(out, call)
		}
		w = next
	}
	return out
}

// figuresAt reads the figures of a quantity that word w begins.
func (h *hearing) figuresAt(w int, q Quantity) []figures.Reading {
	return slices.DeleteFunc(h.figures.At(w, figures.Quantity(q)), func(r figures.Reading) bool {
		return r.Weight < 0.5 || h.crosses(w, r.End) || q == Flaps && r.Value == 0 || q == Altitude && h.relative(r)
	})
}

// byFigure is the probability that the figure at word w is a call by itself, and where it
// ends.
func (h *hearing) byFigure(w int, rs []figures.Reading) (p float64, end int) {
	end = w
	for _, r := range rs {
		end = max(end, r.UnitEnd)
	}
	if w > 0 && !h.ends(w-1) && otherFigure[h.stream.tokens[w-1].text] {
		return 0, end
	}
	if end < len(h.stream.tokens) && !h.ends(end-1) && !mayStandBeside(h.stream.tokens[end].text) {
		return 0, end // "ten miles"
	}
	for from := w - 1; from >= 0 && !h.ends(from); from-- {
		if !mayStandBeside(h.stream.tokens[from].text) {
			return figureAmong, end
		}
	}
	for to := end; to < len(h.stream.tokens) && !h.ends(to-1); to++ {
		if !mayStandBeside(h.stream.tokens[to].text) {
			return figureAmong, end
		}
	}
	return figureAlone, end
}
