package stance

import (
	"slices"

	"sidetone/callouts/english"
)

var (
	// opensLoosely are adverbs that may stand before a subject or an imperative.
	opensLoosely = set(`now just please then also maybe perhaps first next finally again still okay right well even only gently slowly always never usually normally often
		sometimes later here today straight really actually quickly`)
	// standsFor are adverbs that may stand for a subject: "next is flaps ten".
	standsFor = set("next first last here there")
	// asksIf are words behind which "if" means whether: "tell me if".
	asksIf = set("me us sure")
	askers = set("know wonder ask see check remember tell matter mind care")
	// negatives deny what is said in their clause.
	negatives = set("not never nobody neither nothing none nor hardly")
	// nounsFirst are words that in a cockpit are mostly nouns, or states of things,
	// though they are verbs too.
	nounsFirst = set(`power trim nose flap flaps pitch level stall bank speed gear throttle mixture base final rate turn heat light lights check checks call landing stage notch
		bit touch lot time point side way hand look field set clear full idle cruise climb open stick brake brakes switch pump key park boot squawk mark need master back cover force fire cost`)
)

// build reads how a clause is built.
func (x *sentence) build(c *clause) {
	c.subjectAt, c.finite, c.negated = -1, -1, -1
	c.head = c.from
	for c.head < c.to {
		n := x.opening(c, c.head)
		if n == 0 {
			break
		}
		c.head += n
	}
	if c.head >= c.to {
		c.head = c.to
		return
	}
	c.negated = x.negationIn(c)
	x.verbsOf(c)
}

// opening reads what may open a clause before its subject or verb at unit i:
// conjunctions, question words, adverbs. It gives how many words that is, 0 when the
// clause proper begins.
func (x *sentence) opening(c *clause, i int) int {
	u := &x.units[i]
	switch t := u.text; {
	case u.call && t != "and" && t != "then":
		return 0
	case conjunctions[t] || t == "so" || t == "then":
		if c.joined == "" || c.joined == "and" || c.joined == "but" {
			c.joined = t
		}
	case t == "if" && c.sub == "" && i > 0 && (asksIf[x.text(i-1)] || askers[x.units[i-1].base]):
		c.sub, c.wh = "whether", "whether"
	case c.sub == "" && subordinators[t] && t != "whereas":
		c.sub = t
		if t == "when" || t == "whether" {
			c.wh = t
		}
	case c.sub == "" && x.spells(i, "as", "soon", "as"):
		c.sub = "as soon as"
		return 3
	case c.sub == "" && x.spells(i, "soon", "as"):
		c.sub = "as soon as"
		return 2
	case c.sub == "" && t == "as" && i+1 < c.to && (x.is(i+1, english.Subject) || x.is(i+1, english.Determiner) && x.text(i+1) != "a"):
		c.sub = "as"
	case c.wh == "" && u.kind&english.Wh != 0:
		c.wh = t
	case c.wh == "" && u.kind&english.Preposition != 0 && x.is(i+1, english.Wh): // "at what point"
	case t == "that" && x.is(i+1, english.Subject|english.Determiner) && i == c.from:
	case u.kind&english.Aux != 0:
		return 0
	case opensLoosely[t] || u.kind&english.Adverb != 0 && u.kind&(english.Determiner|english.Subject) == 0 && u.form == 0:
	default:
		return 0
	}
	return 1
}

// negationIn gives the first negation of a clause, -1 for none. One that is part of
// the phrase of the call ("not sure where we are") and one in a question tagged on
// deny nothing.
func (x *sentence) negationIn(c *clause) int {
	own := slices.ContainsFunc(x.said.Phrase, func(w string) bool { return english.Is(w, english.Negative) })
	for i := c.from; i < min(c.to, x.tag); i++ {
		if negatives[x.text(i)] && !(own && x.units[i].call) {
			return i
		}
	}
	return -1
}

// ownMood tells whether the call was found as a phrase that is worded as calls are:
// what its own words do in the sentence says nothing of how it is meant.
func (x *sentence) ownMood() bool { return x.said.Phrase != nil && !x.said.Command }

// verbsOf finds the subject and the verbs of a clause: of a question, an order, or a
// statement.
func (x *sentence) verbsOf(c *clause) {
	h := c.head
	worded := x.units[h].call && x.ownMood()
	switch {
	case !worded && x.text(h) == "do" && c.wh == "" && x.form(h+1)&english.Base != 0 && !x.is(h+1, english.Subject|english.Determiner|english.Object):
		c.head++ // "do trim it"
		x.ordersFrom(c, h+1)
	case !worded && x.questionAt(c, h):
	case x.goesOn(c):
		c.finite, c.verbs = h, []int{h}
		x.moreVerbs(c, h+1)
	case (c.wh == "" || c.wh == "when" || c.wh == "whether") && x.imperativeAt(h):
		x.ordersFrom(c, h)
	default:
		x.statement(c)
	}
}

