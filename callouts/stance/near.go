package stance

import (
	"slices"
	"strings"

	"sidetone/callouts/english"
)

// nearFacts are the facts of the words right around the call.
func (x *sentence) nearFacts(c *clause, f *facts) {
	if x.said.Named {
		f.add("named", 1)
	}
	if x.onlyAsides(0, x.call) {
		f.add("opens", 1)
	}
	if x.said.Named && f.has("no verb") && c.to-c.from <= 5 {
		f.add("named alone", 1)
	}
	x.bareFacts(f)
	x.joinFacts(c, f)
	if x.arrives(c) {
		f.add("here it comes", 1)
	}
	for j := 0; j < x.call && c.joined == ""; j++ {
		if t := x.text(j + 1); readies[x.text(j)] && (t == "to" || t == "for" || t == "if") {
			f.add("ready to", 1)
		}
	}
	x.factsBefore(c, f)
	x.factsBehind(c, f)
}

var readies = set("okay ok ready alright fine")

// bareFacts tell whether the call is all that is said.
func (x *sentence) bareFacts(f *facts) {
	if startsWith(x.tail, "not yet", "no not yet", "negative", "not now", "wait", "no") || startsWith(x.texts(x.callEnd, len(x.units)), "not yet") {
		f.add("not yet, after", 1)
		return
	}
	if x.said.Named || f.has("order", "order, bare", "let us") {
		return
	}
	for i := x.call; i < x.callEnd; i++ {
		if x.is(i, english.Modal|english.Negative) {
			return
		}
	}
	if x.onlyAsides(0, x.call) && x.onlyAsides(x.callEnd, len(x.units)) {
		if x.asked {
			f.add("bare, rising", 1)
		}
		f.add("bare", 1)
	}
}

// joinFacts tell how the clause of the call is joined to the one before.
func (x *sentence) joinFacts(c *clause, f *facts) {
	if t := x.text(x.callEnd); t == "then" && (x.callEnd+1 >= c.to || x.units[x.callEnd].comma) {
		f.add("then, at last", 1)
	}
	if x.at == 0 {
		return
	}
	before := &x.clauses[x.at-1]
	switch {
	case f.has("no verb") && c.joined == "so" && before.subject == "you":
		f.add("you, so", 1)
	case f.has("no verb") && c.joined == "then":
		f.add("then", 1)
	}
	if c.joined == "then" && x.factsOf(before).has("will", "going to") {
		f.add("then, after what will be", 1)
	}
}

// factsOf are the facts of a clause by itself.
func (x *sentence) factsOf(c *clause) facts {
	var f facts
	x.clauseFacts(c, &f, 1)
	return f
}

// arrives tells whether the thing is said to come or go: "here comes the carb
// heat", "down go the flaps".
func (x *sentence) arrives(c *clause) bool {
	switch c.subject {
	case "i", "we", "you":
		return false
	}
	for j := max(c.from, c.head-1); j < min(c.head+2, x.callEnd); j++ {
		t, b := x.text(j), x.baseOf(min(j+1, len(x.units)-1))
		if (t == "here" || t == "there" || x.is(j, english.Particle)) && (b == "come" || b == "go") && x.form(j+1)&english.Ing == 0 && x.is(j+2, english.Determiner) {
			return true
		}
	}
	return false
}

// notBare are the facts of a call that stands for itself; "no flaps" does not.
var notBare = []string{"no verb", "opens", "bare", "bare, rising", "named alone", "the thing, no verb"}

// factsBefore are the facts of the words before the call, over its determiners.
func (x *sentence) factsBefore(c *clause, f *facts) {
	p := x.call - 1
	for ; p >= c.from && x.is(p, english.Determiner|english.Adverb|english.Degree) && !x.is(p, english.Negative) && !(x.is(p, english.Subject) && x.is(p+1, english.Aux)); p-- {
		switch x.text(p) {
		case "the", "that", "those", "this":
			if f.has("no verb") {
				f.add("the thing, no verb", 1)
			}
		case "your":
			f.add("your thing", 1)
		case "any", "anything":
			if !f.has("not", "do not do it") {
				f.add("any", 1)
			}
		case "some", "bit", "little", "touch":
			f.add("some", 1)
		case "next":
			f.add("next", 1)
		}
	}
	if p > c.from && x.form(p)&english.Ing != 0 && x.is(p-1, english.Preposition) {
		p-- // "without touching the flaps"
	}
	if p < c.from {
		return
	}
	switch t := x.text(p); t {
	case "no":
		if !x.aside(p) {
			f.add("no thing", 1)
			f.drop(notBare...)
		}
	case "not":
		f.add("not thing", 1)
		f.drop(notBare...)
	case "without":
		f.add("without", 1)
		if p <= c.head && c.finite > x.callEnd {
			f.add("with, first", 1)
		}
		f.drop(notBare...)
	case "with":
		f.add("with", 1)
		if p <= c.head && c.finite > x.callEnd {
			f.add("with, first", 1)
		}
	case "about", "of", "for", "from", "between", "in", "by":
		f.add("of the thing", 1)
	case "than", "like":
		f.add("than the thing", 1)
	case "next":
		f.add("next", 1)
	case "is":
		switch x.text(p - 1) {
		case "that", "there", "this", "it":
			if !x.is(p-2, english.Wh) && c.subjectAt == p-1 && !c.inverted {
				f.add("that is it", 1)
			}
		}
	}
}

