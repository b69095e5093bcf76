package stance

import (
	"slices"
	"strings"

	"sidetone/callouts/english"
)

// Verbs that tell how the rest of their clause is meant.
var (
	sayVerbs = set("say tell ask shout call teach mention explain suggest remind yell")
	lapses   = set("forget miss neglect overlook confuse mix")
	minds    = set("bother care depend remember imagine suppose know wonder discuss talk like love hate prefer understand learn consider practise practice teach")
	thinks   = set("think believe guess reckon feel")
	watches  = set("notice watch see look hear")
	avoids   = set("avoid skip leave stop prevent ignore refuse")
	leaves   = set("skip avoid forget ignore")
	supposes = set("imagine suppose say picture think consider")
	// notAsked are verbs that make a question of "can you": what is wanted is an
	// answer.
	notAsked = set("tell remember see hear feel explain remind be say use like want")
	briefly  = set("second minute moment sec")
	isOver   = set("done complete completed finished over good satisfactory sufficient okay fine normal correct steady stable established positive alive clear enough")
)

// clauseFacts are the facts of the clause a call is in (much is 1), or of another
// one of its sentence.
func (x *sentence) clauseFacts(c *clause, f *facts, much float64) {
	own := much == 1
	who := group(c.subject)
	add := func(name string) { f.add(name, much) }
	h := c.head
	switch {
	case c.inverted:
		add(x.question(c))
	case c.imperative:
		if fact := x.order(c); fact != "" {
			add(fact)
			if fact == "order" && x.units[h].call {
				add("order of the call itself")
			}
		}
		return
	}
	if c.wh != "" && (c.sub != "when") == !c.inverted {
		fact, isQuestion := x.asks(c)
		add(fact)
		if isQuestion {
			return
		}
	}
	switch {
	case own && x.saidWhole(c):
		add("said whole")
	case own && x.gerund(c):
		add("doing it does")
		return
	case c.finite < 0:
		switch {
		case len(c.verbs) > 0 && c.verbs[0] == h && x.form(h)&english.Ing != 0:
			add("doing") // "bringing the power back"
		case len(c.verbs) > 0 && c.subject != "" && own:
			add(who + " doing")
		case own && c.sub == "" && c.wh == "" && !c.inverted:
			add("no verb")
		}
	case !c.inverted:
		told := add
		if own && supposed[c.sub] {
			told = func(name string) {
				if !toldAsHappening(name) {
					add(name)
				}
			}
		}
		if x.participleFirst(c) {
			told("I perfect")
		} else {
			x.tenseFacts(c, who, told)
		}
	}
	if c.negated >= 0 && !c.inverted && !(x.units[c.negated].call && slices.Contains(x.said.Phrase, x.text(c.negated))) {
		for _, fact := range x.negation(c, who) {
			add(fact)
		}
	}
}

// saidWhole tells whether the phrase of the call is a sentence of its own and means
// what it means: "I have control", "your airplane", "don't know where we are". With
// words of another mood in it, such as "I'll have control", it is not.
func (x *sentence) saidWhole(c *clause) bool {
	if len(x.said.Phrase) < 2 || !x.ownMood() || c.inverted || c.head != x.call {
		return false
	}
	var own []string
	for _, w := range x.said.Phrase {
		own = append(own, english.Full(w)...)
	}
	for i := x.call; i < x.callEnd; i++ {
		if x.is(i, english.Modal|english.Negative) && !slices.Contains(own, x.text(i)) {
			return false
		}
	}
	return english.Is(own[0], english.Subject|english.Aux|english.Negative) || own[0] == "your" || own[0] == "my"
}

// supposed are subordinators under which nothing is told as happening.
var supposed = set("if when before unless after once until whenever whether")

func toldAsHappening(fact string) bool {
	return strings.HasSuffix(fact, " present") || strings.HasSuffix(fact, " is") || strings.HasSuffix(fact, " doing") || strings.HasSuffix(fact, " has")
}

// participleFirst tells whether a clause leaves out "I have": "got the flaps up",
// "trimmed her out".
func (x *sentence) participleFirst(c *clause) bool {
	h := c.head
	participle := x.form(h)&english.Participle != 0 && x.form(h)&english.Base == 0 && !x.is(h, english.Aux)
	return x.text(h) == "got" || participle && (c.subject == "" || c.subject == "thing" && h == x.call)
}

// gerund tells whether the call is what the clause is about, a verb in -ing:
// "raising the flaps makes her sink".
func (x *sentence) gerund(c *clause) bool {
	return c.finite >= x.callEnd && c.head == x.call && x.form(x.call)&english.Ing != 0 &&
		(x.form(c.finite)&(english.Third|english.Past) != 0 || x.is(c.finite, english.Modal)) && !isOver[x.text(c.finite+1)]
}

// question tells what kind of question an inverted clause is.
func (x *sentence) question(c *clause) string {
	verb, next := x.text(c.finite), ""
	for _, v := range c.verbs {
		if v > c.subjectAt {
			next = x.units[v].base
			break
		}
	}
	ours := c.subject == "i" || c.subject == "we"
	switch {
	case next == "dare":
		return "do not do it"
	case c.wh == "why" && verb == "do" && x.text(c.finite+1) == "not":
		return "why not"
	case verb == "had":
		return "had you"
	case c.wh != "":
		return "question"
	case verb == "would" && c.subject == "you" && next == "mind":
		return "would you mind"
	case verb == "would" && c.subject == "you" && next == "like" && x.says(c.from, c.to, "to"):
		return "can you"
	case next == "show" && x.is(c.to, english.Wh):
		return "question" // "can you show me how"
	case (verb == "can" || verb == "could" || verb == "will" || verb == "would") && c.subject == "you" && !notAsked[next]:
		return "can you"
	case (verb == "can" || verb == "could" || verb == "may") && ours && (next == "have" || next == "get" || next == "see"):
		return "can I have"
	}
	return "question"
}

