package phones

import "slices"

// Costs, in nats, of the three ways to explain a stretch of speech: a phrase of
// a tree, at its odds; or sounds of no phrase, at the price of Sound each, about what a
// model of which phoneme follows which would give (the entropy of English
// phonemes is near 4 bits: Shannon's method on ARPAbet, figure from memory).
type Costs struct {
	Sound float32 // of a sound of no phrase
	Scale float32 // of the network's log-probabilities, which are overconfident
	Beam  float32 // a way this far behind the best is given up
	Width int     // so many ways within phrases are followed at a time, about; 0 is all
	// Favour is added to the odds of every phrase of the first tree: what is heard of
	// those that are not the likeliest.
	Favour float32
}

// Found is a phrase that was heard.
type Found struct {
	Tree   int // which of the trees it is of
	Phrase int // its number there
	Span
}

// Search explains what was heard, from beginning to end, by phrases of the trees
// and sounds between them, so that it is most likely as a whole, and gives the
// phrases in order and the log-probability of the explanation. It is exact but
// for the beam (Viterbi; token passing: Young, Russell and Thornton, "Token
// Passing: a Simple Conceptual Model for Connected Speech Recognition Systems",
// 1989). Phrases for which banned is true are left out; nil bans none.
func Search(heard Heard, trees []*Tree, c Costs, banned func(tree, phrase int) bool) ([]Found, float64) {
	s := search{costs: c, banned: banned, trees: make([]within, len(trees))}
	for i, t := range trees {
		slot := t.slots()
		defer t.unused.Put(slot)
		s.trees[i] = within{Tree: t, slot: *slot}
	}
	s.between = append(s.between, passage{score: 0, tree: -1})
	s.silence = trail{0, 0}
	for p := range s.sounds {
		s.sounds[p] = trail{none, 0}
	}
	for t := range heard {
		s.step(int32(t+1), &heard[t])
	}
	last := s.between[len(heard)]
	return s.traceback(), float64(last.score)
}

// passage is the best way to be between two phrases after so many frames.
type passage struct {
	score  float32
	from   int32 // frames before what it ends with
	tree   int32 // of the phrase it ends with; -1 when it ends with other sounds
	phrase int32
}

// trail is a way through sounds of no phrase.
type trail struct {
	score float32
	from  int32 // frames before them
}

// token is a way that is within a phrase.
type token struct {
	node         int32
	sound, blank trail // in the node's phoneme, in the blank after it
}

// within holds the ways that are within the phrases of a tree.
type within struct {
	*Tree
	slot   []int32 // by node: its place in the new tokens, from 1
	tokens []token
	spare  []token // their places of the frame before
}

type search struct {
	costs   Costs
	trees   []within
	banned  func(tree, phrase int) bool
	between []passage
	silence trail
	sounds  [Count]trail
}

