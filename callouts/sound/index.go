package sound

import (
	"cmp"
	"slices"
	"sync"
)

// Index finds many phrases in long lines. It looks for short runs of phoneme
// classes first, which survive most slips of a recogniser, and aligns only where
// enough of a phrase's runs are found in their order.
type Index struct {
	phrases []Phrase
	shards  []shard
	need    []int32 // rarity of the runs that must be found together
}

// shard holds the runs of every shards-th phrase; shards are searched side by
// side.
type shard [grams][]post

const shards = 8

type post struct {
	phrase, offset int32
	run            uint32 // which run of its phrase, as a set
	rarity         int32
}

// classes groups phonemes that recognisers take for one another. Class 0 is left
// out of the runs: h, w and y come and go.
const (
	classes = 8
	grams   = classes * classes * classes
)

var classOf = func() (c [phones]uint16) {
	for i, group := range [classes][]Phone{
		{HH, W, Y},
		{AA, AE, AH, AO, AW, AY, EH, EY, IH, IY, OW, OY, UH, UW},
		{P, B, F, V},
		{T, D, TH, DH},
		{S, Z, SH, ZH, CH, JH},
		{K, G},
		{M, N, NG},
		{L, R, ER},
	} {
		for _, p := range group {
			c[p] = uint16(i)
		}
	}
	return c
}()

// needed is the share of a phrase's rarity that must be found, in percent: a
// slip changes the class of one phoneme and with it three runs.
const needed = 34

// surprise is about how rare each class is in English, in tenths of a bit
// (counted over the dictionary).
var surprise = [classes]int32{0, 15, 37, 33, 31, 39, 31, 27}

// rarity of a run is how little it is found by chance.
func rarity(gram int) int32 {
	return surprise[gram/classes/classes] + surprise[gram/classes%classes] + surprise[gram%classes]
}

// NewIndex prepares the phrases for searching.
func NewIndex(phrases []Phrase) *Index {
	x := &Index{phrases: phrases, shards: make([]shard, shards), need: make([]int32, len(phrases))}
	for id := range phrases {
		n, sum := 0, int32(0)
		eachGram(phrases[id].phones, func(g, at int) {
			r := rarity(g)
			posts := &x.shards[id%shards][g]
			*posts = append(*posts, post{int32(id), int32(at), 1 << (n % 32), r})
			n++
			sum += r
		})
		// A slip changes the class of one phoneme and with it three runs.
		x.need[id] = sum * needed / 100
	}
	return x
}

// eachGram calls f with every run of three classes and where it starts.
func eachGram(ps []Phone, f func(gram, at int)) {
	var c [3]int
	var at [3]int
	n := 0
	for i, p := range ps {
		k := int(classOf[p.Plain()])
		if k == 0 {
			continue
		}
		c[0], c[1], c[2] = c[1], c[2], k
		at[0], at[1], at[2] = at[1], at[2], i
		if n++; n >= 3 {
			f((c[0]*classes+c[1])*classes+c[2], at[0])
		}
	}
}

// slack is how many phonemes a recogniser may have put in or left out within a
// phrase before its runs no longer count together.
const slack = 4

// A tally counts the different runs of one phrase found with about the same
// start, in steps of slack phonemes. A phrase needs few at a time: runs come in
// order, so starts lie within a phrase's length of one another.
type tally struct {
	step int32
	runs uint32 // set of runs
	sum  int32  // their rarity
}

const (
	tallies  = 16
	maxSteps = tallies - 3
	longest  = maxSteps * slack // phonemes in the longest phrase
	origin   = longest + slack  // keeps steps above 0
)

// Search returns the matches of all phrases in l, by phrase and then by place.
func (x *Index) Search(l *Line) []Match {
	parts := make([][]Match, shards)
	var wg sync.WaitGroup
	for k := range parts {
		wg.Go(func() { parts[k] = x.align(l, x.places(l, k)) })
	}
	wg.Wait()
	out := slices.Concat(parts...)
	slices.SortStableFunc(out, func(a, b Match) int {
		return cmp.Or(cmp.Compare(a.Phrase, b.Phrase), cmp.Compare(a.First, b.First))
	})
	return out
}

// align searches around the places found for each phrase.
func (x *Index) align(l *Line, found [][]int32) []Match {
	var a aligner
	var out []Match
	for id := range found {
		// Windows that overlap are searched as one.
		lo, hi := -1, -1
		reach := x.phrases[id].Len() + 2*slack + slack/2
		for _, start := range found[id] {
			from := int(start) - slack/2
			if from > hi {
				out = x.stretches(out, &a, id, l, lo, hi)
				lo = from
			}
			hi = max(hi, int(start)+reach)
		}
		out = x.stretches(out, &a, id, l, lo, hi)
	}
	return out
}

// places lists, for each phrase of shard k, about where enough of its runs start together.
func (x *Index) places(l *Line, k int) [][]int32 {
	found := make([][]int32, len(x.phrases))
	table := make([][tallies]tally, len(x.phrases))
	for i := range table {
		for k := range table[i] {
			table[i][k].step = -1
		}
	}
	posts := &x.shards[k]
	eachGram(l.phones, func(g, at int) {
		for _, p := range posts[g] {
			step := (int32(at) - p.offset + origin) / slack
			row := &table[p.phrase]
			t := &row[step%tallies]
			if t.step != step {
				*t = tally{step: step}
			}
			if t.runs&p.run == 0 {
				t.runs |= p.run
				t.sum += p.rarity
			}
			// A start near the edge of its step may have companions beyond it.
			for _, from := range [2]int32{step - 1, step} {
				sum := t.sum
				if other := &row[(2*from+1-step)%tallies]; other.step == 2*from+1-step {
					sum += other.sum
				}
				if sum < x.need[p.phrase] {
					continue
				}
				start := from*slack - origin
				if f := found[p.phrase]; len(f) == 0 || f[len(f)-1] != start {
					found[p.phrase] = append(f, start)
				}
			}
		}
	})
	for _, f := range found {
		slices.Sort(f)
	}
	return found
}

// stretches aligns between phonemes lo and hi, widened to whole words and cut
// at breaks.
func (x *Index) stretches(out []Match, a *aligner, id int, l *Line, lo, hi int) []Match {
	lo, hi = max(lo, 0), min(hi, len(l.phones))
	if lo >= hi {
		return out
	}
	first, last := int(l.word[lo]), int(l.word[hi-1])
	for w := first; w <= last; {
		e := w
		for e < last && (l.broken == nil || !l.broken[e]) {
			e++
		}
		if s, t := int(l.start[w]), int(l.start[e+1]); t > s && a.promising(&x.phrases[id], l, s, t) {
			out = a.window(out, &x.phrases[id], id, l, s, t)
		}
		w = e + 1
	}
	return out
}

// Findable says whether the phrase is long enough to be searched for: three
// sounds that recognisers keep.
func (p Phrase) Findable() bool {
	found := false
	eachGram(p.phones, func(int, int) { found = true })
	return found && len(p.weigh) <= maxPhraseWords && len(p.phones) <= longest
}

const maxPhraseWords = 16