func (x *sentence) ordersFrom(c *clause, h int) {
	c.imperative, c.finite, c.verbs = true, h, []int{h}
	x.moreVerbs(c, h+1)
}

// questionAt reads a question that begins with the auxiliary at unit h, its subject
// behind it. It gives false when it is none.
func (x *sentence) questionAt(c *clause, h int) bool {
	t := x.text(h)
	j := h + 1
	for j < c.to && (x.text(j) == "not" || x.is(j, english.Adverb) && !x.is(j, english.Determiner|english.Subject)) {
		j++
	}
	if !x.is(h, english.Aux) || j >= c.to || t == "being" || t == "been" || t == "be" || t == "having" || x.is(h, english.Be) && h > c.from && standsFor[x.text(h-1)] {
		return false
	}
	subject := x.is(j, english.Subject|english.Determiner|english.Everybody) || x.units[j].call || x.form(j) == 0 && !x.is(j, english.Preposition|english.Object)
	switch s := x.text(j); {
	case t == "do" && (s == "me" || s == "it" || s == "the" || s == "that"): // "do me a favour"
		subject = false
	case t == "do" && x.text(h+1) == "not": // "don't touch it"
		subject = x.is(j, english.Subject) && s != "it" && s != "that"
	case t == "have" && (s == "a" || s == "another" || s == "it"): // "have a look"
		subject = false
	}
	if !subject {
		return false
	}
	c.inverted, c.finite, c.verbs = true, h, []int{h}
	c.subjectAt, c.subject = j, x.subjectName(j)
	x.moreVerbs(c, j+1)
	return true
}

// statement reads a clause with its subject before its verbs.
func (x *sentence) statement(c *clause) {
	for i := c.head; i < c.to; i++ {
		u := &x.units[i]
		noun := u.form == 0 && u.kind == 0 || i > c.head && x.is(i-1, english.Determiner) && u.kind&(english.Determiner|english.Adverb|english.Aux) == 0
		acts := u.kind&(english.Subject|english.Everybody) != 0 || u.call || noun
		if c.subjectAt < 0 && len(c.verbs) == 0 && acts && (nominative[u.text] || !x.afterPreposition(c, i)) {
			c.subjectAt, c.subject = i, x.subjectName(i)
		}
		if !x.isVerb(c, i) {
			continue
		}
		if c.finite < 0 && (u.form&(english.Base|english.Third|english.Past) != 0 || u.kind&english.Modal != 0) {
			c.finite = i
		}
		c.verbs = append(c.verbs, i)
	}
}

func (x *sentence) moreVerbs(c *clause, from int) {
	for i := from; i < c.to; i++ {
		if x.isVerb(c, i) {
			c.verbs = append(c.verbs, i)
		}
	}
}

// isVerb tells whether the word at unit i is a verb here.
func (x *sentence) isVerb(c *clause, i int) bool {
	u := &x.units[i]
	return (!u.call || x.verbInCall(i)) && (u.kind&english.Aux != 0 || u.form != 0 && x.verbHere(c, i))
}

// goesOn tells whether a clause that begins with a verb has the subject of the one
// before: "I leave the power and just lower the nose".
func (x *sentence) goesOn(c *clause) bool {
	k := slices.IndexFunc(x.clauses, func(o clause) bool { return o.from == c.from })
	h := &x.units[c.head]
	if k < 1 || c.joined != "and" && c.joined != "or" || c.sub != "" || h.form == 0 || h.kind&english.Aux != 0 || h.call && x.ownMood() {
		return false
	}
	for k--; k > 0 && x.clauses[k].wh == "where"; k-- {
	}
	before := &x.clauses[k]
	if before.imperative || before.inverted || len(before.verbs) == 0 {
		return false
	}
	switch before.subject {
	case "i", "we", "you", "people":
	default:
		return false
	}
	last := before.verbs[len(before.verbs)-1]
	alike := x.form(last) & h.form
	return alike&(english.Base|english.Participle|english.Ing) != 0 && !x.is(last, english.Be) || x.is(before.finite, english.Modal) && h.form&english.Base != 0
}

