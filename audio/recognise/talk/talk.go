// Package talk knows how people talk in a cockpit: which word follows which. With it
// the phonemes that were heard are read as words.
//
// A speech model taught on everyday speech reads "the warm air knob" as "the warmer
// nob". A model of a cockpit's talk, small as it is, expects the right words, and the
// phonemes (package phones) say which of them were spoken.
package talk

import (
	"math"
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

	trigrams map[uint64]int32 // how often a word follows two others
	bigrams  map[uint64]int32 // how many words come before two
	after2   map[uint64]total // of the trigrams that begin with two words
	after1   []total          // of the bigrams that begin with a word
	before   []int32          // how many words come before a word
	kinds    int32            // of bigrams
}

// total is how often something is followed, and by how many different words.
type total struct{ sum, kinds int32 }

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
	m := &Model{words: []string{"", ""}, number: map[string]int32{}, trigrams: map[uint64]int32{}, bigrams: map[uint64]int32{}, after2: map[uint64]total{}}
	for _, s := range sentences {
		a, b := begin, begin
		for w := range strings.FieldsSeq(s) {
			id := m.add(w)
			m.trigrams[three(a, b, id)]++
			a, b = b, id
		}
		m.trigrams[three(a, b, end)]++
	}
	m.after1, m.before = make([]total, len(m.words)), make([]int32, len(m.words))
	for k, n := range m.trigrams {
		t := m.after2[k>>numberBits]
		m.after2[k>>numberBits] = total{t.sum + n, t.kinds + 1}
		m.bigrams[lastTwo(k)]++
	}
	for k, n := range m.bigrams {
		t := &m.after1[k>>numberBits]
		t.sum, t.kinds = t.sum+n, t.kinds+1
		m.before[k&(1<<numberBits-1)]++
		m.kinds++
	}
	return m
}

func (m *Model) add(w string) int32 {
	id, ok := m.number[w]
	if !ok {
		id = int32(len(m.words))
		m.words, m.number[w] = append(m.words, w), id
	}
	return id
}

// likely is the probability of a word, or of the end, after a and b. Words it does not
// know have numbers from len(m.words) and may only be a or b.
func (m *Model) likely(a, b, w int32) float64 {
	p := m.alone(w)
	if int(b) < len(m.after1) {
		p = m.after1[b].with(m.bigrams[joined(b, w)], p)
	}
	return m.after2[joined(a, b)].with(m.trigrams[three(a, b, w)], p)
}

// alone is the probability of a word whatever comes before.
func (m *Model) alone(w int32) float64 {
	return (float64(m.before[w]) + unseen) / (float64(m.kinds) + unseen*float64(len(m.words)-1))
}

// with is the probability of what was met n times here, less being that by a shorter
// look back.
func (t total) with(n int32, less float64) float64 {
	if t.sum == 0 {
		return less
	}
	p := discount * float64(t.kinds) / float64(t.sum) * less
	if n > 0 {
		p += (float64(n) - discount) / float64(t.sum)
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
