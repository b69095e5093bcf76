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
	searchWidth = 8
	mostPhrases = 2
	// tokenPromise, in nats, is somewhat less than a token of a call costs
	// under silence (5 to 8).
	tokenPromise = 4.0
	// phrasePrice in nats: on speech that holds no call the best of some
	// hundred phrases reached 12, a call that was made at least 21.
	phrasePrice = 17.0
	// evidenceScale turns nats beyond the price into a probability.
	evidenceScale = 3.0
	// leastHeard bounds how unlikely the free text may make itself: a long
	// unclear sentence is no evidence for a short call.
	leastHeard = -4.0
)

// hypothesis is a row of expected phrases the segment may hold.
type hypothesis struct {
	tokens  []token
	score   float64 // log-probability given the sound
	row     int     // of the cache
	at      *node   // in the tree; nil right after a mark between phrases
	phrases int
}

// search finds the rows of expected phrases that fit the sound best, at most n,
// best first. Their score includes that the model hears the end after them.
func (r *Recogniser) search(ctx context.Context, hidden onnxruntime.Value, limit, n int) ([]hypothesis, error) {
	var c *cache
	defer func() { c.free() }()
	logits, err := r.step([]int64{startToken}, hidden, &c)
	if err != nil {
		return nil, err
	}
	open, finished := r.extend([]hypothesis{{}}, logits.GetData())
	_ = logits.Destroy()
	for step := 1; step < limit && len(open) > 0; step++ {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		rows, ids := make([]int, len(open)), make([]int64, len(open))
		for i, h := range open {
			rows[i], ids[i] = h.row, h.id()
		}
		if err := c.pick(rows); err != nil {
			return nil, err
		}
		logits, err := r.step(ids, hidden, &c)
		if err != nil {
			return nil, err
		}
		var more []hypothesis
		open, more = r.extend(open, logits.GetData())
		_ = logits.Destroy()
		finished = append(finished, more...)
		bar := math.Inf(-1)
		for _, h := range finished {
			bar = max(bar, h.promise())
		}
		open = slices.DeleteFunc(open, func(h hypothesis) bool { return h.promise() < bar-phrasePrice })
	}
	slices.SortFunc(finished, byPromise)
	return finished[:min(n, len(finished))], nil
}

// extend gives the continuations of hypotheses by one token, logits having a
// row for each: the best to go on with, and those that are at their end.
func (r *Recogniser) extend(from []hypothesis, logits []float32) (open, finished []hypothesis) {
	size := len(logits) / len(from)
	for i, h := range from {
		row := logits[i*size : (i+1)*size]
		sum := logSum(row, highest(row))
		add := func(id int64, at *node, phrases int) {
			p := float64(row[id]) - sum
			open = append(open, hypothesis{tokens: append(slices.Clip(h.tokens), token{id, p}), score: h.score + p, row: i, at: at, phrases: phrases})
		}
		if h.at != nil {
			for id, n := range h.at.next {
				add(id, n, h.phrases)
			}
			// A pause within a phrase may be written as a comma.
			if !h.at.ends && len(h.at.next) > 0 && h.id() != r.marks[1] {
				add(r.marks[1], h.at, h.phrases)
			}
			if !h.at.ends {
				continue
			}
			for _, id := range r.marks {
				add(id, nil, h.phrases)
			}
		}
		if h.at != nil || h.id() == r.marks[0] {
			whole := h
			whole.score += float64(row[endToken]) - sum
			finished = append(finished, whole)
		}
		if h.phrases < mostPhrases {
			for id, n := range r.expected.next {
				add(id, n, h.phrases+1)
			}
		}
	}
	slices.SortFunc(open, byPromise)
	return open[:min(searchWidth, len(open))], finished
}

// promise is what a hypothesis is kept for: tokens of calls are rare words, and
// a long phrase must not lose to a short one for having more of them.
func (h hypothesis) promise() float64 {
	return h.score + tokenPromise*float64(len(h.tokens)) - phrasePrice*float64(h.phrases)
}

func (h hypothesis) id() int64 {
	if len(h.tokens) == 0 {
		return startToken
	}
	return h.tokens[len(h.tokens)-1].id
}

func byPromise(a, b hypothesis) int { return cmp.Compare(b.promise(), a.promise()) }

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