// verbHere tells whether the word at unit i, which has a verb's form, is one here.
func (x *sentence) verbHere(c *clause, i int) bool {
	u := &x.units[i]
	p := i - 1
	for p >= c.from && x.is(p, english.Adverb) && !x.is(p, english.Determiner|english.Subject) {
		p--
	}
	switch t := x.text(p); {
	case p < c.from:
	case x.is(p, english.Determiner) && !x.is(p, english.Subject):
		return u.form&english.Ing != 0 && !nounsFirst[u.text] && x.is(i+1, english.Determiner|english.Object)
	case t == "to" || t == "not" || x.is(p, english.Modal|english.Do):
		return true
	case nounsFirst[u.text] && u.form&english.Base != 0:
		return x.is(p, english.Subject) && t != "that" && t != "this" && t != "there"
	}
	return !(p < c.from && nounsFirst[u.text] && u.form&english.Base != 0)
}

// verbInCall tells whether the word at unit i of the call is its verb: one that
// acts on the rest of it ("bringing the power back"), not a part of its name.
func (x *sentence) verbInCall(i int) bool {
	u := &x.units[i]
	switch {
	case u.kind&english.Aux != 0:
		return true
	case x.said.Phrase != nil && i > x.call:
		return (u.base == "come" || u.base == "go") && u.form&(english.Third|english.Ing) != 0
	case x.said.Phrase == nil && u.word < x.said.Thing:
		return u.form != 0
	case u.form == 0 || x.said.Named || nounsFirst[u.text] && i > x.call:
		return false
	case nounsFirst[u.text] || x.ownMood() && u.form&english.Base != 0 && u.kind&english.Light == 0: // "trim", "pitch up", "recover"
		return x.is(i+1, english.Determiner|english.Object) && !x.ownMood() || i > 0 && x.ruledAt(i-1)
	}
	return true
}

// ruledAt tells whether what follows unit i is a verb.
func (x *sentence) ruledAt(i int) bool {
	t := x.text(i)
	return t == "to" || t == "not" || t == "you" || t == "let" || t == "us" || t == "just" || nominative[t] || x.is(i, english.Modal|english.Do)
}

// afterPreposition tells whether unit i is the object of a preposition within its
// clause: "in a moment", "on the ground".
func (x *sentence) afterPreposition(c *clause, i int) bool {
	for p := i - 1; p >= c.from && p >= i-4 && !x.units[p].call; p-- {
		if x.is(p, english.Preposition) && !x.is(p, english.Subject) {
			return true
		}
		if !x.is(p, english.Determiner|english.Adverb|english.Degree) && x.units[p].kind != 0 {
			return false
		}
	}
	return false
}

// imperativeAt tells whether the verb at unit h, which opens its clause, gives an
// order.
func (x *sentence) imperativeAt(h int) bool {
	u := &x.units[h]
	switch {
	case u.form&english.Base == 0 || u.kind&(english.Modal|english.Be) != 0 && u.text != "be":
		return false
	case u.call && x.said.Phrase != nil:
		return x.said.Command
	case u.call && u.word < x.said.Thing, u.text == "do" || u.text == "be" || u.text == "have":
		return true
	case !nounsFirst[u.text]:
		return true
	case !u.call && h+1 == x.call && u.text != "power" && u.text != "flap" && u.text != "flaps":
		return true // "set cruise power"
	}
	next := x.text(h + 1)
	return x.is(h+1, english.Determiner|english.Object) && next != "all" && next != "that"
}

// subjectName names the subject at unit i: a pronoun that matters, "thing" for the
// call's own, "people", "noun".
func (x *sentence) subjectName(i int) string {
	u := &x.units[i]
	switch t := u.text; {
	case t == "i" || t == "we" || t == "you" || pointers[t]:
		if u.kind&english.Determiner != 0 && i+1 < len(x.units) && !x.is(i+1, english.Aux|english.Adverb) && x.form(i+1) == 0 {
			return x.nounName(i + 1) // "that airplane"
		}
		return t
	case u.call || u.kind&english.Everybody != 0 || u.kind&english.Determiner == 0:
		return x.nounName(i)
	}
	return x.nounName(i + 1)
}

// nounName tells what the noun phrase at unit i is about.
func (x *sentence) nounName(i int) string {
	for i < len(x.units) && !x.units[i].call && !x.is(i, english.Everybody) && x.is(i, english.Determiner|english.Adverb) {
		i++
	}
	switch {
	case i >= len(x.units):
		return "noun"
	case x.units[i].call:
		return "thing"
	case x.is(i, english.Everybody):
		return "people"
	}
	return "noun"
}
