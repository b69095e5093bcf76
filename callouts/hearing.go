package callouts

import (
	"cmp"
	"math"
	"slices"

	"sidetone/audio/transcript"
	"sidetone/callouts/english"
	"sidetone/callouts/figures"
	"sidetone/callouts/meaning"
	"sidetone/callouts/sound"
	"sidetone/callouts/stance"
)

// hearing is one stream being searched.
type hearing struct {
	finder   *Finder
	stream   *stream
	figures  *figures.Line
	matches  []sound.Match
	speakers []string // of each utterance
	words    []stance.Word
	odds     [][]float32 // of each word, what it means; nil for not read
	ways     [][]float32 // and how
	spans    []meaning.Span
	listed   []bool      // of each word, whether it is of a listed phrase as it is listed
	chosen   []candidate // the calls told
	taken    []bool      // of each word, whether it is of one of them
}

// candidate is a call that might have been made at words [first, end).
type candidate struct {
	pattern    *pattern
	callout    int
	first, end int
	p          float64 // belief from the sound and the figure
	cost       float64 // of the words that are not a figure
	weight     float64 // how much of the sound it explains
	readings   []weighed
	corrected  *float64
	stance     Stance
	meant      stance.Reading
	thing      int // of an act: the first word of its thing or verb
}

type weighed struct {
	value, weight float64
}

// worth is what choosing a candidate adds to the explanation of the words: its
// belief times the sound it explains, less what it gets wrong and a price for
// every call so that one long call beats two short ones.
func (c *candidate) worth() float64 { return c.p*(c.weight-slipPrice*c.cost) - callPrice }

const (
	callPrice = 0.8
	// slipPrice is how many well heard phonemes one wrong phoneme outweighs: a
	// longer phrase must not win by taking in a word that is none of its own.
	slipPrice = 3
	// leastBelief is the belief below which a call is not worth telling about.
	leastBelief = 0.3
	// readingShare is how likely a reading must be beside the likeliest to be
	// told: the judge takes any reading told as what may have been said.
	readingShare = 0.5
	// figureDoubt is how fast the belief in a figure found by sound fades with
	// each phoneme it fits worse.
	figureDoubt = 2.0
	// figureWeight is the sound one word of a figure stands for, in phonemes.
	figureWeight = 3.0
)

// calls is the whole way from matches to calls.
func (h *hearing) calls(t *transcript.Transcript) []Call {
	cands := h.candidates()
	h.compete(cands)
	cands = slices.DeleteFunc(cands, func(c candidate) bool { return c.p < leastBelief })
	chosen := h.correct(choose(cands))
	chosen = append(chosen, h.bareFigures(chosen)...)
	h.chosen, h.taken = chosen, make([]bool, len(h.stream.tokens))
	for _, c := range chosen {
		for i := c.first; i < c.end; i++ {
			h.taken[i] = true
		}
	}
	out := make([]Call, 0, len(chosen))
	for i := range chosen {
		if chosen[i].pattern.named { // not before: what only sounds alike must not win over it
			chosen[i].p *= h.backed(&chosen[i])
		}
		if chosen[i].stance == "" {
			h.stance(&chosen[i])
		}
		out = append(out, h.call(t, &chosen[i]))
	}
	return out
}

func (h *hearing) call(t *transcript.Transcript, c *candidate) Call {
	s, co := h.stream, &h.finder.lexicon.Callouts[c.callout]
	begin := h.begins(c)
	first, last := &s.tokens[begin], &s.tokens[c.end-1]
	call := Call{
		ID: co.ID, Start: first.start, End: last.end, Speaker: t.Utterances[first.utterance].Speaker,
		Stance: c.stance, Confidence: c.p, Heard: s.heard(begin, c.end), Corrected: c.corrected, Utterance: first.utterance, Meant: c.meant,
		named: c.pattern.named, bare: c.pattern.bare, Estimated: first.estimated,
	}
	for _, r := range c.readings {
		if r.weight < readingShare*c.readings[0].weight {
			break
		}
		call.Readings = append(call.Readings, Reading{co.Quantity, r.value})
	}
	if len(c.readings) > 0 {
		v := c.readings[0].value
		call.Value, call.Unit = &v, co.Quantity.Unit()
	}
	return call
}

// relative tells whether a height is how far from another: "within fifty feet", "a
// hundred feet low".
func (h *hearing) relative(r figures.Reading) bool {
	return differs[h.before(r.First)] || r.UnitEnd < len(h.stream.tokens) && r.UnitEnd > r.First && !h.parted(r.UnitEnd-1) && off[h.stream.tokens[r.UnitEnd].text]
}

