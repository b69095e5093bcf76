package phones

import "sync"

// Tree holds phrases by their phonemes, those with the same beginning together.
type Tree struct {
	nodes []node // the first is the root

	unused sync.Pool // *[]int32, what slots gave
}

// node is small: there are hundreds of thousands.
type node struct {
	phone  Phone
	first  int32   // of the nodes that may follow; 0 is none
	beside int32   // the next that may follow the same; 0 is none
	phrase int32   // the phrase that may end here; -1 is none
	own    float32 // its odds
	odds   float32 // of the likeliest phrase from here on
}

const none = -1e9

// NewTree makes a tree of phrases that Add is called for.
func NewTree() *Tree { return &Tree{nodes: []node{{phrase: -1, own: none, odds: none}}} }

// Add puts a phrase in under a number of the caller's, from 0. Odds are those,
// in nats, that it is said rather than nothing in particular. Of phrases that
// sound alike the likeliest is kept.
func (t *Tree) Add(sounds []Phone, phrase int, odds float32) {
	if len(sounds) == 0 {
		return
	}
	at := int32(0)
	t.nodes[0].odds = max(t.nodes[0].odds, odds)
	for _, p := range sounds {
		at = t.child(at, p)
		t.nodes[at].odds = max(t.nodes[at].odds, odds)
	}
	if n := &t.nodes[at]; odds > n.own {
		n.phrase, n.own = int32(phrase), odds
	}
}

func (t *Tree) child(at int32, p Phone) int32 {
	last := int32(0)
	for c := t.nodes[at].first; c != 0; c = t.nodes[c].beside {
		if t.nodes[c].phone == p {
			return c
		}
		last = c
	}
	c := int32(len(t.nodes))
	t.nodes = append(t.nodes, node{phone: p, phrase: -1, own: none, odds: none})
	if last == 0 {
		t.nodes[at].first = c
	} else {
		t.nodes[last].beside = c
	}
	return c
}

// slots gives a zero for each node: a place to put tokens, which a search leaves as
// it was. They are large, and searches many.
func (t *Tree) slots() *[]int32 {
	if s, ok := t.unused.Get().(*[]int32); ok && len(*s) == len(t.nodes) {
		return s
	}
	s := make([]int32, len(t.nodes))
	return &s
}
