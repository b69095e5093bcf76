package onnx

import (
	"cmp"
	"context"
	"math"
	"slices"

	onnxruntime "github.com/yalue/onnxruntime_go"
)

// The model was taught on everyday speech: "carb heat on" is so unlikely a
// sentence to it that it writes "carve ye on" or "our details". For a short
// segment it is therefore also asked which of the expected phrases fits the
// sound best, and how much better than no sound at all: the log-probability
// given the sound less that given silence, which takes out what the model
// expects of language (internal language model subtraction: McDermott et al.,
// "A density ratio approach to language model fusion", ASRU 2019). The phrase is
// written when this evidence, at its price, is more than the free text has.
const (
	searchWidth  = 10
	openingWidth = 20 // after the first token, which says little
	priorWeight  = 0.6
	mostPhrases  = 5
	mostJoins    = 2 // marks and small words between two phrases
	// searchDepth, in nats: a hypothesis this far behind the best is dropped.
	searchDepth = 14.0
	// phrasePrice in nats: on speech that holds no call the best of some
	// hundred phrases reached 12, a call that was made at least 15.
	phrasePrice = 17.0
	// evidenceScale turns nats beyond the price into a probability.
	evidenceScale = 3.0
	// endHeard is how likely the end must be for nothing more to be looked for.
	endHeard = 0.5
	// leastHeard bounds how unlikely the free text may make itself: a long
	// unclear sentence is no evidence for a short call.
	leastHeard = -4.0
)

// soFar is the least evidence a hypothesis must have after so many tokens: a
// call that was made gains about four nats with each.
func soFar(tokens int) float64 { return min(float64(tokens-8), 0) }

// hypothesis is a row of expected phrases the segment may hold.
type hypothesis struct {
	tokens  []token
	score   float64 // log-probability given the sound
	silent  float64 // about the same given silence
	row     int     // of the cache
	at      *node   // in the tree; nil outside a phrase
	phrases int
	said    []int   // the phrases before the one under way
	odds    float64 // of those phrases
	joins   int     // marks and small words since the last phrase
}

// search writes a segment freely and, side by side with that, finds the rows of
// expected phrases that fit the sound best, at most n, best first; their score
// includes that the model hears the end after them. It looks for none when the
// free text turns out to need none.
func (r *Recogniser) search(ctx context.Context, hidden onnxruntime.Value, samples, limit, n int) (*freeText, []hypothesis, error) {
	var c *cache
	defer func() { c.free() }()
	logits, err := r.step([]int64{startToken}, hidden, &c)
	if err != nil {
		return nil, nil, err
	}
	free := &freeText{}
	free.take(logits.GetData())
	open, finished := r.extend([]hypothesis{{}}, logits.GetData())
	_ = logits.Destroy()
	for step := 1; step < limit; step++ {
		if err := ctx.Err(); err != nil {
			return nil, nil, err
		}
		if free.done && (r.plain(free.tokens) || r.talk(free)) {
			return free, nil, nil
		}
		if step >= callTokens(samples) {
			open = nil
		}
		if free.done && len(open) == 0 {
			break
		}
		var rows []int
		var ids []int64
		if !free.done {
			rows, ids = append(rows, 0), append(ids, free.id())
		}
		first := len(rows)
		for _, h := range open {
			rows, ids = append(rows, h.row), append(ids, h.id())
		}
		if err := c.pick(rows); err != nil {
			return nil, nil, err
		}
		logits, err := r.step(ids, hidden, &c)
		if err != nil {
			return nil, nil, err
		}
		data := logits.GetData()
		size := len(data) / len(ids)
		if !free.done {
			free.take(data[:size])
		}
		if len(open) > 0 {
			var more []hypothesis
			open, more = r.extend(open, data[first*size:])
			for i := range open {
				open[i].row += first
			}
			finished = append(finished, more...)
			open = hopeful(open, finished)
		}
		_ = logits.Destroy()
	}
	slices.SortFunc(finished, func(a, b hypothesis) int { return cmp.Compare(b.worth(), a.worth()) })
	return free, r.distinct(finished, n), nil
}

// hopeful drops the hypotheses that are too far behind.
func hopeful(open, finished []hypothesis) []hypothesis {
	bar := math.Inf(-1)
	for _, hs := range [][]hypothesis{open, finished} {
		for _, h := range hs {
			bar = max(bar, h.promise())
		}
	}
	return slices.DeleteFunc(open, func(h hypothesis) bool { return h.promise() < bar-searchDepth })
}

// distinct keeps the first of each number of phrases and then the next ones, n in
// all, that differ by more than a full stop at the end.
func (r *Recogniser) distinct(hs []hypothesis, n int) []hypothesis {
	bare := func(h hypothesis) []token {
		if h.id() == r.marks[0] {
			return h.tokens[:len(h.tokens)-1]
		}
		return h.tokens
	}
	same := func(a, b token) bool { return a.id == b.id }
	var kept []hypothesis
	for _, firsts := range []bool{true, false} {
		for _, h := range hs {
			if len(kept) < n && !slices.ContainsFunc(kept, func(k hypothesis) bool {
				return firsts && k.phrases == h.phrases || slices.EqualFunc(bare(k), bare(h), same)
			}) {
				kept = append(kept, h)
			}
		}
	}
	return kept
}

