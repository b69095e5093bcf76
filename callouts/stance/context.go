package stance

import "sidetone/callouts/english"

// How much is made of what stands outside the clause of the call.
const (
	behindIt  = 0.5 // in clauses behind
	beforeIt  = 0.7 // in clauses before, and in what is said next
	beforeNew = 0.2 // before words that begin anew
	farBehind = 0.4
)

// sentenceFacts are the facts of the sentence as a whole.
func (x *sentence) sentenceFacts(c *clause, f *facts) {
	if x.asked && !f.has("bare, rising", "can you", "can I have", "why not", "would you mind") {
		f.add("question mark", 1)
	}
	anew := x.anew(c, f)
	x.turnFacts(c, f, anew)
	x.wordFacts(c, f, anew)
	x.settleFacts(c, f)
	for k := range x.clauses {
		x.subFacts(c, k, f, anew)
	}
	x.clausesBefore(c, f, anew)
	x.clausesBehind(c, f)
	if c.joined == "or" {
		f.add("or", 1)
	}
}

// anew gives the first unit behind which what was said before hardly counts: a call
// that stands by itself behind a whole clause, an "okay", a "so".
func (x *sentence) anew(c *clause, f *facts) int {
	if x.at > 0 && c.comma && c.joined == "" && f.has("no verb") && !x.said.Named {
		// "that was better than last week, flaps ten"
		before := &x.clauses[x.at-1]
		if before.finite >= 0 && before.to-before.from > 1 && before.sub == "" && !topics[x.text(before.to-1)] && !x.listed(c, before) {
			f.add("by itself", 1)
			return c.from
		}
	}
	for k := x.at; k > 0; k-- {
		before := &x.clauses[k-1]
		aloneAside := aside[x.text(before.from)] && before.to-before.from == 1 && k > 1
		if j := x.clauses[k].joined; j == "so" || j == "but" || aloneAside {
			return x.clauses[k].from
		}
	}
	return 0
}

// turnFacts are the turns of phrase in the sentence and in what comes right behind.
func (x *sentence) turnFacts(c *clause, f *facts, anew int) {
	for i := range x.units {
		if x.units[i].call {
			continue
		}
		for _, t := range turnsBy[x.units[i].text] {
			if !x.spells(i, t.words...) || t.words[0] == "for" && x.text(i+2) == "to" { // "ready for me to"
				continue
			}
			much := 1.0
			switch {
			case i < anew:
				much = beforeNew
			case everywhere[t.fact]:
			case i >= c.to:
				much = behindIt
			case i < c.from:
				much = beforeIt
			}
			f.add(t.fact, much)
		}
	}
	if len(x.tail) > 0 {
		for _, t := range turnsBy[x.tail[0]] {
			if len(x.tail) >= len(t.words) && equal(x.tail[:len(t.words)], t.words) {
				f.add(t.fact, beforeIt)
			}
		}
	}
}

// wordFacts are the facts of single words and their neighbours.
func (x *sentence) wordFacts(c *clause, f *facts, anew int) {
	for i := range x.units {
		if x.units[i].call {
			continue
		}
		behind := i >= c.to
		if x.laterAt(i) {
			f.add("for later", pick(behind, farBehind, 1))
		}
		if x.pastAt(i) {
			f.add("in the past", pick(i < anew, beforeNew, pick(i < c.from, beforeIt, pick(behind, behindIt, 1))))
		}
		if x.generic(i) {
			f.add("in such a case", pick(i > x.call, behindIt, 1))
		}
		if x.theMoreAt(i) {
			f.add("the more", 1)
		}
		if i >= x.call || i < anew {
			continue
		}
		t := x.text(i)
		switch {
		case duties[t] && x.text(i-1) == "your" && (x.text(i+1) == "to" || x.text(i+2) == "to" || x.text(i+3) == "to"):
			f.add("your job", 1)
		case plans[t]:
			f.add("plan", 1)
		case x.topicAt(i):
			f.add("topic", 1)
		}
	}
}

func pick(is bool, yes, no float64) float64 {
	if is {
		return yes
	}
	return no
}

