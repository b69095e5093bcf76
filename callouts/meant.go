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
	"sidetone/callouts/stance"
)

// Calls in words nobody listed are found by what the words mean (package meaning).

const (
	// meantWeight is how much of its sound such a call explains: words that were
	// listed explain theirs better.
	meantWeight = 0.6
	meantCost   = 0.2 // phonemes, as of a phrase heard almost as it is
	// mostlyTalk is how much less, in nats, such calls are believed than the lessons the
	// network is fitted to ask for: those are full of calls, others are mostly talk.
	mostlyTalk = 0.2
	// leastMeant is the probability from which such a call is told; of those tried, the
	// one that judges lessons best.
	leastMeant = 0.5
	// backing is how much the belief in a call told by an act rests on what the words
	// mean among others, and backedFrom the probability from which it does not suffer.
	backing     = 0.15
	backedFrom  = 0.3
	leastBacked = 0.7 // the least that is left of it
	// rising is how many words a question has besides its last: recognisers put a
	// question mark where a voice rises, which it does when somebody calls what he is
	// not sure of.
	rising = 4
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

// read reads what the words of the stream mean, each among those said before and after.
func (h *hearing) read() {
	n := h.finder.meaning
	if n == nil {
		return
	}
	words := make([]meaning.Word, len(h.stream.tokens))
	from := 0 // of the sentence
	for i, t := range h.stream.tokens {
		words[i] = meaning.Word{Text: t.text, Comma: t.comma, Stop: t.stop, Question: t.question && i-from >= rising, Breath: t.broken}
		if turns[t.text] && i > 0 { // a recogniser may have left the stop out
			words[i-1].Stop = true
		}
		if t.stop || t.broken {
			from = i + 1
		}
	}
	h.odds, h.ways = n.Read(words)
	for from := 0; from < len(words); {
		to := from + 1
		for to < len(words) && !words[to-1].Breath {
			to++
		}
		for _, s := range n.Spans(h.odds[from:to]) {
			s.First, s.End = s.First+from, s.End+from
			h.spans = append(h.spans, s)
		}
		from = to
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
		p := 1 / (1 + math.Exp(mostlyTalk)*(1-s.P)/s.P)
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

// told is what the network of meanings says of how the call is meant: of each way the
// log of its probability, by the mean of the call's words; and the log-odds of it being
// talk, which is none. Of a
// listed phrase said by itself, or beside others, its words tell enough.
func (h *hearing) told(c *candidate) []stance.Fact {
	p, ok := h.support(c.callout, c.first, c.end)
	if !ok || h.ways == nil || !c.pattern.free && h.amongCalls(c.first, c.end) {
		return nil
	}
	talk := (math.Log1p(-p) - math.Log(p)) / stance.Whole
	out := []stance.Fact{{Name: "meant as talk", Much: max(-1, min(1, talk))}}
	for i, name := range h.finder.meaning.Ways() {
		sum := 0.0
		for _, row := range h.ways[c.first:c.end] {
			sum += float64(row[i])
		}
		out = append(out, stance.Fact{Name: "meant as " + name, Much: max(-1, sum/float64(c.end-c.first)/stance.Whole)})
	}
	return out
}

// amongCalls tells whether nothing but listed phrases, as they are listed, and words
// like "okay" make up the clause of words [first, end).
func (h *hearing) amongCalls(first, end int) bool {
	if h.listed == nil {
		h.listed = make([]bool, len(h.stream.tokens))
		for i := range h.matches {
			if m := &h.matches[i]; m.Cost == 0 {
				for k := m.First; k < m.End; k++ {
					h.listed[k] = true
				}
			}
		}
	}
	a, b := h.clause(first, end)
	for i := a; i < b; i++ {
		if (i < first || i >= end) && !h.listed[i] && !acknowledgements[h.stream.tokens[i].text] {
			return false
		}
	}
	return true
}

// Words by which a speaker turns from talk to what is done now.
var turns = set("okay", "ok", "alright")

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
	q := h.finder.lexicon.Callouts[callout].Quantity
	if q == "" {
		return c, true
	}
	var rs []figures.Reading
	for w := first; w < min(end+2, len(ts)); w++ {
		if w >= end && !links[ts[w-1].text] && w != end || w > first && ts[w-1].broken {
			break
		}
		rs = append(rs, h.figuresAt(first, w, q)...)
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

// figuresAt reads the figures of a quantity that word w begins, in a call that begins at
// word first.
func (h *hearing) figuresAt(first, w int, q Quantity) []figures.Reading {
	return slices.DeleteFunc(h.figures.At(w, figures.Quantity(q)), func(r figures.Reading) bool {
		return h.crosses(first, r.End) || r.Weight < 0.5 || q == Flaps && r.Value == 0 || q == Altitude && h.relative(r)
	})
}

// beforeCall tells whether a word before a call says nothing of it.
func beforeCall(w string) bool {
	return english.Is(w, english.Discourse|english.Coordinator) && !english.Is(w, english.Negative|english.Adverb|english.Particle)
}
