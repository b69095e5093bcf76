package onnx

import (
	"strings"
	"unicode"
)

// node is a place in the tree of expected phrases: the tokens said so far.
type node struct {
	id    int64 // the last of them
	next  map[int64]*node
	ends  bool    // a phrase may end here
	prior float64 // log-probability of id here when there is nothing to hear
}

// expected is the phrases a lesson is likely to hold, as they are written at the
// start of a sentence and within one.
type expected struct{ opening, inside *node }

func expect(t *tokeniser, phrases []string) *expected {
	e := &expected{&node{id: startToken, next: map[int64]*node{}}, &node{id: startToken, next: map[int64]*node{}}}
	for _, p := range phrases {
		p = strings.ToLower(p)
		if ids, ok := t.encode(p); ok {
			e.inside.add(ids)
		}
		if ids, ok := t.encode(capital(p)); ok {
			e.opening.add(ids)
		}
	}
	return e
}

func (n *node) add(ids []int64) {
	for _, id := range ids {
		child := n.next[id]
		if child == nil {
			child = &node{id: id, next: map[int64]*node{}}
			n.next[id] = child
		}
		n = child
	}
	n.ends = true
}

// holds says whether the tokens are exactly one phrase.
func (e *expected) holds(tokens []token) bool {
	n := e.opening
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