// step takes the frame that makes it now frames.
func (s *search) step(now int32, raw *[Count]float32) {
	var e [Count]float32
	for p, v := range raw {
		e[p] = v * s.costs.Scale
	}
	last := s.between[now-1]
	entry := trail{last.score, now - 1}

	// Sounds of no phrase.
	before := s.silence
	soundBest, second, which := trail{none, 0}, trail{none, 0}, 0
	for p := 1; p < Count; p++ {
		switch v := s.sounds[p]; {
		case v.score > soundBest.score:
			second, soundBest, which = soundBest, v, p
		case v.score > second.score:
			second = v
		}
	}
	open := before
	if last.tree >= 0 && entry.score > open.score {
		open = entry
	}
	silence := better(open, soundBest)
	silence.score += e[0]
	for p := 1; p < Count; p++ {
		other := soundBest
		if p == which {
			other = second
		}
		in := better(open, other)
		in.score -= s.costs.Sound
		in = better(in, s.sounds[p])
		in.score += e[p]
		s.sounds[p] = in
	}
	s.silence = silence

	pass := passage{score: silence.score, from: silence.from, tree: -1}
	for p := 1; p < Count; p++ {
		if v := s.sounds[p]; v.score > pass.score {
			pass = passage{score: v.score, from: v.from, tree: -1}
		}
	}

	// Phrases.
	bar := pass.score - s.costs.Beam
	crowded := s.crowded(bar)
	for i := range s.trees {
		tree := &s.trees[i]
		old, slot, grown := tree.tokens, tree.slot, tree.spare[:0]
		at := func(n int32) *token {
			if slot[n] == 0 {
				grown = append(grown, token{node: n, sound: trail{none, 0}, blank: trail{none, 0}})
				slot[n] = int32(len(grown))
			}
			return &grown[slot[n]-1]
		}
		for k := range old {
			o := &old[k]
			if max(o.sound.score, o.blank.score) < crowded {
				continue
			}
			n := &tree.nodes[o.node]
			if stay := o.sound.score + e[n.phone]; stay > bar {
				w := at(o.node)
				w.sound = better(w.sound, trail{stay, o.sound.from})
			}
			rest := better(o.sound, o.blank)
			if v := rest.score + e[0]; v > bar {
				w := at(o.node)
				w.blank = better(w.blank, trail{v, rest.from})
			}
			for c := n.first; c != 0; c = tree.nodes[c].beside {
				child := &tree.nodes[c]
				in := o.blank
				if child.phone != n.phone {
					in = rest
				}
				if v := in.score + e[child.phone] + child.odds - n.odds; v > bar {
					w := at(c)
					w.sound = better(w.sound, trail{v, in.from})
				}
			}
		}
		begin := entry.score
		if i == 0 {
			begin += s.costs.Favour
		}
		for c := tree.nodes[0].first; c != 0; c = tree.nodes[c].beside {
			child := &tree.nodes[c]
			if v := begin + e[child.phone] + child.odds; v > bar {
				w := at(c)
				w.sound = better(w.sound, trail{v, now - 1})
			}
		}
		for k := range grown {
			g := &grown[k]
			slot[g.node] = 0
			n := &tree.nodes[g.node]
			if n.phrase < 0 || s.banned != nil && s.banned(i, int(n.phrase)) {
				continue
			}
			out := better(g.sound, g.blank)
			if v := out.score + n.own - n.odds; v > pass.score {
				pass = passage{score: v, from: out.from, tree: int32(i), phrase: n.phrase}
			}
		}
		tree.tokens, tree.spare = grown, old
	}
	s.between = append(s.between, pass)
}

// crowded is the score below which ways are given up because there are too many: in
// noise anything may be said, and hardly any way falls behind the beam.
func (s *search) crowded(bar float32) float32 {
	n := 0
	for i := range s.trees {
		n += len(s.trees[i].tokens)
	}
	if s.costs.Width == 0 || n <= s.costs.Width {
		return none
	}
	const steps = 256
	var count [steps + 1]int
	step := 2 * s.costs.Beam / steps // the best way within a phrase may be ahead of the best without
	for i := range s.trees {
		for _, t := range s.trees[i].tokens {
			at := (max(t.sound.score, t.blank.score) - bar) / step
			count[int(max(0, min(steps, at)))]++
		}
	}
	left := s.costs.Width
	for i := steps; i > 0; i-- {
		if left -= count[i]; left < 0 {
			return bar + float32(i)*step
		}
	}
	return none
}

func better(a, b trail) trail {
	if b.score > a.score {
		return b
	}
	return a
}

// traceback gives the phrases of the best way.
func (s *search) traceback() []Found {
	var out []Found
	for at := int32(len(s.between) - 1); at > 0; {
		p := s.between[at]
		if p.tree >= 0 {
			out = append(out, Found{int(p.tree), int(p.phrase), Span{int(p.from), int(at)}})
		}
		at = p.from
	}
	slices.Reverse(out)
	return out
}
