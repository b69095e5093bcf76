package callouts

import (
	"fmt"
	"slices"
	"strings"

	"sidetone/callouts/english"
	"sidetone/callouts/figures"
	"sidetone/callouts/sound"
)

// Act is a call told in any words: what is done to a thing, or what becomes of
// it. People do not only say "flaps up" but "I'm just bringing those flaps back
// up". Of an act the words that matter are written down; what may stand between
// them (auxiliaries, adverbs, verbs like "bring" and "put") is English, and known.
//
// Acts are found by their spelling, in words a recogniser wrote as they are;
// phrases are found by their sound.
type Act struct {
	// Thing is what is handled, as a phrase: "carb/carburetor heat". "" for none:
	// then the verb says it all, or the verb and the state ("pitching up").
	Thing string `yaml:"thing"`
	// State is what becomes of it, as a phrase, or a figure: "up/away", "{flaps}".
	State string `yaml:"state"`
	// Verb is what is done to it, base forms: "retract/raise".
	Verb string `yaml:"verb"`
	// Alone says that it counts only when said by itself: "heat's on".
	Alone bool `yaml:"alone"`
}

// act is one way of an Act, made ready.
type act struct {
	pattern *pattern
	thing   []string // nil for none
	states  []state
	slot    bool // the state is a figure
	verbs   []string
	weigh   float64         // of the thing, in phonemes
	whole   bool            // the thing is all there is to say: a phrase that is spelt so
	named   bool            // the thing itself is enough to name the call
	not     map[string]bool // what becomes of the thing in other acts with a figure of its kind
}

// state is what becomes of a thing, and how much sound it is.
type state struct {
	words []string
	weigh float64
}

// gap is the most words between the words of an act that matter.
const gap = 6

// Belief in acts: they are spelt as they should be, so little but the words
// between is left to doubt.
const (
	actBelief   = 0.97
	perGapWord  = 0.01
	gapCost     = 0.02 // phonemes per word between, so that of two the tighter wins
	acrossComma = 0.9
	// namedWeight is how much of its sound a thing counts that is only named: any
	// call over the same words explains them better.
	namedWeight = 0.7
	// gapWeight is what a word between explains, in phonemes: it is part of the call.
	gapWeight = 1.0
	// verbWeight is the sound of a verb that makes the call, in phonemes.
	verbWeight = 2.5
)

// actIndex finds the acts that may begin at a word.
type actIndex struct {
	byThing map[string][]act // first word of the thing
	byVerb  map[string][]act // base form, for acts without a thing
	things  map[string]bool  // every thing, to tell "cowl flaps" from "flaps"
	longest int              // words in the longest thing
}

func newActIndex() actIndex {
	return actIndex{byThing: map[string][]act{}, byVerb: map[string][]act{}, things: map[string]bool{}}
}

// add adds the acts of a callout.
func (x *actIndex) add(c *Callout, callout int) error {
	for _, a := range c.Acts {
		if err := x.addAct(c, callout, a, false); err != nil {
			return err
		}
	}
	for _, n := range c.Named {
		if err := x.addAct(c, callout, Act{Thing: n}, true); err != nil {
			return err
		}
	}
	for _, s := range c.Spelt {
		if err := x.addSpelt(c, callout, s, false); err != nil {
			return err
		}
	}
	for _, s := range c.SpeltAlone {
		if err := x.addSpelt(c, callout, s, true); err != nil {
			return err
		}
	}
	return nil
}

// addSpelt adds a phrase that counts where it is spelt so, with a figure at its end
// or none.
func (x *actIndex) addSpelt(c *Callout, callout int, s string, alone bool) error {
	all, err := compilePhrase(s, c.Quantity)
	if err != nil {
		return err
	}
	for _, p := range all {
		if len(p.post) > 0 || len(p.pre) == 0 {
			return fmt.Errorf("phrase %q: write the figure last", s)
		}
		x.byThing[stem(p.pre[0])] = append(x.byThing[stem(p.pre[0])], act{
			pattern: &pattern{callout: callout, pre: -1, post: -1, act: true, alone: alone, spelt: p.pre},
			thing:   p.pre, whole: true, slot: p.slot, weigh: sound.NewPhrase(p.pre).Weight,
		})
	}
	return nil
}

