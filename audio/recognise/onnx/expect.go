package onnx

import (
	"strings"
	"unicode"
)

// node is a place in the tree of expected phrases: the tokens said so far.
type node struct {
	next map[int64]*node
	ends bool // a phrase may end here
}

// expect builds the tree of the phrases a lesson is likely to hold, each with a
// capital and without, as the model writes at the start of a sentence and within.
func expect(t *tokeniser, phrases []string) *node {
	root := &node{next: map[int64]*node{}}
	for _, p := range phrases {
		p = strings.ToLower(p)
		for _, form := range []string{p, capital(p)} {
			if ids, ok := t.encode(form); ok {
				root.add(ids)
			}
		}
	}
	return root
}

func (n *node) add(ids []int64) {
	for _, id := range ids {
		child := n.next[id]
		if child == nil {
			child = &node{next: map[int64]*node{}}
			n.next[id] = child
		}
		n = child
	}
	n.ends = true
}

// holds says whether the tokens are exactly one phrase.
func (n *node) holds(tokens []token) bool {
	for _, t := range tokens {
		if n = n.next[t.id]; n == nil {
			return false
		}
	}
	return n.ends
}

func capital(s string) string {
	for i, r := range s {
		return string(unicode.ToUpper(r)) + s[i+len(string(r)):]
	}
	return s
}
