// Package talk knows how people talk in a cockpit: which word follows which. With it
// the phonemes that were heard are read as words.
//
// A speech model taught on everyday speech reads "the warm air knob" as "the warmer
// nob". A model of a cockpit's talk, small as it is, expects the right words, and the
// phonemes (package phones) say which of them were spoken.
package talk

import (
	"math"
	"slices"
	"strings"
)

// Model tells how likely a word is after two others. It is a trigram model with
// interpolated Kneser-Ney smoothing (Kneser and Ney, "Improved backing-off for m-gram
// language modeling", ICASSP 1995; the form is that of Chen and Goodman, "An empirical
// study of smoothing techniques for language modeling", 1998). It is safe for
// concurrent use.
type Model struct {
	words  []string // by number
	number map[string]int32

	after2 map[uint64]follows // what follows two words
	after1 []follows          // what follows a word, counted by how many words come before both
	before []int32            // how many words come before a word
	kinds  int32              // of two words that follow each other

	// The words that follow something, by number, and how often they do.
	next, times []int32
}

// follows is what follows something: a part of the model's next and times.
type follows struct{ from, to, sum int32 }

// Numbers that are no words.
const (
	begin = int32(iota) // of a sentence
	end
	firstWord
)

// discount is what a count loses to what was never met; the usual value (Chen and
// Goodman's estimate n1/(n1+2*n2) gives 0.8 on these sentences).
const discount = 0.75

// unseen is how often a word counts as met for being in the vocabulary.
const unseen = 0.1

const numberBits = 21

func joined(a, b int32) uint64      { return uint64(a)<<numberBits | uint64(b) }
func three(a, b, c int32) uint64    { return joined(a, b)<<numberBits | uint64(c) }
func lastTwo(trigram uint64) uint64 { return trigram & (1<<(2*numberBits) - 1) }

// Learn makes a model of sentences, each of words in small letters between spaces.
func Learn(sentences []string) *Model {
	m := &Model{words: []string{"", ""}, number: map[string]int32{}, after2: map[uint64]follows{}}
	var trigrams []uint64
	for _, s := range sentences {
		a, b := begin, begin
		for w := range strings.FieldsSeq(s) {
			id := m.add(w)
			trigrams = append(trigrams, three(a, b, id))
			a, b = b, id
		}
		trigrams = append(trigrams, three(a, b, end))
	}
	var bigrams []uint64
	m.count(trigrams, func(two uint64, f follows) {
		m.after2[two] = f
		for _, w := range m.next[f.from:f.to] {
			bigrams = append(bigrams, lastTwo(two<<numberBits|uint64(w)))
		}
	})
	m.after1, m.before = make([]follows, len(m.words)), make([]int32, len(m.words))
	m.count(bigrams, func(one uint64, f follows) {
		m.after1[one] = f
		for _, w := range m.next[f.from:f.to] {
			m.before[w]++
		}
		m.kinds += f.to - f.from
	})
	m.next, m.times = slices.Clone(m.next), slices.Clone(m.times) // no room to grow is kept
	return m
}

// count puts words and what is before them, joined, among what follows what, and
// tells what follows each that was before. It sorts joined.
func (m *Model) count(joined []uint64, tell func(before uint64, f follows)) {
	slices.Sort(joined)
	for len(joined) > 0 {
		before := joined[0] >> numberBits
		f := follows{from: int32(len(m.next))}
		for len(joined) > 0 && joined[0]>>numberBits == before {
			n := 1
			for n < len(joined) && joined[n] == joined[0] {
				n++
			}
			m.next, m.times = append(m.next, int32(joined[0]&(1<<numberBits-1))), append(m.times, int32(n))
			f.sum += int32(n)
			joined = joined[n:]
		}
		f.to = int32(len(m.next))
		tell(before, f)
	}
}

func (m *Model) add(w string) int32 {
	id, ok := m.number[w]
	if !ok {
		id = int32(len(m.words))
		w = strings.Clone(w) // not to keep all the text it stands in
		m.words, m.number[w] = append(m.words, w), id
	}
	return id
}

// likely is the probability of a word, or of the end, after a and b. Words it does not
// know have numbers from len(m.words) and may only be a or b.
func (m *Model) likely(a, b, w int32) float64 {
	p := m.alone(w)
	if int(b) < len(m.after1) {
		p = m.after(m.after1[b], w, p)
	}
	return m.after(m.after2[joined(a, b)], w, p)
}

// alone is the probability of a word whatever comes before.
func (m *Model) alone(w int32) float64 {
	return (float64(m.before[w]) + unseen) / (float64(m.kinds) + unseen*float64(len(m.words)-1))
}

// after is the probability of a word among what follows something, less being that by
// a shorter look back.
func (m *Model) after(f follows, w int32, less float64) float64 {
	if f.sum == 0 {
		return less
	}
	p := discount * float64(f.to-f.from) / float64(f.sum) * less
	if i, ok := slices.BinarySearch(m.next[f.from:f.to], w); ok {
		p += (float64(m.times[int(f.from)+i]) - discount) / float64(f.sum)
	}
	return p
}

// Log is the log-probability of a sentence's words and its end, in nats, and how many
// they are; words the model does not know, and those right after them, are left out.
func (m *Model) Log(sentence string) (nats float64, words int) {
	a, b := begin, begin
	take := func(w int32) {
		nats += math.Log(m.likely(a, b, w))
		words++
		a, b = b, w
	}
	for w := range strings.FieldsSeq(sentence) {
		if id, ok := m.number[w]; ok {
			take(id)
		} else {
			a, b = int32(len(m.words)), int32(len(m.words))
		}
	}
	take(end)
	return nats, words
}