func (x *actIndex) addAct(c *Callout, callout int, a Act, named bool) error {
	out := act{pattern: &pattern{callout: callout, pre: -1, post: -1, act: true, named: named, alone: a.Alone}, named: named}
	if a.Verb != "" {
		out.verbs = strings.Split(a.Verb, "/")
	}
	switch {
	case a.State == "{"+string(c.Quantity)+"}":
		out.slot = true
	case strings.ContainsAny(a.State, "{}"):
		return fmt.Errorf("state %q: write a figure as {%s}, by itself", a.State, c.Quantity)
	case a.State != "":
		all, err := expand(a.State)
		if err != nil {
			return err
		}
		for _, s := range all {
			words := strings.Fields(s)
			out.states = append(out.states, state{words, sound.NewPhrase(words).Weight})
		}
		slices.SortStableFunc(out.states, func(a, b state) int { return len(b.words) - len(a.words) })
	}
	if a.Thing == "" {
		if len(out.verbs) == 0 {
			return fmt.Errorf("an act needs a thing or a verb")
		}
		for _, v := range out.verbs {
			w := out
			w.weigh = sound.NewPhrase([]string{v}).Weight
			x.byVerb[v] = append(x.byVerb[v], w)
		}
		return nil
	}
	things, err := expand(a.Thing)
	if err != nil {
		return err
	}
	if !named && a.State == "" && a.Verb == "" {
		return fmt.Errorf("thing %q: say with state: what becomes of it, or with verb: what is done to it", a.Thing)
	}
	for _, t := range things {
		w := out
		w.thing = strings.Fields(t)
		if len(w.thing) == 0 {
			return fmt.Errorf("thing %q may be no word at all", a.Thing)
		}
		w.weigh = sound.NewPhrase(w.thing).Weight
		x.byThing[w.thing[0]] = append(x.byThing[w.thing[0]], w)
		x.things[t] = true
		x.longest = max(x.longest, len(w.thing))
	}
	return nil
}

// part keeps acts apart that differ in a word before the figure: "power back to
// seventeen hundred" is no "power seventeen hundred".
func (x *actIndex) part(l *Lexicon) {
	quantity := func(a *act) Quantity { return l.Callouts[a.pattern.callout].Quantity }
	for _, list := range x.byThing {
		for i := range list {
			a := &list[i]
			if !a.slot {
				continue
			}
			a.not = map[string]bool{}
			for k := range list {
				o := &list[k]
				if o.pattern.callout == a.pattern.callout || quantity(o) != quantity(a) || !slices.Equal(o.thing, a.thing) {
					continue
				}
				for _, s := range o.states {
					a.not[s.words[0]] = true
				}
			}
		}
	}
}

// acts gives the candidates told in words of their own.
func (h *hearing) acts() []candidate {
	var out []candidate
	x := &h.finder.acts
	for i := range h.stream.tokens {
		t := stem(h.stream.tokens[i].text)
		for k := range x.byThing[t] {
			a := &x.byThing[t][k]
			switch {
			case a.whole:
				if n := h.spelledOut(i, a.thing); n > 0 {
					out = h.asSpelt(out, a, i, i+n)
				}
			case h.thingAt(i, a.thing) && !h.partOfThing(i, i+len(a.thing)):
				out = h.handled(out, a, i, i+len(a.thing))
			}
		}
		for _, v := range english.Verbs(t) {
			for k := range x.byVerb[v.Base] {
				out = h.verbed(out, &x.byVerb[v.Base][k], i)
			}
		}
	}
	return slices.DeleteFunc(out, func(c candidate) bool { return c.pattern.alone && !h.byItself(c.first, c.end) })
}

