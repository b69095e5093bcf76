package phones

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// anything is what a hard-of-hearing network might give: every frame a distribution.
func anything(rng *rand.Rand, frames int) Heard {
	h := make(Heard, frames)
	for t := range h {
		var x [Count]float32
		for p := range x {
			x[p] = float32(rng.NormFloat64() * 2)
		}
		LogSoftmax(&h[t], x[:])
	}
	return h
}

// wholly is the best log-probability of exactly these sounds over all the
// frames, found by trying every way to lay them (connectionist temporal
// classification: a blank may stand anywhere and must stand between two alike).
func wholly(h Heard, sounds []Phone, last Phone, scale float32) float64 {
	if len(h) == 0 {
		if len(sounds) == 0 {
			return 0
		}
		return math.Inf(-1)
	}
	rest := h[1:]
	best := float64(h[0][0]*scale) + wholly(rest, sounds, 0, scale)
	if last != 0 {
		best = max(best, float64(h[0][last]*scale)+wholly(rest, sounds, last, scale))
	}
	if len(sounds) > 0 && sounds[0] != last {
		best = max(best, float64(h[0][sounds[0]]*scale)+wholly(rest, sounds[1:], sounds[0], scale))
	}
	return best
}

// sounding is the best of all sounds over all the frames, at a price each: by
// the last phoneme of the frames so far, from every one before it.
func sounding(h Heard, price, scale float32) float64 {
	var best [Count]float64
	for p := 1; p < Count; p++ {
		best[p] = math.Inf(-1)
	}
	for t := range h {
		var next [Count]float64
		for to := range next {
			next[to] = math.Inf(-1)
			for from := range best {
				v := best[from] + float64(h[t][to]*scale)
				if to != from && to != 0 {
					v -= float64(price)
				}
				next[to] = max(next[to], v)
			}
		}
		best = next
	}
	return slices.Max(best[:])
}

type entry struct {
	sounds []Phone
	odds   float32
}

// exhaustive tries every way to cut the frames into phrases and other sounds.
func exhaustive(h Heard, trees [][]entry, c Costs) float64 {
	n := len(h)
	best := make([]float64, n+1)
	for to := 1; to <= n; to++ {
		best[to] = math.Inf(-1)
		for from := range to {
			part := h[from:to]
			best[to] = max(best[to], best[from]+sounding(part, c.Sound, c.Scale))
			for _, tree := range trees {
				for _, e := range tree {
					// A phrase begins with its first sound.
					if v := float64(part[0][e.sounds[0]]*c.Scale) + wholly(part[1:], e.sounds[1:], e.sounds[0], c.Scale); v+float64(e.odds)+best[from] > best[to] {
						best[to] = v + float64(e.odds) + best[from]
					}
				}
			}
		}
	}
	return best[n]
}

func TestTheSearchFindsTheLikeliestOfAllExplanations(t *testing.T) {
	c := Costs{Sound: 1.5, Scale: 0.8, Beam: 1e6}
	withPhrase := 0
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 5))
		c.Favour = float32(seed % 3)
		h := anything(rng, 6)
		var entries [2][]entry
		trees := []*Tree{NewTree(), NewTree()}
		for i, tree := range trees {
			for k := range 4 {
				e := entry{odds: -float32(rng.IntN(4))}
				for range 1 + rng.IntN(3) {
					e.sounds = append(e.sounds, Phone(1+rng.IntN(4)))
				}
				tree.Add(e.sounds, k, e.odds)
				if i == 0 {
					e.odds += c.Favour
				}
				entries[i] = append(entries[i], e)
			}
		}
		found, score := Search(h, trees, c, nil)
		if want := exhaustive(h, entries[:], c); math.Abs(score-want) > 1e-3 {
			t.Errorf("seed %d: %v, the best of all ways is %v", seed, score, want)
		}
		end := 0
		for _, f := range found {
			if f.Start < end || f.End <= f.Start || f.End > len(h) {
				t.Errorf("seed %d: phrases at %v", seed, found)
			}
			end = f.End
		}
		if len(found) > 0 {
			withPhrase++
		}
	}
	if withPhrase < 20 || withPhrase == 60 {
		t.Errorf("phrases were found in %d of 60: the trial shows little", withPhrase)
	}
}