func equal(a, b []string) bool {
	for i := range b {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// settleFacts drops facts that others explain away, and adds what two say together.
func (x *sentence) settleFacts(c *clause, f *facts) {
	for _, e := range []struct{ given, gone []string }{
		{[]string{"past", "had done"}, []string{"too soon"}}, // "the flaps came up too early"
		{[]string{"time to"}, []string{"past", "you past", "I past", "people past"}},
		{[]string{"no thing"}, []string{"please"}},
		{[]string{"as told"}, []string{"spoken of"}},
		{[]string{"on the mind"}, []string{"nobody"}},
	} {
		if f.has(e.given...) {
			f.drop(e.gone...)
		}
	}
	if f.has("there") && f.has("thing present") {
		f.add("comes there", 1) // "over the fence the power comes off"
	}
	f.drop("there")
	if f.has("I present") && x.fronts(c, "at") {
		f.add("at that, I", 1) // "at fifty five I rotate"
	}
	if !f.has("for later") {
		return
	}
	if c.joined == "then" && x.at > 0 {
		f.add("then, after what will be", 1)
	}
	if f.has("thing doing", "I doing") {
		f.add("doing, later", 1)
	}
}

// under names what a subordinator puts a clause under.
var under = map[string]string{
	"if": "if", "unless": "if", "when": "when", "once": "when", "as soon as": "when", "after": "when", "until": "when", "till": "when",
	"whenever": "habit", "before": "before", "while": "while", "as": "while",
}

// fronts tells whether a clause begins with where or when, told by a preposition.
func (x *sentence) fronts(c *clause, preposition string) bool {
	i := c.from
	for i < c.to && (x.is(i, english.Coordinator) || aside[x.text(i)]) {
		i++
	}
	if x.at > 0 && i == c.from {
		if b := &x.clauses[x.at-1]; b.finite < 0 && x.text(b.from) == preposition {
			return true
		}
	}
	return i < c.to && x.text(i) == preposition
}

// subFacts are the facts of a clause k under an "if", a "when" and the like.
func (x *sentence) subFacts(c *clause, k int, f *facts, anew int) {
	o := &x.clauses[k]
	if (o.sub == "after" || o.sub == "before" && k < x.at) && len(o.verbs) == 0 && k != x.at {
		f.add("for later", 1) // "after the next turn"
		if k < x.at && f.has("no verb") {
			f.add("after when, no verb", 1)
		}
		return
	}
	kind := under[o.sub]
	if kind == "" || o.inverted && o.sub == "when" || f.has("if you would") && (kind == "if" || o.sub == "when" || kind == "habit") {
		return
	}
	who := group(o.subject)
	switch {
	case k == x.at || k < x.at && x.sharesSub(k):
		f.add("in "+kind, 1)
		if who == "you" || who == "I" {
			f.add("in "+kind+", "+who, 1)
		}
	case k < x.at && o.from >= anew:
		f.add("after "+kind, 1)
		if who == "you" {
			f.add("after "+kind+", you", 1)
		}
		if kind == "if" && f.has("order", "order, bare") {
			f.add("order, after if", 1)
		}
		if kind == "if" && f.has("I doing", "I present") {
			f.add("after if, I", 1) // "if he's still there I'm going around"
		}
		if kind != "when" {
			return
		}
		var g facts
		x.tenseFacts(o, who, func(n string) { g.add(n, 1) })
		if g.has("past", "had done") {
			f.add("after when, past", 1)
		}
		switch {
		case group(c.subject) == "I":
			f.add("after when, I", 1)
		case f.has("no verb"):
			f.add("after when, no verb", 1)
		}
	case k == x.at+1:
		f.add("with "+kind, 1)
		if kind == "when" && who == "I" && f.has("no verb", "thing present", "I present", "I doing", "I is", "thing is", "bare") {
			f.add("with when, I", 1) // "flaps twenty when we turn base"
		}
	}
}

// sharesSub tells whether the clause of the call goes on under the "if" of clause
// k: "if you put the flaps up and pull".
func (x *sentence) sharesSub(k int) bool {
	for j := k + 1; j <= x.at; j++ {
		if x.clauses[j].joined != "and" && x.clauses[j].joined != "or" || x.clauses[j].comma {
			return false
		}
	}
	return true
}

// What other clauses say that bears on the call.
var (
	tellBefore = names("quoted", "lapse", "would", "suppose", "think past", "think not", "question", "wh question", "wh first", "on the mind", "tell me", "order", "reminder", "remember",
		"want you to", "wait", "look here", "can you", "would you mind", "why not", "let us", "do not do it", "want to", "going to", "leave it", "not")
	tellBehind = names("would", "past", "quoted", "on the mind", "think past", "question", "wh question", "wh first", "order", "do not do it")
	// tellAlways bear on it though it begins anew.
	tellAlways = names("suppose", "remember", "wait")
	makesSure  = set("check see ensure verify confirm")
)

func names(names ...string) map[string]bool {
	m := map[string]bool{}
	for _, n := range names {
		m[n] = true
	}
	return m
}

func (x *sentence) clausesBefore(c *clause, f *facts, anew int) {
	// "did you feel it, and I push the nose down": a sentence of its own.
	own := (c.joined == "and" || c.joined == "so" || c.joined == "but") && c.finite >= 0 && (c.subject == "i" || c.subject == "we")
	for k := x.at - 1; k >= 0; k-- {
		for _, e := range x.factsOf(&x.clauses[k]) {
			if e.Name == "look here" && (k < x.at-1 || c.sub != "") {
				continue // "look at that, and when ..."
			}
			if own && !tellAlways[e.Name] && e.Name != "quoted" && e.Name != "would" {
				continue
			}
			if tellBefore[e.Name] && (x.clauses[k].from >= anew || tellAlways[e.Name]) {
				f.add("before: "+e.Name, 1)
			}
		}
	}
	if c.joined != "" {
		return
	}
	if f.has("before: think not") {
		f.drop("before: not", "thing is")
	}
	// What is asked or to be checked is not told.
	if f.has("before: question", "before: wh question") {
		f.drop("that is it", "it is", "thing is") // "how do I know it's trimmed"
	}
	if c.from > 0 && makesSure[x.units[c.from-1].base] {
		f.drop("thing is", "it is", "I is", "that is it") // "check the flaps are up"
	}
}

func (x *sentence) clausesBehind(c *clause, f *facts) {
	for k := x.at + 1; k < len(x.clauses); k++ {
		o := &x.clauses[k]
		if o.joined == "or" {
			f.add("or", 1)
		}
		if k == x.at+1 && o.joined == "and" && (o.subject == "you" || o.subject == "it") && o.finite >= 0 && !x.is(o.finite, english.Do) && group(c.subject) != "I" {
			f.add("and then you", 1) // "pitch up too far and you stall"
		}
		for _, e := range x.factsOf(o) {
			if tellBehind[e.Name] {
				f.add("behind: "+e.Name, 1)
			}
		}
	}
}