// spelledOut gives how many words from word i on are those of a phrase, an "uh" or
// a word said twice between them passed over; 0 when they are not.
func (h *hearing) spelledOut(i int, words []string) int {
	w := i
	for k := 0; k < len(words); w++ {
		if w >= len(h.stream.tokens) || w > i && h.parted(w-1) {
			return 0
		}
		t := h.stream.tokens[w].text
		switch {
		case t == words[k] || stem(t) == words[k]:
			k++
		case k > 0 && (fill[t] || t == words[k-1]):
		default:
			return 0
		}
	}
	return w - i
}

// asSpelt is the call of a phrase spelt at words [i, j).
func (h *hearing) asSpelt(out []candidate, a *act, i, j int) []candidate {
	if !a.slot {
		return append(out, h.actCandidate(a, i, i, j, 0, 0))
	}
	for w := j; w <= j+2 && w < len(h.stream.tokens) && !h.parted(w-1); w++ {
		if c, ok := h.actFigure(a, i, i, j, w, w-j); ok {
			return append(out, c)
		}
		if !links[h.stream.tokens[w].text] {
			break
		}
	}
	return out
}

// stem is a word without the 's that may hang on a noun.
func stem(w string) string {
	w, _ = strings.CutSuffix(w, "'s")
	return w
}

func (h *hearing) thingAt(i int, thing []string) bool {
	for k, w := range thing {
		if i+k >= len(h.stream.tokens) {
			return false
		}
		t := h.stream.tokens[i+k].text
		if t != w && (k < len(thing)-1 || stem(t) != w) {
			return false
		}
		if k > 0 && h.parted(i+k-1) {
			return false
		}
	}
	return true
}

// partOfThing tells whether words [first, end) belong to a longer thing: the
// flaps of "cowl flaps".
func (h *hearing) partOfThing(first, end int) bool {
	x := &h.finder.acts
	for a := max(0, end-x.longest); a <= first; a++ {
		for b := end; b <= min(a+x.longest, len(h.stream.tokens)); b++ {
			if b-a > end-first && x.things[h.spelt(a, b)] && !(b == end && h.determiners(a, first)) {
				return true
			}
		}
	}
	return false
}

func (h *hearing) determiners(first, end int) bool {
	for i := first; i < end; i++ {
		if !english.Is(h.stream.tokens[i].text, english.Determiner) {
			return false
		}
	}
	return true
}

// spelt is words [first, end) as a thing is written.
func (h *hearing) spelt(first, end int) string {
	words := make([]string, 0, end-first)
	for i := first; i < end; i++ {
		words = append(words, h.stream.tokens[i].text)
	}
	words[len(words)-1] = stem(words[len(words)-1])
	return strings.Join(words, " ")
}

// parted tells whether nothing runs on past word i.
func (h *hearing) parted(i int) bool {
	t := &h.stream.tokens[i]
	return t.broken || t.stop || h.stream.pause(i) > 1.2
}

// between tells whether a word may stand between those of an act.
func between(w string) bool {
	k := english.KindOf(stem(w))
	if k&(english.Aux|english.Adverb|english.Light|english.Degree|english.Determiner|english.Particle) != 0 && k&english.Coordinator == 0 {
		return true
	}
	switch w {
	case "to", "of", "at", "uh", "um", "er", "it", "them", "that", "with", "for", "me", "us", "not", "way", "kind", "sort", "by", "then", "supposed", "meant", "able", "allowed", "about", "ready", "selected", "set", "switched", "indicating", "showing", "confirmed", "yeah", "yes", "okay", "yep":
		return true
	}
	return false
}

