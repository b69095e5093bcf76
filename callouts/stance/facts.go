package stance

import (
	"slices"
	"strings"

	"sidetone/callouts/english"
)

// Fact is one thing seen in the sentence of a call, and how much of it: 1, less
// where it is seen from afar. What each means stands in meanings.go.
type Fact struct {
	Name string
	Much float64
}

type facts []Fact

func (f *facts) add(name string, much float64) {
	for i := range *f {
		if (*f)[i].Name == name {
			(*f)[i].Much = max((*f)[i].Much, much)
			return
		}
	}
	*f = append(*f, Fact{name, much})
}

func (f *facts) drop(names ...string) {
	*f = slices.DeleteFunc(*f, func(x Fact) bool { return slices.Contains(names, x.Name) })
}

func (f facts) has(names ...string) bool {
	return slices.ContainsFunc(f, func(x Fact) bool { return slices.Contains(names, x.Name) })
}

const (
	// inherited is how much of what a clause says holds for one joined to it that has
	// no subject of its own: "I bring the power back and pitch up".
	inherited = 0.7
	// beside is how much of what a clause says is said of a call that only stands
	// beside it: "we'll do this one without any flap".
	beside = 0.4
)

// Facts are what is seen in the sentence of a call that tells how it is meant.
func Facts(s Said) []Fact {
	x := parse(&s)
	var f facts
	c := &x.clauses[x.at]
	x.clauseFacts(c, &f, 1)
	switch x.governing(c) {
	case "without", "than", "of", "about", "from", "between":
		for i := range f {
			if acting(f[i].Name) {
				f[i].Much *= beside
			}
		}
	}
	for at := x.at; at > 0 && x.continues(at); at-- {
		x.clauseFacts(&x.clauses[at-1], &f, inherited)
	}
	x.nearFacts(c, &f)
	x.sentenceFacts(c, &f)
	return f
}

// acting tells whether a fact is about what is being done or ordered.
func acting(fact string) bool {
	switch fact {
	case "order", "let us", "will", "going to", "want to", "want it", "want you to", "no verb", "reminder":
		return true
	}
	who, _, _ := strings.Cut(fact, " ")
	switch who {
	case "I", "you", "thing", "it", "nobody":
		return true
	}
	return false
}

// governing is the preposition the call hangs on, "" for none.
func (x *sentence) governing(c *clause) string {
	for p := x.call - 1; p >= c.from; p-- {
		if x.is(p, english.Preposition) && !x.is(p, english.Subject) {
			return x.text(p)
		}
		if !x.is(p, english.Determiner|english.Adverb|english.Degree) {
			return ""
		}
	}
	return ""
}

// continues tells whether a clause without a subject of its own goes on with what
// the one before began.
func (x *sentence) continues(at int) bool {
	k, before := &x.clauses[at], &x.clauses[at-1]
	joined := k.joined == "and" || k.joined == "or" || k.joined == "plus" || k.joined == "then" && !k.comma
	switch {
	case k.joined == "and" && x.text(k.from+1) == "now", // "... and now full power"
		!joined && !(k.comma && k.joined == "" && x.listed(k, before)),
		k.inverted, k.sub != "", k.wh != "",
		k.imperative && k.joined != "and" && k.joined != "or",
		k.subject != "" && (k.finite >= 0 || k.subject != "thing" && k.subject != "noun"):
		return false
	}
	return true
}

// listed tells whether clause k only lists more of what the clause before began
// with, behind a comma.
func (x *sentence) listed(k, before *clause) bool {
	if len(k.verbs) > 0 || before.finite < 0 || before.imperative {
		return false
	}
	t := x.text(k.to)
	return t == "and" || t == "or"
}

// group names who acts, as far as it matters.
func group(subject string) string {
	switch subject {
	case "i", "we":
		return "I"
	case "you", "people", "thing", "noun":
		return subject
	case "he", "she", "they":
		return "people"
	case "":
		return "nobody"
	}
	return "it"
}