var (
	differs = set("within", "by", "gained", "gain", "gaining", "lost", "lose", "losing", "minus", "plus", "every", "another")
	off     = set("low", "high", "above", "below", "off", "under", "over", "vertically", "away")
)

// candidates turns the matches of phrases into possible calls.
func (h *hearing) candidates() []candidate {
	f := h.finder
	posts := map[[2]int]*sound.Match{} // phrase and first word
	for i := range h.matches {
		m := &h.matches[i]
		m.Cost += h.smallWords(m)
		posts[[2]int{m.Phrase, m.First}] = m
	}
	var out []candidate
	for i := range h.matches {
		m := &h.matches[i]
		flow := h.flow(m.First, m.End)
		if flow == 0 {
			continue
		}
		for _, id := range f.byPhrase[m.Phrase] {
			pt := &f.patterns[id]
			c := candidate{pattern: pt, callout: pt.callout, first: m.First, end: m.End, p: m.Probability() * flow, cost: m.Cost, weight: m.Weight}
			switch {
			case pt.fixed != nil:
				c.p *= headed(m.Head)
				c.readings = []weighed{{*pt.fixed, c.p * math.Exp(-figureDoubt*m.Cost)}}
			case pt.slot:
				if !h.fill(&c, pt, m, flow, posts) {
					continue
				}
			}
			if c.p < leastBelief {
				continue
			}
			if pt.alone && !h.byItself(c.first, c.end) {
				continue
			}
			if h.stream.tokens[c.end-1].text == "around" && h.hasObject(c.end, true) {
				continue // "go around the lake"
			}
			c.p *= h.trust(c.first, c.end)
			out = append(out, c)
		}
	}
	for _, c := range h.acts() {
		c.p *= h.trust(c.first, c.end)
		out = append(out, c)
	}
	for i := range out {
		if out[i].pattern.act && !out[i].pattern.named {
			out[i].p *= h.backed(&out[i])
		}
	}
	out = append(out, h.free(out)...)
	return merge(out)
}

// fill finds the figure of a pattern's slot and widens the candidate over it.
func (h *hearing) fill(c *candidate, pt *pattern, m *sound.Match, flow float64, posts map[[2]int]*sound.Match) bool {
	q := figures.Quantity(h.finder.lexicon.Callouts[pt.callout].Quantity)
	var rs []figures.Reading
	if pt.pre < 0 {
		rs = h.figures.Before(c.first, q)
		rs = slices.DeleteFunc(rs, func(r figures.Reading) bool { return h.crosses(r.First, c.end) })
	} else {
		rs = h.after(c.end, q)
	}
	if q == figures.Altitude {
		rs = slices.DeleteFunc(rs, h.relative)
	}
	if q == figures.Flaps { // "flaps zero" is flaps up
		rs = slices.DeleteFunc(rs, func(r figures.Reading) bool { return r.Value == 0 })
	}
	if pt.pre >= 0 && pt.post >= 0 {
		var post *sound.Match
		rs = slices.DeleteFunc(rs, func(r figures.Reading) bool {
			m := posts[[2]int{pt.post, r.End}]
			if m == nil {
				return true
			}
			if post == nil {
				post = m
			}
			return m != post
		})
		if post == nil {
			return false
		}
		c.cost, c.weight = c.cost+post.Cost, c.weight+post.Weight
		c.end = post.End
		if post.Probability() < m.Probability() {
			m = post
		}
	}
	if len(rs) == 0 {
		return false
	}
	best := rs[0]
	c.p = m.ProbabilityWith(speaksFor(best)) * flow
	c.first = min(c.first, best.First)
	if pt.post < 0 {
		c.end = max(c.end, best.UnitEnd)
	}
	c.weight += figureWeight * float64(best.End-best.First)
	for _, r := range rs {
		if !slices.ContainsFunc(c.readings, func(w weighed) bool { return w.value == r.Value }) {
			c.readings = append(c.readings, weighed{r.Value, c.p * r.Weight})
		}
	}
	c.p *= min(1, 0.4+0.7*best.Weight)
	return true
}

// speaksFor is what a figure in its place says for the words beside it, in
// log-odds: the longer the figure, the less it stands there by chance.
func speaksFor(r figures.Reading) float64 {
	return r.Weight * min(2, 0.7*float64(r.Parts))
}

// headed weighs a flap setting found by sound: figures are said all the time,
// so the first word must be heard for itself.
func headed(head float64) float64 { return max(0, min(1, (0.42-head)/0.27)) }

// links are words that may stand between a phrase and its figure.
var links = set("to", "at", "is", "are", "now", "going", "set", "coming", "about", "around", "of", "uh", "um", "and", "on", "the", "that's")

