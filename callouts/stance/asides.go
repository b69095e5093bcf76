package stance

import (
	"strings"

	"sidetone/callouts/english"
)

var (
	// aside are the words that may open a sentence and say nothing of it.
	aside = set(`okay ok alright right good great perfect nice yes yeah yep yup nope well oh ah sorry thanks hey lovely excellent super fine sure roger cool brilliant beautiful
		anyway wow whoa hello correct copy sir wonderful no so look listen stop wait`)
	// praise may stand before a noun as well: "good speed".
	praise = set("good great nice perfect fine beautiful lovely excellent")
	// behindRight are words "right" belongs to: "right rudder".
	behindRight = set("rudder turn base downwind hand side after before away at up in down now here seat foot wing traffic back on is mag magneto")
)

// asides of several words.
var asides = func() (out [][]string) {
	for a := range strings.SplitSeq(`there we go|there you go|here we go|here you go|there you are|here we are|that is it|come on|go on|hang on|hold on|of course|very good|well done|
		no problem|by the way|you see|you know|i mean|good job|nice job|tell you what|i tell you what|you know what|off you go`, "|") {
		out = append(out, strings.Fields(a))
	}
	return out
}()

// asideAt gives how many words of an aside stand at unit i, which opens a clause.
func (x *sentence) asideAt(i int) int {
	for _, a := range asides {
		n := len(a)
		if i+n < len(x.units) && !x.units[i].call && !x.units[i+n-1].call && x.spells(i, a...) && !x.is(i+n, english.Preposition|english.Wh) {
			return n
		}
	}
	if x.aside(i) {
		return 1
	}
	return 0
}

// aside tells whether unit i, which opens a clause, says nothing of it: "okay".
func (x *sentence) aside(i int) bool {
	u, next := &x.units[i], x.text(i+1)
	switch t := u.text; {
	case u.call:
		return false
	case t == "right":
		return !behindRight[next]
	case t == "no": // "no, the flaps are up", but "no flaps"
		return u.comma || x.is(i+1, english.Subject|english.Determiner) && next != "more" || x.is(i+1, english.Negative)
	case praise[t]:
		return u.comma || !x.is(i+1, english.Preposition) && next != "enough"
	case t == "so":
		return i == 0
	case t == "look" || t == "wait" || t == "stop":
		return u.comma || x.is(i+1, english.Subject) || next == "do"
	}
	return aside[u.text]
}
