package onnx

import (
	"strings"
	"unicode"

	"sidetone/audio/recognise"
)

// node is a place in the tree of expected phrases: the tokens said so far.
type node struct {
	id    int64 // the last of them
	next  map[int64]*node
	ends  int     // which phrase may end here, from 1; 0 is none
	prior float64 // log-probability of id here when there is nothing to hear
	odds  float64 // of the likeliest phrase from here on
	own   float64 // of the phrase that may end here
}

// never is less than any odds.
const never = -1e9

// expected is the phrases a lesson is likely to hold, as they are written at the
// start of a sentence and within one.
type expected struct{ opening, inside *node }

func expect(t *tokeniser, phrases []recognise.Phrase) *expected {
	e := &expected{&node{id: startToken, next: map[int64]*node{}, odds: never}, &node{id: startToken, next: map[int64]*node{}, odds: never}}
	for i, p := range phrases {
		text := strings.ToLower(p.Text)
		if ids, ok := t.encode(text); ok {
			e.inside.add(ids, i+1, p.Odds)
		}
		if ids, ok := t.encode(capital(text)); ok {
			e.opening.add(ids, i+1, p.Odds)
		}
	}
	return e
}

func (n *node) add(ids []int64, phrase int, odds float64) {
	n.odds = max(n.odds, odds)
	for _, id := range ids {
		child := n.next[id]
		if child == nil {
			child = &node{id: id, next: map[int64]*node{}, odds: odds}
			n.next[id] = child
		}
		child.odds = max(child.odds, odds)
		n = child
	}
	n.ends, n.own = phrase, odds
}

// holds says whether the tokens are exactly one phrase.
func (e *expected) holds(tokens []token) bool {
	n := e.opening
	for _, t := range tokens {
		if n = n.next[t.id]; n == nil {
			return false
		}
	}
	return n.ends > 0
}

func capital(s string) string {
	for i, r := range s {
		return string(unicode.ToUpper(r)) + s[i+len(string(r)):]
	}
	return s
}

// joining words may stand before and between phrases.
var (
	joiningOpen   = []string{"Okay", "And", "Now", "So", "Right", "Then"}
	joiningInside = []string{"and", "now", "then", "so", "okay"}
)

// joins lists the tokens that may follow a hypothesis without being of a phrase.
func (r *Recogniser) joins(h hypothesis) []int64 {
	switch {
	case len(h.tokens) == 0:
		return r.openJoins
	case h.at != nil: // a whole phrase
		return append(r.marks[:2:2], r.insideJoins...)
	case h.id() == r.marks[0]:
		return r.openJoins
	case h.id() == r.marks[1]:
		return r.insideJoins
	}
	return r.marks[1:2] // "okay, "
}