// saying is frames in which these phonemes are heard clearly, 0 for blanks.
func saying(sounds ...Phone) Heard {
	h := make(Heard, len(sounds))
	for t, p := range sounds {
		var x [Count]float32
		x[p] = 8
		LogSoftmax(&h[t], x[:])
	}
	return h
}

func TestPhrasesAreFoundWhereTheyAreSaid(t *testing.T) {
	const a, b, d, e = 1, 2, 3, 4
	tree := NewTree()
	tree.Add([]Phone{a, b}, 0, -4)
	tree.Add([]Phone{a, b, d}, 1, -4)
	tree.Add([]Phone{d, d}, 2, -4)
	none := func(int, int) bool { return false }
	for name, c := range map[string]struct {
		heard  Heard
		banned func(tree, phrase int) bool
		want   []Found
	}{
		"a phrase alone":                           {saying(0, a, 0, b, 0), none, []Found{{0, 0, Span{1, 4}}}},
		"the longer of two that begin alike":       {saying(a, b, d), none, []Found{{0, 1, Span{0, 3}}}},
		"one among other sounds":                   {saying(e, e, a, a, b, 0, e, e), none, []Found{{0, 0, Span{2, 5}}}},
		"two after each other":                     {saying(a, b, 0, a, b, d), none, []Found{{0, 0, Span{0, 2}}, {0, 1, Span{3, 6}}}},
		"a sound said twice with a blank between":  {saying(d, 0, d), none, []Found{{0, 2, Span{0, 3}}}},
		"not a sound that only lasts":              {saying(d, d, d), none, nil},
		"nothing in silence":                       {saying(0, 0, 0), none, nil},
		"not one that is banned, but another that": {saying(a, b, 0, 0), func(_, p int) bool { return p == 0 }, nil},
	} {
		t.Run(name, func(t *testing.T) {
			got, _ := Search(c.heard, []*Tree{tree}, Costs{Sound: 3, Scale: 1, Beam: 50}, c.banned)
			if len(got) != len(c.want) {
				t.Fatalf("found %v, want %v", got, c.want)
			}
			for i, w := range c.want {
				if got[i].Phrase != w.Phrase || got[i].Start != w.Start || got[i].End < w.End {
					t.Errorf("found %v, want %v", got[i], w)
				}
			}
		})
	}
}

// In noise hardly any of many phrases falls behind the beam. A few thousand ways that
// are followed find what all of them find, where something was said.
func TestFewWaysAreFollowedInACrowd(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	tree := NewTree()
	for i := range 20_000 {
		sounds := make([]Phone, 5+rng.IntN(6))
		for k := range sounds {
			sounds[k] = Phone(1 + rng.IntN(Count-1))
		}
		tree.Add(sounds, i, -4)
	}
	said := []Phone{11, 3, 22, 9, 30, 14, 5}
	tree.Add(said, 20_000, -4)
	heard := anything(rng, 20)
	for _, f := range saying(said...) {
		var x [Count]float32
		for p := range x {
			x[p] = f[p]/3 + float32(rng.NormFloat64()) // half drowned
		}
		heard = append(heard, [Count]float32{})
		LogSoftmax(&heard[len(heard)-1], x[:])
	}
	heard = append(heard, anything(rng, 20)...)
	costs := Costs{Sound: 3, Scale: 1, Beam: 25}
	all, best := Search(heard, []*Tree{tree}, costs, nil)
	if !slices.ContainsFunc(all, func(f Found) bool { return f.Phrase == 20_000 }) {
		t.Fatalf("what was said is not found by all ways: %v", all)
	}
	costs.Width = 4000
	if few, score := Search(heard, []*Tree{tree}, costs, nil); score != best || !slices.Equal(few, all) {
		t.Errorf("4000 ways find %v (%v), all ways %v (%v)", few, score, all, best)
	}
	costs.Width = 1
	if _, score := Search(heard, []*Tree{tree}, costs, nil); score >= best {
		t.Errorf("one way finds as much as all: nothing is given up")
	}
}
