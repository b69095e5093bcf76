// Package sound compares words by how they sound.
//
// Recognisers write cockpit speech as everyday words that sound alike ("carp
// eat on" for "carb heat on"), splitting them as they please. The package turns
// words into ARPAbet phonemes (a pronouncing dictionary, letter-to-sound rules
// for the words it lacks), measures how far apart two phonemes are by the way
// they are made in the mouth, and searches a set of phrases in a long line of
// words by aligning phonemes, whatever the word boundaries.
package sound

import "strings"

// Phone is one ARPAbet phoneme. Unstressed vowels carry the reduced bit.
type Phone byte

// The phonemes of the dictionary, ARPAbet without stress, in dictionary order;
// the zero Phone is none.
const (
	AA Phone = iota + 1
	AE
	AH
	AO
	AW
	AY
	B
	CH
	D
	DH
	EH
	ER
	EY
	F
	G
	HH
	IH
	IY
	JH
	K
	L
	M
	N
	NG
	OW
	OY
	P
	R
	S
	SH
	T
	TH
	UH
	UW
	V
	W
	Y
	Z
	ZH
	phones = iota + 1
)

// reduced marks an unstressed vowel, which is said in many ways or not at all.
const reduced Phone = 0x40

const names = "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W Y Z ZH"

var nameOf = append([]string{""}, strings.Fields(names)...)

var phoneOf = func() map[string]Phone {
	m := map[string]Phone{}
	for i, n := range nameOf[1:] {
		m[n] = Phone(i + 1)
	}
	return m
}()

// Plain is the phoneme without its stress.
func (p Phone) Plain() Phone { return p &^ reduced }

// String is the ARPAbet name, with 0 behind an unstressed vowel.
func (p Phone) String() string {
	s := nameOf[p.Plain()]
	if p&reduced != 0 {
		s += "0"
	}
	return s
}

// ParsePhones reads ARPAbet as dictionaries write it, "HH IY1 T". Stress 0 marks
// a vowel reduced, 1 and 2 do not. ok is false when a name is unknown.
func ParsePhones(s string) (out []Phone, ok bool) {
	for f := range strings.FieldsSeq(s) {
		name := strings.TrimRight(f, "012")
		p, known := phoneOf[name]
		if !known {
			return nil, false
		}
		if strings.HasSuffix(f, "0") {
			p |= reduced
		}
		out = append(out, p)
	}
	return out, true
}

func (p Phone) vowel() bool {
	switch p.Plain() {
	case AA, AE, AH, AO, AW, AY, EH, ER, EY, IH, IY, OW, OY, UH, UW:
		return true
	}
	return false
}