// handled finds what is done to the thing at words [i, j).
func (h *hearing) handled(out []candidate, a *act, i, j int) []candidate {
	if a.named {
		c := h.actCandidate(a, i, i, j, 0, 0)
		c.weight *= namedWeight
		return append(out, c)
	}
	start, verb, particle := h.governor(a, i)
	if verb {
		// "retract the flaps"
		out = append(out, h.extended(a, h.actCandidate(a, start, i, j, 0, 0))...)
	} else if particle >= 0 {
		// "bring back the power"
		out = append(out, h.extended(a, h.actCandidate(a, start, i, j, 0, 0))...)
	}
	skipped, trust := 0, 1.0
	for w := j; w < len(h.stream.tokens) && skipped <= gap; w++ {
		if h.parted(w - 1) {
			break
		}
		if h.stream.tokens[w-1].comma {
			trust *= acrossComma
		}
		if a.slot {
			if c, ok := h.actFigure(a, start, i, j, w, skipped); ok {
				c.p *= trust
				out = append(out, c)
				break
			}
		} else if s := h.stateAt(a, w, w == j && english.Is(h.before(i), english.Determiner)); s != nil {
			c := h.actCandidate(a, start, i, w+len(s.words), skipped, s.weigh)
			c.p *= trust
			out = append(out, h.extended(a, c)...)
			break
		}
		t := h.stream.tokens[w].text
		if h.formOf(a, t, w > j || strings.HasSuffix(h.stream.tokens[j-1].text, "'s")) {
			// "the flaps are retracted"
			c := h.actCandidate(a, start, i, w+1, skipped, verbWeight)
			c.p *= trust
			out = append(out, h.extended(a, c)...)
			break
		}
		if h.stream.tokens[start].text == "let" && slices.ContainsFunc(a.verbs, func(v string) bool { return t == v }) {
			// "let the nose drop"
			c := h.actCandidate(a, start, i, w+1, skipped, verbWeight)
			c.p *= trust
			out = append(out, h.extended(a, c)...)
			break
		}
		if w+2 < len(h.stream.tokens) && t == "on" && h.stream.tokens[w+2].text == "way" {
			w, skipped = w+2, skipped+1 // "on its way down"
			continue
		}
		if w+2 < len(h.stream.tokens) && (t == "i" || t == "we") && !h.parted(w) && h.governs(a, h.stream.tokens[w+1].text) {
			// "the flaps I retract"
			c := h.actCandidate(a, start, i, w+2, skipped, verbWeight)
			c.p *= trust
			out = append(out, h.extended(a, c)...)
			break
		}
		further := t == "on" && w+1 < len(h.stream.tokens) && (h.stream.tokens[w+1].text == "up" || h.stream.tokens[w+1].text == "down") // "on up"
		returned := english.FormOf(t)&english.Participle != 0 && english.FormOf(t)&english.Base == 0                                     // "returned to cold"
		if !between(t) && !returned || !a.slot && opposite[t] && !further || a.not[t] {
			break
		}
		skipped++
	}
	return out
}

// governs tells whether w is one of the act's verbs as "I" or "we" use it.
func (h *hearing) governs(a *act, w string) bool {
	return english.FormOf(w)&(english.Base|english.Past) != 0 && slices.ContainsFunc(a.verbs, func(v string) bool { return english.IsFormOf(w, v) })
}

// opposite are words that say themselves what becomes of a thing: nothing said
// after them does.
var opposite = set("on", "off", "up", "down", "in", "out")

// stateAt gives the state of an act that is spelt at word w. A particle that has
// an object of its own is a preposition: "the flaps in this airplane". named says
// that it stands right behind the thing, and that thing behind a "the".
func (h *hearing) stateAt(a *act, w int, named bool) *state {
	for k := range a.states {
		s := a.states[k].words
		if len(s) == 0 || !h.spells(w, s) {
			continue
		}
		if english.Is(s[len(s)-1], english.Particle) && h.hasObject(w+len(s), named) {
			continue
		}
		if s[0] == "away" && (h.before(w) == "straight" || h.before(w) == "right") {
			continue
		}
		return &a.states[k]
	}
	return nil
}

