// Package meaning tells which words of a sentence make which callout, whatever the
// words: "down she goes" is the nose, not only "nose down". It is what remains when
// nobody can list how people say a thing.
//
// A word is a vector: one from public word vectors, so that words never met in
// training stand near those that were, and one learnt beside it, so that "up" and
// "down" do not. Two convolutions over the words around it and a softmax say which
// callout the word belongs to, or none; the best sequence of such labels gives the
// stretches (the tagger of Collobert et al., "Natural Language Processing (Almost)
// from Scratch", JMLR 12, 2011). cmd/meaningtrainer teaches it.
package meaning

import "math"

// Word is a word of the stream as it was heard, in small letters without the
// punctuation that follows it.
type Word struct {
	Text        string
	Comma, Stop bool // follows it
	Question    bool // follows it
	Breath      bool // ends with it
}

// Span is a stretch of words [First, End) that makes a callout.
type Span struct {
	ID         string
	First, End int
	P          float64 // probability that it does
}

// none is the class of words that make no callout.
const none = 0

// change is what it costs, in nats, to begin or end a stretch between two words:
// without it a doubtful word would part a call in two.
const change = 0.7

// Spans gives the callouts of words said in one breath, in their order, from what Read
// gives: by the likeliest sequence of labels (Viterbi, "Error Bounds for
// Convolutional Codes", IEEE IT 13, 1967), with the same price for every change.
func (n *Net) Spans(odds [][]float32) []Span {
	if len(odds) == 0 {
		return nil
	}
	classes := len(n.classes)
	sum := make([]float64, classes)
	from := make([][]int32, len(odds))
	for t, row := range odds {
		best := 0
		for c := range sum {
			if sum[c] > sum[best] {
				best = c
			}
		}
		top := sum[best]
		from[t] = make([]int32, classes)
		for c := range sum {
			from[t][c] = int32(c)
			if t > 0 && top-change > sum[c] {
				sum[c], from[t][c] = top-change, int32(best)
			}
			sum[c] += float64(row[c])
		}
	}
	c := 0
	for k := range sum {
		if sum[k] > sum[c] {
			c = k
		}
	}
	labels := make([]int, len(odds))
	for t := len(odds) - 1; t >= 0; t-- {
		labels[t] = c
		c = int(from[t][c])
	}
	var out []Span
	for t := 0; t < len(labels); {
		end := t + 1
		for end < len(labels) && labels[end] == labels[t] {
			end++
		}
		if labels[t] != none {
			out = append(out, Span{ID: n.classes[labels[t]], First: t, End: end, P: n.belief.P(EvidenceOf(odds[t:end], labels[t]))})
		}
		t = end
	}
	return out
}

// Evidence is what speaks for a stretch being its callout, in nats: 1; how much
// likelier its words belong to it than to none, on average; the log-odds of the
// likeliest of them; the log of how many they are.
type Evidence [4]float64

// Belief weighs evidence (a logistic regression).
type Belief [len(Evidence{})]float64

// P is the probability by the evidence.
func (b Belief) P(e Evidence) float64 {
	z := 0.0
	for i, w := range b {
		z += w * e[i]
	}
	return 1 / (1 + math.Exp(-z))
}

// most is the most, in nats, that one word may say.
const most = 8

// EvidenceOf is that for words [first, end) of odds, as Read gives them, being of a
// class.
func EvidenceOf(odds [][]float32, class int) Evidence {
	margin, top := 0.0, math.Inf(-1)
	for _, row := range odds {
		margin += min(most, max(-most, float64(row[class]-row[none])))
		p := math.Exp(float64(row[class]))
		top = max(top, min(most, math.Log(p)-math.Log1p(-min(p, 1-1e-9))))
	}
	words := float64(len(odds))
	return Evidence{1, margin / words, top, math.Log(words)}
}