// order tells what is ordered, "" for nothing that matters.
func (x *sentence) order(c *clause) string {
	h := c.head
	base, next, third := x.units[h].base, x.text(h+1), x.text(h+2)
	onCall := h+1 < len(x.units) && x.units[h+1].call
	switch {
	case base == "let" && next == "us":
		switch {
		case c.negated >= 0:
			return "do not do it"
		case third == "say":
			return "suppose"
		case third == "wait":
			return "wait"
		case leaves[third], third == "leave" && !x.stateFollows(h), third == "hold" && x.text(h+3) == "off":
			return "leave it"
		}
		return "let us"
	case base == "let" && next == "me":
		if third == "have" || third == "see" || third == "get" {
			return "let us"
		}
		return "let me"
	case base == "do" && next == "not":
		switch third {
		case "forget", "neglect":
			return "reminder"
		case "worry", "mind", "think", "wait":
			return ""
		}
		return "do not do it"
	case base == "mind" && x.text(h-1) == "never":
		return "leave it"
	case x.units[h].call:
		switch {
		case x.is(h+1, english.Determiner|english.Object):
			return "order"
		case nounsFirst[x.units[h].text] && !x.said.Command:
			return "order, or a call"
		}
		return "order, bare"
	case base == "remember":
		if x.units[h].comma || next != "to" && next != "your" && !onCall {
			return "remember"
		}
		return "reminder"
	case (base == "make" || base == "be") && (next == "sure" || next == "certain"):
		return "reminder"
	case supposes[base]:
		return "suppose"
	case watches[base]:
		if next == "if" || next == "that" && base == "see" {
			return "order"
		}
		return "look here"
	case base == "wait":
		return "wait"
	case base == "expect":
		return "going to"
	case (base == "want" || base == "need") && (next == "me" || next == "us"):
		return "you need it of me"
	case base == "tell" || base == "guess":
		return "tell me"
	case leaves[base], base == "leave" && !x.stateFollows(h), base == "stop" && x.form(h+1)&english.Ing != 0, base == "hold" && next == "off":
		return "leave it"
	case base == "hold" && next == "on":
		return ""
	case base == "keep" && x.says(h, c.to, "hands") && x.says(h, c.to, "off"):
		return "leave it"
	case base == "give" && slices.ContainsFunc(x.units[h:c.to], func(u unit) bool { return briefly[u.text] }):
		return "wait"
	}
	return "order"
}

// says tells whether a word stands in units [from, to).
func (x *sentence) says(from, to int, word string) bool {
	return slices.ContainsFunc(x.units[from:to], func(u unit) bool { return u.text == word })
}

// stateFollows tells whether what becomes of the thing is said behind the verb at
// unit i: "leave it on".
func (x *sentence) stateFollows(i int) bool { return !x.said.Named && i < x.call }

// asks tells what the question word of a clause opens, and whether it is a question
// of which the tense says nothing more.
func (x *sentence) asks(c *clause) (fact string, isQuestion bool) {
	i := c.from
	for i < c.to && x.text(i) != c.wh {
		i++
	}
	cleft := c.wh == "what" && !c.inverted && slices.ContainsFunc(c.verbs, func(v int) bool { return v > c.verbs[0] && x.is(v, english.Be) })
	next := x.text(i + 1)
	switch {
	case c.wh == "whether":
		return "whether", false
	case cleft: // "what the trim does is hold it"
		return "wh inside", false
	case c.wh == "how" && next == "about", c.wh == "what" && next == "about" && (x.form(i+2)&english.Ing != 0 || x.is(i+2, english.Subject)):
		return "why not", false
	case c.wh == "what" && next == "about", c.inverted, x.is(i+1, english.Aux):
		return "wh question", false
	case x.opensWith(c) && c.wh != "when":
		return "wh first", true
	}
	return "wh inside", false
}

// opensWith tells whether nothing but asides stand before a clause.
func (x *sentence) opensWith(c *clause) bool {
	for i := 0; i < c.from; i++ {
		if !aside[x.units[i].text] && !x.is(i, english.Coordinator) {
			return false
		}
	}
	return true
}

// beyondDoubt are words behind "not" with which it does not deny: "not bad", "not
// only".
var beyondDoubt = set("enough long far only bad sure much too that before after until")

// negation tells what a "not" in the clause denies.
func (x *sentence) negation(c *clause, who string) []string {
	t := x.text(c.negated)
	behind := c.negated >= x.callEnd
	switch {
	case (t == "nobody" || t == "none") && slices.ContainsFunc(c.verbs, func(v int) bool { return minds[x.units[v].base] }):
		return nil // "nobody likes going around"
	case beyondDoubt[x.text(c.negated+1)] && t != "never":
		return nil
	case t == "never" && who == "I":
		return []string{"I never"}
	case t == "never" && who == "you":
		return []string{"you never"}
	case t == "never":
		return []string{"never"}
	case behind && t != "not", behind && x.units[c.negated].word >= x.said.End+4:
		return nil
	case who == "you" || who == "people":
		return []string{"not", who + " not"}
	}
	return []string{"not"}
}
