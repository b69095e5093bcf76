package stance

import (
	"strings"

	"sidetone/callouts/english"
)

// Words that part clauses.
var (
	subordinators = set("if when whenever once until till unless before after while because since although though whereas whether")
	conjunctions  = set("and but or plus")
	nominative    = set("i we he she they")
	pointers      = set("it there that this")
	everything    = set("nobody nothing everything everybody everyone somebody someone something people students")
	// emphases stand before a subordinator and belong to it: "even if".
	emphases = set("even only just right see")
	// asPair are words with which "as" makes a pair: "as well as".
	asPair = set("soon well long same far")
	// leading are words that cannot end a clause: what follows belongs to them.
	leading = set("and but or then if when whenever once until till unless before after while because since although though whether whereas as that not than plus to now how gently soon")
	// sayOrThink are verbs behind which "so" ends a clause: "when I say so".
	sayOrThink = set("say think hope do")
	// takesPerson are verbs that people are the object of: "want you to".
	takesPerson = set("want need like let ask tell give show make help expect have get see hear remind allow teach trust watch leave thank")
	// bareVerb are verbs that take another without "to": "let it come".
	bareVerb = set("let make help see watch hear feel have")
	// endsVerb are particles that are seldom prepositions.
	endsVerb = set("up down back away off out")
)

// part finds where clauses begin.
func (x *sentence) part() {
	begin := 0
	comma := false
	for i := 1; i <= len(x.units); i++ {
		if i < len(x.units) && !x.cut(begin, i) {
			continue
		}
		x.clauses = append(x.clauses, clause{from: begin, to: i, comma: comma})
		if x.call >= begin && x.call < i {
			x.at = len(x.clauses) - 1
		}
		if i < len(x.units) {
			comma = x.units[i-1].comma
		}
		begin = i
	}
}

// cut tells whether a clause begins at unit i, the last one having begun at b.
func (x *sentence) cut(b, i int) bool {
	u, p := &x.units[i], &x.units[i-1]
	aside := x.asideAt(b)
	switch {
	case u.call && p.call:
		return false
	case p.comma, i == x.tag, aside == i-b:
		return true
	case aside > i-b:
		return false
	case u.call && u.kind&(english.Subordinator|english.Coordinator|english.Wh) != 0:
		return false // "before landing checks"
	}
	for _, rule := range []func(b, i int) (cut, mine bool){x.cutJoined, x.cutUnder, x.cutSubject, x.cutVerb} {
		if cut, mine := rule(b, i); mine {
			return cut
		}
	}
	return false
}

// cutJoined parts at and, but, so, then. mine is whether the word is one of these.
func (x *sentence) cutJoined(b, i int) (cut, mine bool) {
	p, next := &x.units[i-1], x.text(i+1)
	switch t := x.text(i); {
	case conjunctions[t]:
		return !(p.call && i+1 < len(x.units) && x.units[i+1].call), true
	case t == "so":
		return !x.is(i+1, english.Adverb) && next != "much" && next != "many" && p.text != "and" && p.text != "if" && p.text != "say", true
	case t == "then":
		return p.kind&english.Coordinator == 0 && next != "" && next != "and", true
	case t == "okay" || t == "ok" || t == "alright":
		return p.kind&english.Be == 0 && next != "", true
	}
	return false, false
}

// cutUnder parts at subordinators and question words.
func (x *sentence) cutUnder(b, i int) (cut, mine bool) {
	u, p, next := &x.units[i], &x.units[i-1], x.text(i+1)
	switch t := u.text; {
	case t == "as":
		if asPair[p.text] || x.text(i-2) == "as" {
			return false, true
		}
		return x.is(i+1, english.Subject) || next != "a" && x.is(i+1, english.Determiner) || next == "soon" || next == "usual" || next == "long", true
	case t == "soon" && next == "as":
		return p.text != "as", true
	case t == "once":
		return x.is(i+1, english.Subject|english.Determiner) || x.form(i+1)&english.Participle != 0, true
	case (t == "before" || t == "after") && (next == "" || u.comma || (next == "landing" || next == "takeoff") && strings.HasPrefix(x.text(i+2), "check")):
		return false, true
	case subordinators[t]:
		return !emphases[p.text] || b == i-1, true
	case u.kind&english.Wh != 0 && t != "which":
		return p.kind&english.Preposition == 0 || p.text == "like" || p.text == "about", true
	case t == "that" && p.form != 0 && x.is(i+1, english.Subject|english.Determiner) && p.kind&english.Be == 0:
		return true, true
	}
	return false, false
}

// cutSubject parts at a subject behind a clause that is complete.
func (x *sentence) cutSubject(b, i int) (cut, mine bool) {
	u, p := &x.units[i], &x.units[i-1]
	free := !x.leads(i - 1)
	preposition := p.kind&english.Preposition != 0
	third := x.form(i+1)&english.Third != 0
	switch t := u.text; {
	case nominative[t]:
		return free && !x.fronted(b, i), true
	case t == "you":
		if !free || x.fronted(b, i) || takesPerson[p.base] || (preposition || p.kind&english.Determiner != 0) && !p.call {
			return false, true
		}
		return x.is(i+1, english.Aux|english.Adverb|english.Negative) || x.form(i+1)&(english.Base|english.Past) != 0, true
	case x.newSubject(b, i):
		return true, true
	case t == "it" && third && x.hasVerb(b, i) && p.form == 0 && !preposition:
		return free, true
	case pointers[t] && x.is(i+1, english.Aux):
		ruled := p.kind&english.Light != 0 && p.form != 0 && t != "there" && !x.is(i-2, english.Determiner|english.Adverb) // "let it be"
		return free && !preposition && !ruled, true
	case everything[t] && (x.is(i+1, english.Aux) || third || x.form(i+1)&english.Past != 0):
		return free && x.hasVerb(b, i), true
	}
	return false, false
}

