package sound

import (
	"math/bits"
	"runtime"
	"slices"
	"sync"
)

// Index finds many phrases in long lines. It looks for short runs of phoneme
// classes first, which survive most slips of a recogniser, and aligns only where
// enough of a phrase's runs are found in their order.
type Index struct {
	phrases []Phrase
	posts   [grams][]post
	need    []int
}

type post struct {
	phrase, offset int32
	run            int32 // which run of its phrase
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

// NewIndex prepares the phrases for searching.
func NewIndex(phrases []Phrase) *Index {
	x := &Index{phrases: phrases, need: make([]int, len(phrases))}
	for id := range phrases {
		n := 0
		eachGram(phrases[id].phones, func(g, at int) {
			x.posts[g] = append(x.posts[g], post{int32(id), int32(at), int32(n)})
			n++
		})
		// A slip changes the class of one phoneme and with it three runs.
		x.need[id] = max(1, (n+1)/3)
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
	runs uint32 // set of runs by offset
}

const (
	tallies  = 16
	maxSteps = tallies - 2
	longest  = maxSteps * slack // phonemes in the longest phrase
)

// Search returns the matches of all phrases in l, by phrase and then by place.
func (x *Index) Search(l *Line) []Match {
	found := x.places(l)
	parts := make([][]Match, runtime.GOMAXPROCS(0))
	var wg sync.WaitGroup
	for k := range parts {
		wg.Go(func() {
			from, to := k*len(found)/len(parts), (k+1)*len(found)/len(parts)
			parts[k] = x.align(l, found, from, to)
		})
	}
	wg.Wait()
	return slices.Concat(parts...)
}

// align searches around the places found for the phrases [first, end).
func (x *Index) align(l *Line, found [][]int32, first, end int) []Match {
	var a aligner
	var out []Match
	for id := first; id < end; id++ {
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

// places lists, for each phrase, about where enough of its runs start together.
func (x *Index) places(l *Line) [][]int32 {
	found := make([][]int32, len(x.phrases))
	table := make([][tallies]tally, len(x.phrases))
	for i := range table {
		for k := range table[i] {
			table[i][k].step = -1
		}
	}
	eachGram(l.phones, func(g, at int) {
		for _, p := range x.posts[g] {
			step := (int32(at) - p.offset + longest) / slack
			row := &table[p.phrase]
			t, before := &row[step%tallies], &row[(step-1)%tallies]
			if t.step != step {
				*t = tally{step: step}
			}
			t.runs |= 1 << (p.run % 32)
			runs := t.runs
			if before.step == step-1 {
				runs |= before.runs
			}
			if bits.OnesCount32(runs) < x.need[p.phrase] {
				continue
			}
			start := (step-1)*slack - longest
			if f := found[p.phrase]; len(f) == 0 || f[len(f)-1] != start {
				found[p.phrase] = append(f, start)
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
