package callouts

// How a call is meant is read from the words around it. The words that tell
// (stance_cues.go) are plain data; this file decides which of them concern a
// call: those of its own clause, and those that open a sentence and govern all
// of it ("if", "last time"), as far as they reach.
//
// The default is Done. A call said by itself, between pauses, is not touched by
// what was said around it.

// Confidence of a stance that the words leave open.
const (
	// risingDoubt weighs a bare call with a question mark: recognisers put one
	// where the voice rises, and students' voices rise on calls they make.
	risingDoubt = 0.7
)

// reach is how far, in words, a cue is looked for from a call.
const reach = 12

// stance decides how the call is meant, and how sure the call is then.
func (h *hearing) stance(c *candidate) (Stance, float64) {
	first, end := c.first, c.end
	a, b := h.clause(first, end)
	bare := h.onlyAcknowledged(a, first) && h.onlyAcknowledged(end, b)
	if st, ok := h.afterword(end); ok {
		return st, c.p
	}
	best, found := cue{}, false
	consider := func(q cue) {
		if !found || q.priority > best.priority {
			best, found = q, true
		}
	}
	sentence := h.sentence(first)
	for _, q := range stanceCues {
		if h.applies(q, sentence, a, b, first, end) {
			consider(q)
		}
	}
	if found && best.stance == Done {
		return Done, c.p
	}
	if found {
		return best.stance, c.p
	}
	if h.questioned(end, b) {
		if bare {
			return Done, c.p * risingDoubt
		}
		if h.asks(a, first) {
			return Asked, c.p
		}
	}
	if c.pattern.ordered && !h.subject(a, first) {
		return Ordered, c.p
	}
	return Done, c.p
}

// afterword looks at what is tagged onto a call: "flaps up? not yet".
func (h *hearing) afterword(end int) (Stance, bool) {
	for _, q := range afterCues {
		if !h.spells(end, q.words) || h.stream.pause(end-1) > 1.5 || h.stream.tokens[end-1].broken && !h.sameSpeaker(end-1, end) {
			continue
		}
		return q.stance, true
	}
	return "", false
}

// clause bounds the clause around words [first, end): punctuation, a pause, a
// joining word or a word like "okay" parts clauses.
func (h *hearing) clause(first, end int) (a, b int) {
	ts := h.stream.tokens
	for a = first; a > 0 && a > first-reach; a-- {
		if h.ends(a-1) || joiners[ts[a-1].text] || discourse[ts[a-1].text] {
			break
		}
	}
	for b = end; b < len(ts) && b < end+reach; b++ {
		if h.ends(b-1) || joiners[ts[b].text] || discourse[ts[b].text] {
			break
		}
	}
	return a, b
}

// sentence is the first word of the sentence word i is in.
func (h *hearing) sentence(i int) int {
	ts := h.stream.tokens
	a := i
	for ; a > 0 && a > i-2*reach; a-- {
		t := &ts[a-1]
		if t.stop || t.broken || h.stream.pause(a-1) >= sentenceGap {
			break
		}
	}
	return a
}

// openers is how many words may stand before the cue that opens a sentence:
// "the common mistake".
const openers = 3

// sentenceGap is a pause, in seconds, that ends a sentence.
const sentenceGap = 0.9

// applies says whether cue q concerns the call at [first, end) in the clause
// [a, b) of the sentence that starts at s.
func (h *hearing) applies(q cue, s, a, b, first, end int) bool {
	from := a
	if q.scope == sentenceScope {
		from = s
	}
	opened := s + openers
	from = max(from, first-reach, first-q.within)
	for i := from; i < first; i++ {
		// A cue may run into the call: "don't trim".
		if !h.spells(i, q.words) || i+len(q.words) > first {
			continue
		}
		if q.opens && !h.opening(i, s, a) {
			continue
		}
		if i < a && (i > opened || h.released(i+len(q.words), first)) {
			continue
		}
		return true
	}
	if q.after {
		for i := end; i < b; i++ {
			if h.spells(i, q.words) {
				return true
			}
		}
	}
	return false
}

// opening says whether word i opens its clause or sentence, but for words like
// "okay".
func (h *hearing) opening(i, s, a int) bool {
	return h.onlyAcknowledged(min(a, i), i) && i >= a || h.onlyAcknowledged(min(s, i), i) ||
		i > 0 && (joiners[h.stream.tokens[i-1].text] || h.stream.tokens[i-1].comma)
}

// released says whether the sway of a sentence-wide cue has ended between words
// i and first: the speaker turned to the present with a word like "okay".
func (h *hearing) released(i, first int) bool {
	for ; i < first; i++ {
		if discourse[h.stream.tokens[i].text] {
			return true
		}
	}
	return false
}

func (h *hearing) onlyAcknowledged(first, end int) bool {
	for i := first; i < end; i++ {
		if t := h.stream.tokens[i].text; !acknowledgements[t] && !joiners[t] {
			return false
		}
	}
	return true
}

// questioned says whether the clause the call is in ends in a question mark.
func (h *hearing) questioned(end, b int) bool {
	for i := end - 1; i < b; i++ {
		if h.stream.tokens[i].question {
			return true
		}
	}
	return false
}

// asks says whether the words before the call open a question.
func (h *hearing) asks(a, first int) bool { return !h.onlyAcknowledged(a, first) }

// subject says whether the speaker names himself as the one who acts.
func (h *hearing) subject(a, first int) bool {
	for i := max(a, first-4); i < first; i++ {
		if subjects[h.stream.tokens[i].text] {
			return true
		}
	}
	return false
}