// extend gives the continuations of hypotheses by one token, logits having a
// row for each: the best to go on with, and those that are at their end.
func (r *Recogniser) extend(from []hypothesis, logits []float32) (open, finished []hypothesis) {
	size := len(logits) / len(from)
	for i, h := range from {
		row := logits[i*size : (i+1)*size]
		sum := logSum(row, highest(row))
		grow := func(id int64, at *node, phrases int) {
			p := float64(row[id]) - sum
			next := hypothesis{score: h.score + p, silent: h.silent, row: i, at: at, phrases: phrases}
			next.tokens = append(slices.Clip(h.tokens), token{id, p})
			next.said, next.odds = h.said, h.odds
			if h.at != nil && (at == nil || phrases > h.phrases) { // a phrase is whole
				next.said, next.odds = append(slices.Clip(h.said), h.at.ends), h.odds+h.at.own
			}
			if at != nil {
				next.silent += at.prior
			} else {
				next.joins = h.joins + 1
			}
			if next.promise() >= soFar(len(next.tokens)) && !next.repeats(at) {
				open = append(open, next)
			}
		}
		if h.at != nil {
			for id, n := range h.at.next {
				grow(id, n, h.phrases)
			}
			if h.at.ends == 0 {
				continue
			}
		}
		if h.phrases > 0 && (h.at != nil || h.id() == r.marks[0]) {
			whole := h
			whole.score += float64(row[endToken]) - sum
			if h.at != nil {
				whole.odds, whole.at = h.odds+h.at.own, nil
			}
			finished = append(finished, whole)
		}
		if len(h.tokens) > 0 && r.over(h, row, sum) {
			if h.at != nil {
				grow(r.marks[0], nil, h.phrases)
			}
			continue
		}
		if h.joins < mostJoins {
			for _, id := range r.joins(h) {
				grow(id, nil, h.phrases)
			}
		}
		if h.phrases < mostPhrases {
			root := r.expected.inside
			if len(h.tokens) == 0 || h.id() == r.marks[0] {
				root = r.expected.opening
			}
			for id, n := range root.next {
				grow(id, n, h.phrases+1)
			}
		}
	}
	slices.SortFunc(open, func(a, b hypothesis) int { return cmp.Compare(b.promise(), a.promise()) })
	width := searchWidth
	if len(from) == 1 && len(from[0].tokens) == 0 {
		width = openingWidth
	}
	return open[:min(width, len(open))], finished
}

// repeats says whether the phrase just ended was said before: the model falls
// into loops where the sound is used up, people in a cockpit do not.
func (h hypothesis) repeats(at *node) bool {
	return at != nil && at.ends > 0 && slices.Contains(h.said, at.ends)
}

// over says whether the model hears nothing more to come after a hypothesis.
func (r *Recogniser) over(h hypothesis, row []float32, sum float64) bool {
	end := math.Exp(float64(row[endToken]) - sum)
	if h.at == nil {
		return end > endHeard
	}
	return end+math.Exp(float64(row[r.marks[0]])-sum) > endHeard
}

// promise is the evidence for a hypothesis so far, and how likely its phrases are.
func (h hypothesis) promise() float64 {
	p := h.score - priorWeight*h.silent + h.odds
	if h.at != nil {
		p += h.at.odds
	}
	return p
}

// worth is its evidence less what every phrase after the first must bring.
func (h hypothesis) worth() float64 {
	return h.promise() - phrasePrice*float64(max(0, h.phrases-1))
}

func (h hypothesis) id() int64 {
	if len(h.tokens) == 0 {
		return startToken
	}
	return h.tokens[len(h.tokens)-1].id
}

// weigh returns the log-probability of each row of tokens, with the end after
// it, given what was heard.
func (r *Recogniser) weigh(hidden onnxruntime.Value, texts [][]token) ([]float64, error) {
	longest := 0
	for _, t := range texts {
		longest = max(longest, len(t))
	}
	n := longest + 1
	ids := make([]int64, 0, n*len(texts))
	for _, text := range texts {
		ids = append(ids, startToken)
		for _, t := range text {
			ids = append(ids, t.id)
		}
		for len(ids)%n != 0 {
			ids = append(ids, endToken)
		}
	}
	all, err := repeat(hidden, len(texts))
	if err != nil {
		return nil, err
	}
	defer all.Destroy()
	var c *cache
	logits, err := r.run(ids, len(texts), all, &c)
	if err != nil {
		return nil, err
	}
	defer c.free()
	defer logits.Destroy()
	data := logits.GetData()
	size := len(data) / (n * len(texts))
	scores := make([]float64, len(texts))
	for b, text := range texts {
		for j := range len(text) + 1 {
			row := data[(b*n+j)*size : (b*n+j+1)*size]
			id := int64(endToken)
			if j < len(text) {
				id = text[j].id
			}
			scores[b] += float64(row[id]) - logSum(row, highest(row))
		}
	}
	return scores, nil
}
