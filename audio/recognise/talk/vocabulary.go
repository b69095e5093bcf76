package talk

import (
	"math"
	"slices"

	"sidetone/audio/recognise/phones"
)

// Vocabulary holds the words of a model by their phonemes, those with the same
// beginning together. It is safe for concurrent use.
type Vocabulary struct {
	model *Model
	nodes []node // the first is the root
	say   Say
}

// Say gives the phonemes of a word in the ways it is said, one at least.
type Say func(word string) [][]phones.Phone

type node struct {
	phone phones.Phone
	next  []int32 // nodes that may follow
	words []int32 // that may end here
	ahead float32 // log-probability of the likeliest word from here on
}

// NewVocabulary is that of a model.
func NewVocabulary(m *Model, say Say) *Vocabulary {
	v := &Vocabulary{model: m, nodes: []node{{ahead: never}}, say: say}
	for w := firstWord; int(w) < len(m.words); w++ {
		for _, way := range say(m.words[w]) {
			v.add(way, w, float32(math.Log(m.alone(w))))
		}
	}
	return v
}

// with is a vocabulary that knows other words too, numbered on. Nodes it shares with
// v are not changed.
func (v *Vocabulary) with(others []string, odds float32) *Vocabulary {
	if len(others) == 0 {
		return v
	}
	more := &Vocabulary{model: v.model, nodes: slices.Clone(v.nodes), say: v.say}
	for i, w := range others {
		for _, way := range v.say(w) {
			more.add(way, int32(len(v.model.words)+i), odds)
		}
	}
	return more
}

func (v *Vocabulary) add(way []phones.Phone, w int32, odds float32) {
	if len(way) == 0 {
		return
	}
	at := int32(0)
	for _, p := range way {
		at = v.child(at, p)
		v.nodes[at].ahead = max(v.nodes[at].ahead, odds)
	}
	n := &v.nodes[at]
	n.words = append(slices.Clip(n.words), w)
}

func (v *Vocabulary) child(at int32, p phones.Phone) int32 {
	for _, c := range v.nodes[at].next {
		if v.nodes[c].phone == p {
			return c
		}
	}
	c := int32(len(v.nodes))
	v.nodes = append(v.nodes, node{phone: p, ahead: never})
	v.nodes[at].next = append(slices.Clip(v.nodes[at].next), c)
	return c
}
