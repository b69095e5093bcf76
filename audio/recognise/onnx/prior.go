package onnx

import (
	"slices"
)

// The prior is what the model expects of language where there is no sound: the
// log-probability of a token after the one before it, given silence. It steers
// the search; the exact prior of a whole phrase is taken once that is over.

const priorBatch = 64

// learnPriors asks the model for the prior of every place in the trees.
func (r *Recogniser) learnPriors(roots ...*node) error {
	byToken := map[int64][]*node{}
	for _, root := range roots {
		root.each(func(n *node) { byToken[n.id] = append(byToken[n.id], n) })
	}
	tokens := make([]int64, 0, len(byToken))
	for id := range byToken {
		tokens = append(tokens, id)
	}
	slices.Sort(tokens)
	for batch := range slices.Chunk(tokens, priorBatch) {
		if err := r.learnBatch(batch, byToken); err != nil {
			return err
		}
	}
	return nil
}

func (r *Recogniser) learnBatch(tokens []int64, byToken map[int64][]*node) error {
	all, err := repeat(r.silence, len(tokens))
	if err != nil {
		return err
	}
	defer all.Destroy()
	ids := make([]int64, 0, 2*len(tokens))
	for _, id := range tokens {
		ids = append(ids, startToken, id)
	}
	var c *cache
	logits, err := r.run(ids, len(tokens), all, &c)
	if err != nil {
		return err
	}
	defer c.free()
	defer func() { _ = logits.Destroy() }()
	data := logits.GetData()
	size := len(data) / len(ids)
	for i, id := range tokens {
		at := 2*i + 1
		if id == startToken {
			at = 2 * i
		}
		row := data[at*size : (at+1)*size]
		sum := logSum(row, highest(row))
		for _, n := range byToken[id] {
			for next, child := range n.next {
				child.prior = float64(row[next]) - sum
			}
		}
	}
	return nil
}

// each calls f for every inner node from n down.
func (n *node) each(f func(*node)) {
	if len(n.next) == 0 {
		return
	}
	f(n)
	for _, child := range n.next {
		child.each(f)
	}
}