// cutVerb parts at a verb that begins an order or a question.
func (x *sentence) cutVerb(b, i int) (cut, mine bool) {
	u, p, next := &x.units[i], &x.units[i-1], x.text(i+1)
	switch t := u.text; {
	case x.newOrder(b, i):
		return true, true
	case t == "do" && next == "not" && p.kind&(english.Subject|english.Wh|english.Everybody) == 0 && p.text != "to":
		return !x.leads(i-1) && (x.hasVerb(b, i) || x.units[b].call), true
	case u.kind&english.Aux != 0 && x.is(i+1, english.Subject|english.Determiner) && (p.base == "wonder" || p.text == "me" && i > 1 && sayVerbs[x.units[i-2].base]):
		return true, true // "tell me is it on"
	case t == "let" && (next == "us" || next == "me"):
		return !x.leads(i-1) && p.text != "will", true
	}
	return false, false
}

func (x *sentence) hasVerb(b, i int) bool {
	for ; b < i; b++ {
		if x.is(b, english.Aux) || x.form(b)&(english.Third|english.Base|english.Past) != 0 && !nounsFirst[x.text(b)] {
			return true
		}
	}
	return false
}

// fronted tells whether units [b, i) only say when, where or how: "in a moment".
func (x *sentence) fronted(b, i int) bool {
	for b < i && (x.is(b, english.Coordinator) || !x.is(b, english.Preposition) && x.is(b, english.Adverb)) {
		b++
	}
	return b >= i || x.is(b, english.Preposition) && !subordinators[x.text(b)] && !x.is(b, english.Subject) && !x.hasVerb(b, i)
}

// newSubject tells whether the call, with its determiners from unit i on, is the
// subject of a clause of its own, after one that is complete: "before I forget
// carb heat's on".
func (x *sentence) newSubject(b, i int) bool {
	n := i
	for n < x.call && x.is(n, english.Determiner) {
		n++
	}
	if n != x.call || x.leads(i-1) || x.is(i-1, english.Preposition|english.Determiner) {
		return false
	}
	first := b
	for first < i && x.is(first, english.Adverb|english.Coordinator) {
		first++
	}
	// An order needs no subject.
	subject, verb := x.form(first)&english.Base != 0 && !nounsFirst[x.text(first)], false
	for k := b; k < i; k++ {
		subject = subject || x.is(k, english.Subject|english.Everybody)
		verb = verb || subject && (x.is(k, english.Aux) || x.form(k) != 0)
	}
	if !verb || x.form(x.call)&english.Ing != 0 || takesPerson[x.units[i-1].base] {
		return false
	}
	for k := x.call + 1; k < min(x.tag, x.callEnd+1); k++ { // a verb of its own
		if x.is(k, english.Be|english.Modal|english.Have) || x.form(k)&english.Third != 0 && !nounsFirst[x.text(k)] {
			return true
		}
	}
	return false
}

// newOrder tells whether an order begins at unit i, where what stands before does
// not lead to its verb: "your turn give me carb heat".
func (x *sentence) newOrder(b, i int) bool {
	u, p := &x.units[i], &x.units[i-1]
	opens := u.form&english.Base != 0 && u.kind&(english.Aux|english.Determiner|english.Preposition|english.Subject) == 0 && !nounsFirst[u.text] && u.base != "come" && u.base != "go"
	object := x.is(i+1, english.Determiner|english.Object|english.Particle) || i+1 < len(x.units) && x.units[i+1].call
	if !opens || !object || p.base == "dare" {
		return false
	}
	before := x.text(i - 2)
	ruled := func(k int) bool { return x.form(k) != 0 && !bareVerb[x.units[k].base] && !x.is(k, english.Be) }
	switch {
	case (p.text == "that" || p.text == "this" || p.text == "it" || p.text == "them") && i-2 >= b && (before == "than" || ruled(i-2)):
		return true // "when you've done that bring the power back"
	case subordinators[x.text(b)] && p.form&(english.Base|english.Third|english.Past) != 0 && p.kind&english.Aux == 0 && !bareVerb[p.base] && !nounsFirst[p.text] && before != "to":
		return true // "if we sink raise the nose"
	}
	noun := p.kind == 0 && p.form == 0 || (nounsFirst[p.text] || p.kind == 0) && x.is(i-2, english.Determiner|english.Preposition)
	many := strings.HasSuffix(p.text, "s") && (!p.call || x.said.Named) // agrees with the verb: "flaps let you"
	if !noun && !p.call && p.kind != english.Adverb && !endsVerb[p.text] || many || x.leads(i-1) || p.kind&english.Subject != 0 {
		return false
	}
	if p.kind == 0 && x.hasVerb(b, i) {
		return true
	}
	loose := true
	for k := b; k < i; k++ {
		loose = loose && x.is(k, english.Adverb|english.Coordinator) // "and just lower the nose"
		if x.is(k, english.Subject|english.Everybody|english.Aux) || x.text(k) == "to" {
			return p.call && x.is(b, english.Subject) // but "I just put"
		}
	}
	return !loose
}

// leads tells whether unit i cannot end a clause: what follows belongs to it.
func (x *sentence) leads(i int) bool {
	t := x.text(i)
	switch {
	case x.is(i, english.Aux|english.Wh) && t != "there":
		return true
	case t == "so":
		return i == 0 || !sayOrThink[x.units[i-1].base]
	}
	return leading[t]
}
