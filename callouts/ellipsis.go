package callouts

import (
	"slices"

	"sidetone/callouts/english"
	"sidetone/callouts/figures"
)

// Between flap calls people leave the flaps out: "let's have thirty". A sentence
// with nothing in it but a flap setting and words of order is taken for a flap
// call when flaps are what is being talked about.

const (
	// flapTalkBefore and flapTalkAfter are how long after one flap call, and before
	// another with the same figure, a bare figure is one too, in seconds.
	flapTalkBefore = 45.0
	flapTalkAfter  = 10.0
	// barelySaid is the belief in a call of which only the figure was said.
	barelySaid = 0.8
	// mostBeside is the most words beside the figure.
	mostBeside = 6
)

// bareFigures are the sentences of a stream that may be calls with their thing
// left out, for the callout of flap settings.
func (h *hearing) bareFigures(found []candidate) []candidate {
	callout := slices.IndexFunc(h.finder.lexicon.Callouts, func(c Callout) bool { return c.Quantity == Flaps })
	if callout < 0 {
		return nil
	}
	var out []candidate
	ts := h.stream.tokens
	for from := 0; from < len(ts); {
		to := from + 1
		for to < len(ts) && !ts[to-1].stop && !ts[to-1].broken && h.stream.pause(to-1) < clauseGap {
			to++
		}
		if to-from <= mostBeside+2 && !slices.ContainsFunc(found, func(c candidate) bool { return c.first < to && c.end > from }) {
			if c, ok := h.bareFigure(from, to, callout); ok {
				out = append(out, c)
			}
		}
		from = to
	}
	return out
}

// bareFigure reads words [from, to) as a flap setting and nothing else.
func (h *hearing) bareFigure(from, to, callout int) (candidate, bool) {
	for i := from; i < to; i++ {
		rs := slices.DeleteFunc(h.figures.At(i, figures.Flaps), func(r figures.Reading) bool {
			return r.End > to || r.Weight < 0.5 || !slices.ContainsFunc(spokenFlaps, func(s spokenFlap) bool { return s.value == r.Value })
		})
		if len(rs) == 0 {
			if !mayStandBeside(h.stream.tokens[i].text) {
				return candidate{}, false
			}
			continue
		}
		for k := rs[0].UnitEnd; k < to; k++ {
			if !mayStandBeside(h.stream.tokens[k].text) {
				return candidate{}, false
			}
		}
		c := candidate{
			pattern: &pattern{callout: callout, pre: -1, post: -1, act: true, bare: true}, callout: callout,
			first: i, end: i + 1, thing: i, p: barelySaid,
		}
		c = h.withFigure(c, rs)
		for k := from; k < i; k++ { // from its verb on: "let's have thirty"
			if english.Is(h.stream.tokens[k].text, english.Light) || h.stream.tokens[k].text == "let's" {
				c.first = k
				break
			}
		}
		c.p *= h.trust(c.first, c.end)
		return c, true
	}
	return candidate{}, false
}

// mayStandBeside tells whether a word says nothing of its own beside a bare figure.
func mayStandBeside(w string) bool {
	if english.Is(w, english.Negative) {
		return false
	}
	return acknowledgements[w] || english.Is(w, english.Light|english.Aux|english.Subject|english.Object|english.Adverb|english.Coordinator|english.Preposition|english.Discourse) || w == "let's" || w == "please"
}

// elided drops the bare figures where nobody talks of flaps.
func elided(calls []Call) []Call {
	return slices.DeleteFunc(slices.Clone(calls), func(c Call) bool {
		if !c.bare {
			return false
		}
		return !slices.ContainsFunc(calls, func(o Call) bool {
			if o.bare || o.ID != c.ID || o.Value == nil {
				return false
			}
			return o.End <= c.Start && o.End > c.Start-flapTalkBefore && *o.Value != *c.Value ||
				o.Start >= c.End && o.Start < c.End+flapTalkAfter && *o.Value == *c.Value
		})
	})
}