// after reads the figures that follow word end, over at most two linking words.
func (h *hearing) after(end int, q figures.Quantity) []figures.Reading {
	var out []figures.Reading
	trust := 1.0
	for w := end; w <= end+2 && w < len(h.stream.tokens); w++ {
		if h.stream.tokens[w-1].broken {
			break
		}
		for _, r := range h.figures.At(w, q) {
			if !h.crosses(end-1, r.End) {
				r.Weight *= trust
				out = append(out, r)
			}
		}
		if !links[h.stream.tokens[w].text] {
			break
		}
		trust *= 0.95
	}
	slices.SortStableFunc(out, func(a, b figures.Reading) int { return cmp.Compare(b.Weight, a.Weight) })
	return out
}

// crosses says whether words [first, end) run over a break.
func (h *hearing) crosses(first, end int) bool {
	for i := first; i < end-1; i++ {
		if h.stream.tokens[i].broken {
			return true
		}
	}
	return false
}

// everyday are common words that a recogniser seldom writes for a word of
// another meaning, since it knows them best.
var everyday = set("uh", "um", "ah", "oh", "er", "hmm", "yeah", "yes", "well", "a", "an", "and", "are", "as", "at", "be", "been", "but", "by", "can", "did", "do", "does", "for", "from", "had", "has", "have", "he",
	"her", "here", "him", "his", "how", "i", "i'm", "if", "in", "is", "it", "it's", "just", "like", "me", "my", "no", "not", "of", "or", "our", "she", "so",
	"some", "than", "that", "that's", "the", "their", "them", "then", "there", "these", "they", "this", "those", "to", "too", "was", "we", "we're", "were",
	"what", "when", "where", "which", "who", "why", "will", "with", "would", "you", "you're", "your")

// littleWords are those without which there is no sentence.
const littleWords = english.Aux | english.Subject | english.Object | english.Determiner | english.Coordinator | english.Subordinator | english.Wh | english.Negative | english.Adverb

// smallWordCost is what it costs a match, in phonemes, to take such a word for
// one of its own.
const smallWordCost = 0.45

// edgeWordCost is what it costs beside when the word begins or ends the match: most
// calls end in the word that tells one from the other.
const edgeWordCost = 0.7

// otherVerbCost is what it costs to take another verb for a word of the phrase
// when the words beside it were heard well: "the altimeter stays".
const otherVerbCost = 1.2

// otherWordCost is what it costs to take any other word for one of the phrase that
// it sounds little like (missedWord, a share of its sound), when the words beside
// it were heard well: "swing to the left" is no "clear to the left".
const (
	otherWordCost = 0.8
	missedWord    = 0.5
)

// negationCost is what it costs to take a "not" for a word of its own.
const negationCost = 1.0

// smallWords is what a match costs for the words it takes for words of its own
// though they are words of another meaning.
func (h *hearing) smallWords(m *sound.Match) float64 {
	own := h.finder.words[m.Phrase]
	c := 0.0
	clear := false // the thing was heard as it is
	for i := m.First; i < m.End; i++ {
		w := h.stream.tokens[i].text
		if own[w] {
			clear = clear || !fill[w] && english.KindOf(w) == 0
			continue
		}
		inside := i > m.First && i < m.End-1
		kind := h.stream.kind(i)
		if fill[w] && !inside || !fill[w] && (everyday[w] || kind&littleWords != 0) {
			c += smallWordCost
			if !inside && kind&littleWords != 0 {
				c += edgeWordCost // "carb heat is" is no "carb heat in"
			}
		}
		if kind&english.Negative != 0 {
			c += negationCost
		}
		if (clear || m.End-m.First == 1 && len(english.Verbs(w)) > 0) && !fill[w] && english.FormOf(w) != 0 && !own[stem(w)] {
			c += otherVerbCost // "turning" is no "trimming"
		}
	}
	if clear && m.Worst > missedWord {
		c += otherWordCost
	}
	return c
}

// flow weighs what lies between the words of a match: the end of a sentence, a
// long pause.
func (h *hearing) flow(first, end int) float64 {
	w := 1.0
	for i := first; i < end-1; i++ {
		t := &h.stream.tokens[i]
		switch gap := h.stream.pause(i); {
		case t.broken:
			return 0
		case gap > 1.2:
			w = min(w, 0.7)
		case t.stop:
			w = min(w, 0.6)
		case t.comma:
			w = min(w, 0.9)
		}
	}
	return w
}

// trust weighs the source's own belief in the words.
func (h *hearing) trust(first, end int) float64 {
	sum := 0.0
	for i := first; i < end; i++ {
		sum += math.Log(min(1, max(0.01, h.stream.tokens[i].confidence)))
	}
	return math.Exp(0.5 * sum / float64(end-first))
}

