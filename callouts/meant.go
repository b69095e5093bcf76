package callouts

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"sidetone/callouts/english"
	"sidetone/callouts/figures"
	"sidetone/callouts/meaning"
	"sidetone/callouts/sound"
)

// Calls in words nobody listed are found by what the words mean (package meaning).

const (
	// meantWeight is how much of its sound such a call explains: words that were
	// listed explain theirs better.
	meantWeight = 0.6
	meantCost   = 0.2 // phonemes, as of a phrase heard almost as it is
	// mostlyTalk is how much less, in nats, such calls are believed in a lesson than in
	// a sentence by itself: sentences held back ask for nothing, the tuning lessons
	// for 2.5.
	mostlyTalk = 1.0
	// leastMeant is the probability from which such a call is told: below it they are
	// right less often than they are believed.
	leastMeant = 0.5
	// backing is how much the belief in a call told by an act rests on what the words
	// mean among others, and backedFrom the probability from which it does not suffer.
	backing     = 0.15
	backedFrom  = 0.3
	leastBacked = 0.7 // the least that is left of it
	// fromNot is how many words before such a call its "nobody" is looked for.
	fromNot = 3
)

// freely is what must be known of a callout to find it in free wording.
type freely struct {
	pattern  pattern
	class    int  // of the network; 0 when it does not know the callout
	figured  bool // it is none without a figure
	negative bool // it is made by what is not there: "nothing on the left"
}

// inFreeWording is that of each callout, once all patterns are made.
func (f *Finder) inFreeWording() []freely {
	out := make([]freely, len(f.lexicon.Callouts))
	for i, c := range f.lexicon.Callouts {
		out[i] = freely{
			pattern:  pattern{callout: i, pre: -1, post: -1, act: true, free: true},
			class:    max(0, slices.Index(f.meaning.Classes(), c.ID)),
			figured:  c.Quantity != "",
			negative: slices.ContainsFunc(c.Spelt, saysNot),
		}
	}
	for _, p := range f.patterns {
		if !p.slot && p.fixed == nil {
			out[p.callout].figured = false
		}
	}
	if !slices.ContainsFunc(out, func(c freely) bool { return c.class > 0 }) {
		f.meaning = nil // it knows none of them
	}
	return out
}

// saysNot tells whether one of a phrase's words is a negative.
func saysNot(phrase string) bool {
	words := strings.FieldsFunc(phrase, func(r rune) bool { return strings.ContainsRune(" /[]", r) })
	return slices.ContainsFunc(words, func(w string) bool { return english.Is(w, english.Negative) })
}

// read reads what the words of the stream mean, each among those said in one breath
// with it.
func (h *hearing) read() {
	n := h.finder.meaning
	if n == nil {
		return
	}
	ts := h.stream.tokens
	h.odds = make([][]float32, 0, len(ts))
	for from := 0; from < len(ts); from = len(h.odds) {
		to := from + 1
		for to < len(ts) && !ts[to-1].broken {
			to++
		}
		words := make([]meaning.Word, 0, to-from)
		for _, t := range ts[from:to] {
			words = append(words, meaning.Word{Text: t.text, Comma: t.comma, Stop: t.stop})
		}
		odds := n.Read(words)
		for _, s := range n.Spans(odds) {
			s.First, s.End = s.First+from, s.End+from
			h.spans = append(h.spans, s)
		}
		h.odds = append(h.odds, odds...)
	}
}

// free gives the candidates told in free wording that are not listed ones too: those
// have their figure and their words in their place.
func (h *hearing) free(listed []candidate) []candidate {
	of := map[int][]*candidate{}
	for i := range listed {
		if l := &listed[i]; !l.pattern.named && l.p >= leastMeant {
			of[l.callout] = append(of[l.callout], l)
		}
	}
	return slices.DeleteFunc(h.meant(), func(c candidate) bool {
		return slices.ContainsFunc(of[c.callout], func(l *candidate) bool { return l.first < c.end && l.end > c.first })
	})
}

// meant gives the candidates told in free wording.
func (h *hearing) meant() []candidate {
	var out []candidate
	for _, s := range h.spans {
		callout, ok := h.finder.called[s.ID]
		p := 1 / (1 + math.Exp(-math.Log(s.P/(1-s.P))+mostlyTalk))
		if !ok || p < leastMeant {
			continue
		}
		if c, ok := h.meantAt(callout, s.First, s.End, p); ok {
			c.p *= h.trust(c.first, c.end)
			out = append(out, c)
		}
	}
	return out
}

// support is the probability, by what the words mean, that one of words [first, end)
// belongs to the callout; ok is false when the network does not know it.
func (h *hearing) support(callout, first, end int) (p float64, ok bool) {
	class := h.finder.freely[callout].class
	if h.odds == nil || class == 0 {
		return 0, false
	}
	for _, odds := range h.odds[first:end] {
		p = max(p, math.Exp(float64(odds[class])))
	}
	return p, true
}

// backed weighs an act by what its words mean among others. Phrases found by their
// sound are not: misheard words mean something else.
func (h *hearing) backed(c *candidate) float64 {
	p, ok := h.support(c.callout, c.first, c.end)
	if !ok {
		return 1
	}
	return max(leastBacked, math.Pow(min(1, p/backedFrom), backing))
}

// meantAt is the call of words [first, end), with the figure in it.
func (h *hearing) meantAt(callout, first, end int, p float64) (candidate, bool) {
	ts, known := h.stream.tokens, &h.finder.freely[callout]
	for first < end-1 && beforeCall(ts[first].text) {
		first++
	}
	if known.negative {
		for k := first - 1; k >= max(0, first-fromNot) && !h.ends(k); k-- {
			if english.Is(ts[k].text, english.Negative) {
				first = k // "nobody over there on the left"
				break
			}
		}
	}
	c := candidate{pattern: &known.pattern, callout: callout, first: first, end: end, thing: first, p: p, cost: meantCost}
	c.weight = meantWeight * sound.NewPhrase(h.stream.text(first, end)).Weight
	q := figures.Quantity(h.finder.lexicon.Callouts[callout].Quantity)
	if q == "" {
		return c, true
	}
	var rs []figures.Reading
	for w := first; w < min(end+2, len(ts)); w++ {
		if w >= end && !links[ts[w-1].text] && w != end || w > first && ts[w-1].broken {
			break
		}
		rs = append(rs, slices.DeleteFunc(h.figures.At(w, q), func(r figures.Reading) bool {
			return h.crosses(first, r.End) || r.Weight < 0.5 || q == figures.Flaps && r.Value == 0 || q == figures.Altitude && h.relative(r)
		})...)
	}
	if len(rs) == 0 {
		return c, !known.figured
	}
	slices.SortStableFunc(rs, func(a, b figures.Reading) int {
		return cmp.Or(cmp.Compare(b.End-b.First, a.End-a.First), cmp.Compare(b.Weight, a.Weight))
	})
	weight := c.weight
	c = h.withFigure(c, rs)
	c.weight = weight
	return c, true
}

// beforeCall tells whether a word before a call says nothing of it.
func beforeCall(w string) bool {
	return english.Is(w, english.Discourse|english.Coordinator) && !english.Is(w, english.Negative|english.Adverb|english.Particle)
}