// parts are what belongs to a thing and is not handled itself.
var parts = set("lever knob handle control setting position system cable indicator limit speed speeds change changes")

// ofOne are determiners of one thing among others.
var ofOne = set("the this that these those my your our his her its a an other another")

// factsBehind are the facts of the words behind the call.
func (x *sentence) factsBehind(c *clause, f *facts) {
	n := x.callEnd
	if n < c.to && !x.units[n-1].comma {
		noun := x.units[n].kind == 0 && x.units[n].form == 0
		the := x.text(x.call-1) == "the" || x.text(x.call-1) == "that"
		if x.said.Named && (noun || parts[x.text(n)]) || the && !x.said.Named && noun {
			f.add("part of the airplane", 1) // "the carb heat knob", "the nose up attitude"
		}
		if the && x.is(n-1, english.Particle) && ofOne[x.text(n)] && !x.is(n+1, english.Degree|english.Adverb) && !thisCase[x.text(n+1)] && !x.is(n+1, english.Aux) {
			f.add("at its place", 1) // "the carb heat on the other one"
			f.drop("thing is", "thing present", "thing doing")
		}
	}
	if x.defined(c) {
		f.add("what it is", 1)
		f.drop("thing is")
	}
	rest := append(x.texts(n, len(x.units)), x.tail...)
	switch k := len(rest); {
	case k >= 2 && k <= 5 && c.finite >= 0 && x.is(c.finite, english.Modal) && x.tag < len(x.units):
		f.add("tag", 1)
	case k >= 2 && k <= 5 && rest[k-1] == "you" && (rest[k-2] == "would" || rest[k-2] == "will" || rest[k-2] == "could"):
		f.add("can you", 1) // "mixture rich for me, would you"
	case tagged(rest):
		f.add("tag", 1)
	case k == 1 && rest[0] == "go":
		f.add("please", 1)
	}
	if f.has("tag") {
		f.drop("thing is") // "flaps are up, are they"
	}
	if len(rest) == 2 && rest[0] == "it" && rest[1] == "is" {
		f.drop("tag")
		f.add("as told", 1) // "flaps ten it is"
	}
	if startsWith(rest, "yet", "on yet") && !f.has("not", "do not do it", "no thing") {
		f.add("yet", 1)
	}
	if startsWith(rest, "first", "before", "after", "comes first", "comes before", "comes after", "goes first", "comes last", "comes next") {
		f.add("sequence", 1)
	}
}

// defined tells whether something is said of the call that is no state of a thing:
// "full flap is drag", "carb heat is for icing".
func (x *sentence) defined(c *clause) bool {
	n := x.callEnd
	if x.text(n) == "is" {
		switch x.text(n + 1) {
		case "for", "when", "what", "why", "there", "like":
			return n < x.tag
		}
	}
	if c.finite >= n && c.finite == c.to-1 && x.is(c.finite, english.Be) && x.is(c.to, english.Wh) {
		return true // "sixty five over the fence is what the book says"
	}
	if n >= x.tag || c.finite != n || !x.is(n, english.Be) || x.text(n) == "was" || n+1 >= c.to {
		return false
	}
	p := n + 1
	for p < c.to-1 && x.is(p, english.Determiner|english.Adverb) && x.form(p) == 0 {
		p++
	}
	return x.units[p].kind == 0 && x.form(p)&(english.Participle|english.Ing) == 0 && !isOver[x.text(p)] && x.text(p) != "set"
}

// tagged tells whether a question is tagged on: "isn't it", "right", "yeah".
func tagged(rest []string) bool {
	n := len(rest)
	if n == 0 || n > 8 {
		return false
	}
	switch rest[n-1] {
	case "right":
		return n == 1
	case "yeah", "yes", "correct", "huh", "eh":
		return n <= 4
	}
	subject := english.Is(rest[n-1], english.Subject)
	return n >= 2 && subject && english.Is(rest[n-2], english.Aux) ||
		n >= 3 && subject && rest[n-2] == "not" && english.Is(rest[n-3], english.Aux) ||
		n >= 2 && rest[n-2] == "or" && rest[n-1] == "not"
}

// startsWith tells whether words begin with one of some phrases.
func startsWith(words []string, phrases ...string) bool {
	return slices.ContainsFunc(phrases, func(p string) bool {
		for _, w := range words {
			first, rest, more := strings.Cut(p, " ")
			if w != first {
				return false
			}
			if !more {
				return true
			}
			p = rest
		}
		return false
	})
}

// mayOpen are words beside asides that say nothing of a call.
var mayOpen = set("now and then there here right")

// onlyAsides tells whether units [from, to) say nothing.
func (x *sentence) onlyAsides(from, to int) bool {
	for i := from; i < to; i++ {
		t := x.units[i].text
		if t == "no" && !x.aside(i) || !aside[t] && !mayOpen[t] && !x.is(i, english.Determiner) {
			return false
		}
	}
	return true
}

func (x *sentence) texts(from, to int) []string {
	var out []string
	for i := from; i < min(to, len(x.units)); i++ {
		out = append(out, x.units[i].text)
	}
	return out
}