// hasObject tells whether a noun phrase begins at word w: then the word before
// is its preposition. "a bit" and "the way" are none. In "carb heat on the power's
// coming back" what follows has a verb of its own; in "the flaps in this airplane
// are electric" (named) the verb is the flaps'.
func (h *hearing) hasObject(w int, named bool) bool {
	ts := h.stream.tokens
	if w < len(ts) && (ts[w].text == "here" || ts[w].text == "there") && ts[w-1].text == "in" {
		return true
	}
	if w+1 >= len(ts) || h.ends(w-1) {
		return false
	}
	t, next := ts[w].text, ts[w+1].text
	switch t {

	case "the", "this", "that", "these", "those", "my", "your", "our", "his", "her", "its", "their", "a", "an", "every", "any", "some":
	default:
		return false
	}
	if english.Is(next, english.Degree|english.Adverb|english.Be) || times[next] || w+2 < len(ts) && times[ts[w+2].text] {
		return false
	}
	if named {
		return true
	}
	for k := w + 1; k < min(w+4, len(ts)) && !h.ends(k-1); k++ {
		if strings.HasSuffix(ts[k].text, "'s") || english.Is(ts[k].text, english.Aux|english.Particle) || k > w+1 && english.FormOf(ts[k].text)&(english.Third|english.Ing) != 0 {
			return false
		}
	}
	return true
}

// governor looks before the thing at word i for the verb that handles it: where
// it begins, whether it is one of the act's own, and the state between verb and
// thing, -1 for none ("bring back the power").
func (h *hearing) governor(a *act, i int) (start int, own bool, state int) {
	state = -1
	for w := i - 1; w >= max(0, i-gap); w-- {
		if h.parted(w) || h.stream.tokens[w].comma {
			break
		}
		t := h.stream.tokens[w].text
		for _, v := range a.verbs {
			if english.IsFormOf(t, v) && !english.Is(h.before(w), english.Determiner) {
				return w, true, -1
			}
		}
		k := english.KindOf(t)
		if k&english.Light != 0 && english.FormOf(t) != 0 && k&english.Aux == 0 && t != "right" {
			if state >= 0 {
				return w, false, state
			}
			return w, false, -1
		}
		if state < 0 && k&english.Particle != 0 && h.stateWord(a, t) {
			state = w
			// "down go the flaps": the verb may stand behind it.
			if w+1 < i && english.Is(h.stream.tokens[w+1].text, english.Light) {
				return w, false, w
			}
			continue
		}
		if k&(english.Determiner|english.Adverb|english.Degree|english.Particle) == 0 && t != "of" && t != "with" && t != "me" && t != "us" {
			break
		}
	}
	return i, false, -1
}

// times are nouns that tell when or how, not where: "up the whole time".
var times = set("time", "way", "moment", "second", "minute", "day", "flight", "lesson", "while", "instant", "hour")

func (h *hearing) before(i int) string {
	if i <= 0 {
		return ""
	}
	return h.stream.tokens[i-1].text
}

func (h *hearing) stateWord(a *act, w string) bool {
	for _, s := range a.states {
		if len(s.words) == 1 && s.words[0] == w {
			return true
		}
	}
	return false
}

// formOf tells whether w is a form of one of the act's verbs that may follow the
// thing: one in -ing or a participle.
func (h *hearing) formOf(a *act, w string, linked bool) bool {
	for _, v := range a.verbs {
		if !english.IsFormOf(w, v) {
			continue
		}
		if f := english.FormOf(w); f&(english.Ing|english.Participle) != 0 || linked && f&english.Third != 0 {
			return true
		}
	}
	return false
}

// verbed finds acts without a thing at word i: the verb alone, or with a state
// ("pitching up", "clean it up").
func (h *hearing) verbed(out []candidate, a *act, i int) []candidate {
	if len(a.states) == 0 && !a.slot {
		if b := h.before(i); english.Is(b, english.Determiner) && (!english.Is(b, english.Object) || english.FormOf(h.stream.tokens[i].text)&(english.Participle|english.Ing) == 0) {
			return out // a noun: "the trim", but "got her trimmed"
		}
		return append(out, h.extended(a, h.actCandidate(a, i, i, i+1, 0, 0))...)
	}
	skipped := 0
	for w := i + 1; w < len(h.stream.tokens) && skipped <= 3 && !h.parted(w-1); w++ {
		if a.slot {
			if c, ok := h.actFigure(a, i, i, i+1, w, skipped); ok {
				return append(out, c)
			}
		} else if s := h.stateAt(a, w, false); s != nil {
			return append(out, h.extended(a, h.actCandidate(a, i, i, w+len(s.words), skipped, s.weigh))...)
		}
		t := h.stream.tokens[w].text
		if !between(t) && !english.Is(t, english.Object) {
			break
		}
		skipped++
	}
	return out
}

