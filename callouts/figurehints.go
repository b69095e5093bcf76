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
		for _, f := range h.finder.figured {
			if ofCall[w] != "" && ofCall[w] != f.quantity {
				continue
			}
			rs := h.figuresAt(w, w, f.quantity)
			if len(rs) == 0 {
				continue
			}
			p, end := h.byFigure(w, rs)
			next = max(next, end)
			if p == 0 {
				continue
			}
			for _, callout := range f.callouts {
				c := candidate{pattern: &h.finder.freely[callout].pattern, callout: callout, first: w, end: end, thing: w, p: p}
				out = append(out, h.perhaps(t, h.withFigure(c, rs)))
			}
		}
		w = next
	}
	return out
}

// figured are the callouts with a figure of one quantity.
type figured struct {
	quantity Quantity
	callouts []int
}

// withFigures are the callouts a bare figure may be one of, by its quantity.
func withFigures(lex *Lexicon) (out []figured) {
	for i, c := range lex.Callouts {
		if c.Quantity == "" || c.Quantity == Count {
			continue
		}
		k := slices.IndexFunc(out, func(f figured) bool { return f.quantity == c.Quantity })
		if k < 0 {
			k, out = len(out), append(out, figured{quantity: c.Quantity})
		}
		out[k].callouts = append(out[k].callouts, i)
	}
	return out
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
	from, to := w, end
	for from > 0 && !h.ends(from-1) {
		from--
	}
	for to < len(h.stream.tokens) && !h.ends(to-1) {
		to++
	}
	for i := from; i < to; i++ {
		if (i < w || i >= end) && !mayStandBeside(h.stream.tokens[i].text) {
			return figureAmong, end
		}
	}
	return figureAlone, end
}
