package phones

// Tree holds phrases by their phonemes, those with the same beginning together.
type Tree struct {
	nodes []node // the first is the root
	ends  int    // phrases it holds
}

type node struct {
	phone  Phone
	next   []int32 // nodes that may follow
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
	t.ends++
}

func (t *Tree) child(at int32, p Phone) int32 {
	for _, c := range t.nodes[at].next {
		if t.nodes[c].phone == p {
			return c
		}
	}
	c := int32(len(t.nodes))
	t.nodes = append(t.nodes, node{phone: p, phrase: -1, own: none, odds: none})
	t.nodes[at].next = append(t.nodes[at].next, c)
	return c
}
