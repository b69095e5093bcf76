package stance

import (
	"strings"

	"sidetone/callouts/english"
)

// unit is a word of the sentence, shortened words written out: "don't" is two.
type unit struct {
	text  string
	kind  english.Kind
	form  english.Form
	base  string
	word  int // of Said.Words
	call  bool
	comma bool // a comma or a short pause follows
}

// How far from a call words are looked at, and the pauses, in seconds, that end
// a sentence and a clause. Where nobody wrote commas and full stops, a short pause
// stands for them.
const (
	before      = 26
	after       = 18
	sentenceGap = 0.9
	clauseGap   = 0.5
	bareGap     = 0.24
)

// sentence is the sentence a call is in, parted into clauses.
type sentence struct {
	said     *Said
	units    []unit
	from, to int     // the words of the sentence
	gap      float64 // the pause that ends a clause, in seconds
	call     int     // first unit of the call
	callEnd  int     // one past the last
	asked    bool    // it ends in a question mark
	clauses  []clause
	at       int      // the clause the call is in
	tail     []string // what the same speaker says next, a few words
	tag      int      // where a question tagged on begins: "isn't it"
}

// clause is units [from, to) and how they are built.
type clause struct {
	from, to int
	joined   string // the coordinator it begins with: and, so, or
	sub      string // the subordinator: if, when
	wh       string // the question word
	comma    bool   // a comma or pause before it

	head       int    // the first unit that is no adverb or filler
	subject    string // who acts: a pronoun, "people", "thing" (the call's own), "noun", "" for nobody
	subjectAt  int    // -1 for none
	inverted   bool   // verb before subject: a question
	finite     int    // the first verb that has a tense, -1 for none
	verbs      []int  // all verbs from there on
	imperative bool
	negated    int // unit of the negation, -1 for none
}

func endsSentence(w *Word) bool { return w.Stop || w.Apart || w.Pause >= sentenceGap }

// parse parts the sentence of a call.
func parse(s *Said) *sentence {
	x := &sentence{said: s, from: s.First, to: s.End}
	for x.from > max(0, s.First-before) && !endsSentence(&s.Words[x.from-1]) {
		x.from--
	}
	for x.to < min(len(s.Words), s.End+after) && !endsSentence(&s.Words[x.to-1]) {
		x.to++
	}
	x.gap = bareGap
	for i := x.from; i < x.to; i++ {
		if w := &s.Words[i]; w.Comma || w.Stop {
			x.gap = clauseGap
		}
	}
	x.asked = s.Words[x.to-1].Question
	for i := s.First; i < s.End; i++ {
		x.asked = x.asked || s.Words[i].Question
	}
	x.call = -1
	for i := x.from; i < x.to; i++ {
		inCall := i >= s.First && i < s.End
		if inCall && s.Misheard {
			if i > s.First {
				continue
			}
			for _, p := range s.Phrase {
				x.write(p, i, true)
			}
			x.units[len(x.units)-1].comma = x.pausesAfter(&s.Words[s.End-1])
			continue
		}
		x.write(s.Words[i].Text, i, inCall)
		if n := len(x.units); n > 0 {
			x.units[n-1].comma = x.pausesAfter(&s.Words[i])
		}
	}
	for i, u := range x.units {
		if u.call {
			if x.call < 0 {
				x.call = i
			}
			x.callEnd = i + 1
		}
	}
	if x.call < 0 { // a call of words without letters
		x.call, x.callEnd = 0, 0
	}
	if x.to > 0 && x.to < len(s.Words) && !s.Words[x.to-1].Apart {
		for i := x.to; i < min(len(s.Words), x.to+4); i++ {
			x.tail = append(x.tail, english.Full(s.Words[i].Text)...)
			if endsSentence(&s.Words[i]) || s.Words[i].Comma {
				break
			}
		}
	}
	x.tag = x.tagAt()
	x.part()
	for i := range x.clauses {
		x.build(&x.clauses[i])
	}
	return x
}

func (x *sentence) pausesAfter(w *Word) bool { return w.Comma || w.Stop || w.Pause >= x.gap }

// tagAt finds a question tagged onto the end: an auxiliary, perhaps "not", and a
// pronoun, behind a whole sentence.
func (x *sentence) tagAt() int {
	n := len(x.units)
	for _, k := range []int{n - 3, n - 2} {
		if k < 2 || k < x.callEnd || !x.is(k, english.Aux) || !x.is(n-1, english.Subject) || x.text(n-1) == "that" || x.text(n-1) == "this" || k == n-3 && x.text(n-2) != "not" {
			continue
		}
		return k
	}
	return n
}

// fillers mean nothing.
var fillers = set("uh um er erm hmm ah mm ")

func (x *sentence) write(text string, word int, call bool) {
	if fillers[text] || text == "" {
		return
	}
	if text == "were" && !x.mayBeWere() {
		text = "we're" // they sound the same
	}
	for _, w := range english.Full(text) {
		x.units = append(x.units, unit{text: w, kind: english.KindOf(w), form: english.FormOf(w), base: english.BaseOf(w), word: word, call: call})
	}
}

// mayBeWere tells whether something stands at the end that "were" could be said of.
func (x *sentence) mayBeWere() bool {
	n := len(x.units)
	if n == 0 || x.units[n-1].comma || x.is(n-1, english.Particle) {
		return false
	}
	return !x.is(n-1, english.Object) || x.form(n-2) == 0 // "they can make it, we're"
}

func set(words string) map[string]bool {
	m := map[string]bool{}
	for w := range strings.FieldsSeq(words) {
		m[w] = true
	}
	return m
}

// text is the word of unit i, "" beyond the sentence.
func (x *sentence) text(i int) string {
	if i < 0 || i >= len(x.units) {
		return ""
	}
	return x.units[i].text
}

func (x *sentence) is(i int, k english.Kind) bool {
	return i >= 0 && i < len(x.units) && x.units[i].kind&k != 0
}

func (x *sentence) form(i int) english.Form {
	if i < 0 || i >= len(x.units) {
		return 0
	}
	return x.units[i].form
}

// spells tells whether words stand at unit i.
func (x *sentence) spells(i int, words ...string) bool {
	for k, w := range words {
		if x.text(i+k) != w {
			return false
		}
	}
	return true
}

func (x *sentence) isSubject(i int) bool { return x.is(i, english.Subject) }