func (h *hearing) actCandidate(a *act, first, thing, end, skipped int, more float64) candidate {
	if first < thing { // the verb before it is part of the call
		more += verbWeight + gapWeight*float64(thing-first-1)
	}
	return candidate{
		pattern: a.pattern, callout: a.pattern.callout, first: first, end: end, thing: thing,
		p: actBelief - perGapWord*float64(skipped), cost: gapCost * float64(skipped+1), weight: a.weigh + more + gapWeight*float64(skipped),
	}
}

// extended is an act, and the act with the figure that follows it when its
// callout may have one.
func (h *hearing) extended(a *act, c candidate) []candidate {
	out := []candidate{c}
	q := h.finder.lexicon.Callouts[c.callout].Quantity
	if q == "" {
		return out
	}
	if a.thing == nil {
		if rs := h.figureBefore(c.first, figures.Quantity(q)); len(rs) > 0 {
			with := h.withFigure(c, rs)
			with.first, with.end = rs[0].First, c.end
			return append(out, with)
		}
	}
	if rs := h.after(c.end, figures.Quantity(q)); len(rs) > 0 && rs[0].Weight >= 0.5 {
		c.weight += gapWeight * float64(max(0, rs[0].First-c.end))
		out = append(out, h.withFigure(c, rs))
	}
	return out
}

// figureBefore reads the figure that ends before word first, over words like "and":
// "fifty five, and rotate".
func (h *hearing) figureBefore(first int, q figures.Quantity) []figures.Reading {
	for end := first; end > 0 && end >= first-2; end-- {
		rs := slices.DeleteFunc(h.figures.Before(end, q), func(r figures.Reading) bool { return r.Weight < 0.5 || h.crosses(r.First, first) })
		if len(rs) > 0 {
			return rs
		}
		if t := h.before(end); t != "and" && t != "i" && t != "we" && t != "then" {
			break
		}
	}
	return nil
}

// actFigure reads the figure of an act at word w.
func (h *hearing) actFigure(a *act, start, i, j, w, skipped int) (candidate, bool) {
	q := figures.Quantity(h.finder.lexicon.Callouts[a.pattern.callout].Quantity)
	found := h.figures.At(w, q)
	if h.stream.tokens[w].text == "to" && w+1 < len(h.stream.tokens) && !h.parted(w) {
		// "climb to four thousand" is no twenty four thousand
		if next := h.figures.At(w+1, q); len(next) > 0 && len(found) > 0 && next[0].Weight >= found[0].Weight {
			found = next
		}
	}
	rs := slices.DeleteFunc(found, func(r figures.Reading) bool {
		return h.crosses(j-1, r.End) || r.Weight < 0.5 || q == figures.Flaps && r.Value == 0
	})
	if len(rs) == 0 {
		return candidate{}, false
	}
	return h.withFigure(h.actCandidate(a, start, i, j, skipped, 0), rs), true
}

func (h *hearing) withFigure(c candidate, rs []figures.Reading) candidate {
	best := rs[0]
	c.end = max(c.end, best.UnitEnd)
	c.weight += figureWeight * float64(best.End-best.First)
	c.readings = nil
	for _, r := range rs {
		if !slices.ContainsFunc(c.readings, func(w weighed) bool { return w.value == r.Value }) {
			c.readings = append(c.readings, weighed{r.Value, c.p * r.Weight})
		}
	}
	return c
}