// byItself says whether words [first, end) make up a clause of their own, but
// for words like "okay".
func (h *hearing) byItself(first, end int) bool {
	a, b := h.clause(first, end)
	for i := a; i < b; i++ {
		if (i < first || i >= end) && !acknowledgements[h.stream.tokens[i].text] {
			return false
		}
	}
	return true
}

// merge joins the candidates of one callout over the same words, which differ
// in their figures only, and keeps the best of the rest.
func merge(cs []candidate) []candidate {
	slices.SortStableFunc(cs, func(a, b candidate) int {
		return cmp.Or(cmp.Compare(a.callout, b.callout), cmp.Compare(a.first, b.first), cmp.Compare(a.end, b.end), cmp.Compare(a.cost, b.cost), cmp.Compare(b.worth(), a.worth()))
	})
	var out []candidate
	for _, c := range cs {
		n := len(out)
		if n == 0 || out[n-1].callout != c.callout || out[n-1].first != c.first || out[n-1].end != c.end {
			out = append(out, c)
			continue
		}
		k := &out[n-1]
		for _, r := range c.readings {
			if i := slices.IndexFunc(k.readings, func(w weighed) bool { return w.value == r.value }); i >= 0 {
				k.readings[i].weight = max(k.readings[i].weight, r.weight)
			} else {
				k.readings = append(k.readings, r)
			}
		}
		k.p = max(k.p, c.p)
		slices.SortStableFunc(k.readings, func(a, b weighed) int { return cmp.Compare(b.weight, a.weight) })
	}
	return out
}

// rivalry is how fast a rival's claim fades with each phoneme it fits worse.
const rivalry = 4.0

// compete shares the belief between different callouts that claim much the same
// words about equally well.
func (h *hearing) compete(cs []candidate) {
	slices.SortStableFunc(cs, func(a, b candidate) int { return cmp.Compare(a.first, b.first) })
	for i := range cs {
		if cs[i].pattern.act && !cs[i].pattern.named {
			yield(cs, i)
		}
	}
	share := make([]float64, len(cs))
	for i := range cs {
		share[i] = 1
	}
	for i := range cs {
		rivals := map[int]float64{}
		for j := max(0, i-64); j < len(cs) && cs[j].first < cs[i].end; j++ {
			a, b := &cs[i], &cs[j]
			if a.callout == b.callout || b.weight < 0.8*a.weight {
				continue
			}
			common := min(a.end, b.end) - max(a.first, b.first)
			if common*2 <= max(a.end-a.first, b.end-b.first) {
				continue
			}
			claim := math.Exp(-rivalry * (b.cost - a.cost + 0.25*(a.weight-b.weight)))
			rivals[b.callout] = max(rivals[b.callout], min(1, claim))
		}
		for _, r := range rivals {
			share[i] += r
		}
	}
	for i := range cs {
		cs[i].p /= share[i]
	}
}

// Words that are spelt as a call should be were heard: what only sounds like them
// yields (yielding) from the cost (inexact, in phonemes) at which it does not
// itself match to the phoneme.
const (
	yielding = 0.25
	inexact  = 0.15
)

// yield makes the sound matches of other callouts that cover act i less likely.
func yield(cs []candidate, i int) {
	a := &cs[i]
	for j := range cs {
		b := &cs[j]
		if b.first > a.first {
			break
		}
		if !b.pattern.act && b.callout != a.callout && b.end >= a.end && b.cost > inexact {
			b.p *= yielding
		}
	}
}

// choose picks the candidates that do not overlap and together explain the
// words best (weighted interval scheduling).
func choose(cs []candidate) []candidate {
	slices.SortStableFunc(cs, func(a, b candidate) int { return cmp.Compare(a.end, b.end) })
	best := make([]float64, len(cs)+1)
	take := make([]bool, len(cs))
	before := make([]int, len(cs))
	for i := range cs {
		k, _ := slices.BinarySearchFunc(cs[:i], cs[i].first, func(c candidate, first int) int {
			if c.end <= first {
				return -1
			}
			return 1
		})
		before[i] = k
		best[i+1] = best[i]
		if w := best[k] + cs[i].worth(); w > best[i] {
			best[i+1], take[i] = w, true
		}
	}
	var out []candidate
	for i := len(cs); i > 0; {
		if take[i-1] {
			out = append(out, cs[i-1])
			i = before[i-1]
		} else {
			i--
		}
	}
	slices.Reverse(out)
	return out
}

func set(words ...string) map[string]bool {
	m := make(map[string]bool, len(words))
	for _, w := range words {
		m[w] = true
	}
	return m
}
