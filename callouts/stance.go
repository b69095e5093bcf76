package callouts

import (
	"sidetone/callouts/english"
	"sidetone/callouts/stance"
)

// Words of a speaker who turns to the present, and words that mean no more than
// "heard you".
var (
	joiners          = set("and", "but", "so", "then", "because")
	discourse        = set("okay", "ok", "alright", "right", "good", "great", "perfect", "nice")
	acknowledgements = set("okay", "ok", "alright", "right", "good", "great", "perfect", "nice", "yes", "yeah", "yep", "roger", "now", "here", "uh", "um", "there", "well", "oh",
		"and", "so", "then", "is", "the", "our", "my", "we're", "i'm", "check", "checked", "sir", "copy", "got", "it", "that's")
)

// reach is how far, in words, a clause is looked for.
const reach = 12

// stance reads how the call is meant from its sentence.
func (h *hearing) stance(c *candidate) {
	c.meant = stance.Read(h.said(c))
}

// said is the call among the words around it, for reading its stance.
func (h *hearing) said(c *candidate) stance.Said {
	if h.words == nil {
		h.words = h.stream.said(h.speakers)
	}
	said := stance.Said{
		Words: h.words, First: c.first, End: c.end, Thing: c.thing,
		Phrase: h.phrase(c), Misheard: h.misheard(c), Named: c.pattern.named, Command: c.pattern.ordered,
	}
	if !said.Misheard { // misheard words mean something else
		said.Told = h.told(c)
	}
	return said
}

// phrase is the phrase a call was found as, nil for an act.
func (h *hearing) phrase(c *candidate) []string {
	if s := c.pattern.spelt; s != nil && (english.Is(english.Full(s[0])[0], english.Subject|english.Negative) || s[0] == "your" || s[0] == "my") {
		return s // a sentence of its own; others are read as any words
	}
	if c.pattern.free && h.finder.freely[c.callout].negative {
		return h.stream.text(c.first, c.end) // "not a soul on the left" denies nothing
	}
	var words []string
	for _, id := range []int{c.pattern.pre, c.pattern.post} {
		if id >= 0 {
			words = append(words, h.finder.plain[id]...)
		}
	}
	return words
}

// misheard tells whether the words of a call mean nothing as they were heard.
func (h *hearing) misheard(c *candidate) bool {
	words := h.phrase(c)
	heard := h.stream.text(c.first, c.end)
	for _, w := range heard {
		if english.Is(w, english.Negative|english.Modal|english.Subject|english.Light) {
			return false // heard well enough to tell something
		}
	}
	at := 0
	for _, w := range words {
		for at < len(heard) && heard[at] != w && stem(heard[at]) != w {
			at++
		}
		if at == len(heard) {
			return true
		}
		at++
	}
	return false
}

// said is the stream as the stance is read from it.
func (s *stream) said(speakers []string) []stance.Word {
	out := make([]stance.Word, len(s.tokens))
	for i := range s.tokens {
		t := &s.tokens[i]
		out[i] = stance.Word{Text: t.text, Comma: t.comma, Stop: t.stop, Question: t.question}
		if i+1 < len(s.tokens) {
			next := &s.tokens[i+1]
			out[i].Pause = max(0, next.start-t.end)
			out[i].Apart = out[i].Pause > wordGap || speakers[next.utterance] != speakers[t.utterance]
		} else {
			out[i].Apart = true
		}
	}
	return out
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
