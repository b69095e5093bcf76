package sound

import "slices"

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
			x.posts[g] = append(x.posts[g], post{int32(id), int32(at)})
			n++
		})
		switch {
		case n <= 4:
			x.need[id] = 1
		case n <= 8:
			x.need[id] = 2
		default:
			x.need[id] = 3
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

type hit struct{ start, offset int32 }

// Search returns the matches of all phrases in l, by phrase and then by place.
func (x *Index) Search(l *Line) []Match {
	hits := make([][]hit, len(x.phrases))
	eachGram(l.phones, func(g, at int) {
		for _, p := range x.posts[g] {
			hits[p.phrase] = append(hits[p.phrase], hit{int32(at) - p.offset, p.offset})
		}
	})
	var a aligner
	var out []Match
	for id, hs := range hits {
		if len(hs) < x.need[id] {
			continue
		}
		slices.SortFunc(hs, func(a, b hit) int { return int(a.start - b.start) })
		p := &x.phrases[id]
		for i := 0; i < len(hs); {
			j := i + 1
			for j < len(hs) && hs[j].start-hs[j-1].start <= slack {
				j++
			}
			if distinct(hs[i:j]) >= x.need[id] {
				lo := int(hs[i].start) - slack
				hi := int(hs[j-1].start) + p.Len() + slack
				out = x.stretches(out, &a, id, l, lo, hi)
			}
			i = j
		}
	}
	return out
}

func distinct(hs []hit) int {
	var seen uint64
	n := 0
	for _, h := range hs {
		bit := uint64(1) << min(h.offset, 63)
		if seen&bit == 0 {
			seen |= bit
			n++
		}
	}
	return n
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
		if s, t := int(l.start[w]), int(l.start[e+1]); t > s {
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
	return found && len(p.weigh) <= maxPhraseWords
}

const maxPhraseWords = 16
