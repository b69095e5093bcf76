package sound

import (
	"cmp"
	"slices"
	"sync"
)

// Index finds many phrases in long lines. It looks for short runs of phoneme
// classes first, which survive most slips of a recogniser, and aligns only where
// enough of a phrase's runs are found in their order. Phrases that begin alike are
// aligned together.
type Index struct {
	phrases []Phrase // as they were given
	shards  []shard
}

// shard holds some of the phrases, in the order of their phonemes, and their runs.
// Shards are searched side by side.
type shard struct {
	ids   []int // of its phrases
	posts [grams][]post
}

const shards = 8

// post is a run of a phrase of its shard.
type post struct {
	phrase uint16 // of the shard
	offset int16  // of the run in the phrase
	rarity int16
	need   int16  // rarity of the runs that must be found together
	run    uint32 // which run of its phrase, as a set
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
	x := &Index{phrases: phrases, shards: make([]shard, shards)}
	order := make([]int, len(phrases))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return slices.Compare(phrases[a].phones, phrases[b].phones) })
	for k := range x.shards {
		sh := &x.shards[k]
		sh.ids = order[k*len(order)/shards : (k+1)*len(order)/shards]
		for at, id := range sh.ids {
			sum := int32(0)
			eachGram(phrases[id].phones, func(g, _ int) { sum += rarity(g) })
			need := int16(sum * needed / 100)
			n := 0
			eachGram(phrases[id].phones, func(g, offset int) {
				sh.posts[g] = append(sh.posts[g], post{uint16(at), int16(offset), int16(rarity(g)), need, 1 << (n % 32)})
				n++
			})
		}
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
		wg.Go(func() { parts[k] = x.align(l, &x.shards[k]) })
	}
	wg.Wait()
	out := slices.Concat(parts...)
	slices.SortStableFunc(out, func(a, b Match) int {
		return cmp.Or(cmp.Compare(a.Phrase, b.Phrase), cmp.Compare(a.First, b.First))
	})
	return out
}

// stretch is a part of the line, phonemes [lo, hi), in which a phrase of a shard
// may be.
type stretch struct {
	lo, hi int32
	phrase int32
}

// align searches around the places found for each phrase.
func (x *Index) align(l *Line, sh *shard) []Match {
	var a aligner
	var out []Match
	all := byStart(x.stretches(l, sh, sh.places(l)), len(l.phones))
	for from := 0; from < len(all); {
		to, hi := from, int32(0)
		for ; to < len(all) && all[to].lo == all[from].lo; to++ {
			hi = max(hi, all[to].hi)
		}
		a.table.begin(l, int(all[from].lo), int(hi))
		for _, s := range all[from:to] {
			id := sh.ids[s.phrase]
			if p := &x.phrases[id]; a.promising(p, l, int(s.hi)) {
				out = a.window(out, p, id, l, int(s.lo), int(s.hi))
			}
		}
		from = to
	}
	return out
}

// stretches are the parts of l around the places found for each phrase. Those that
// overlap are one.
func (x *Index) stretches(l *Line, sh *shard, found [][]int32) []stretch {
	n := 0
	for _, starts := range found {
		n += len(starts)
	}
	out := make([]stretch, 0, n)
	for i, starts := range found {
		lo, hi := -1, -1
		reach := x.phrases[sh.ids[i]].Len() + 2*slack + slack/2
		for _, start := range starts {
			from := int(start) - slack/2
			if from > hi {
				out = l.cut(out, int32(i), lo, hi)
				lo = from
			}
			hi = max(hi, int(start)+reach)
		}
		out = l.cut(out, int32(i), lo, hi)
	}
	return out
}

// byStart orders stretches by where they start, those that start together by their
// phrase.
func byStart(in []stretch, phones int) []stretch {
	at := make([]int32, phones+1)
	for _, s := range in {
		at[s.lo+1]++
	}
	for i := 1; i < len(at); i++ {
		at[i] += at[i-1]
	}
	out := make([]stretch, len(in))
	for _, s := range in {
		out[at[s.lo]] = s
		at[s.lo]++
	}
	return out
}

// places lists, for each phrase of the shard, about where enough of its runs start
// together.
func (sh *shard) places(l *Line) [][]int32 {
	found := make([][]int32, len(sh.ids))
	table := make([][tallies]tally, len(sh.ids))
	for i := range table {
		for k := range table[i] {
			table[i][k].step = -1
		}
	}
	eachGram(l.phones, func(g, at int) {
		for i := range sh.posts[g] {
			p := &sh.posts[g][i]
			step := int32(uint32(int32(at)-int32(p.offset)+origin) / slack)
			row := &table[p.phrase]
			t := &row[uint32(step)%tallies]
			runs, sum := t.runs, t.sum
			if t.step != step {
				runs, sum = 0, 0
			}
			if runs&p.run != 0 {
				continue // nothing new
			}
			sum += int32(p.rarity)
			*t = tally{step, runs | p.run, sum}
			// A start near the edge of its step may have companions beyond it.
			before, behind := &row[uint32(step-1)%tallies], &row[uint32(step+1)%tallies]
			earlier, later := before.sum, behind.sum
			if before.step != step-1 {
				earlier = 0
			}
			if behind.step != step+1 {
				later = 0
			}
			need := int32(p.need)
			if sum+max(earlier, later) < need {
				continue
			}
			f := found[p.phrase]
			if start := (step-1)*slack - origin; sum+earlier >= need && (len(f) == 0 || f[len(f)-1] != start) {
				f = append(f, start)
			}
			if start := step*slack - origin; sum+later >= need && (len(f) == 0 || f[len(f)-1] != start) {
				f = append(f, start)
			}
			found[p.phrase] = f
		}
	})
	for _, f := range found {
		slices.Sort(f)
	}
	return found
}

// cut adds the stretch between phonemes lo and hi, widened to whole words and cut
// at breaks.
func (l *Line) cut(out []stretch, phrase int32, lo, hi int) []stretch {
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
		if s, t := l.start[w], l.start[e+1]; t > s {
			out = append(out, stretch{s, t, phrase})
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
