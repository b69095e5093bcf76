package stance

import "sidetone/callouts/english"

// Verbs that stand for a time: what is intended is still to come, what comes and
// goes is told as it happens.
var (
	intends = set("plan intend prepare mean hope expect")
	motions = set("come go stay get move be run start begin keep")
)

// pastOnly tells whether a form is past and nothing else: "brought", not "put".
func pastOnly(f english.Form) bool { return f&english.Past != 0 && f&english.Base == 0 }

func participleOnly(f english.Form) bool { return f&english.Participle != 0 && f&english.Base == 0 }

// verb is a verb of a clause that is looked at for what it tells of the time.
type verb struct {
	*unit
	at, next int  // its unit, and that of the verb behind it, -1 for none
	to       bool // "to" follows
	personTo bool // somebody and "to" follow: "want you to"
	who      string
	perfect  bool // a form of have stands before it
}

// tenses are asked in turn what a verb tells. They give the facts, nil when it
// tells nothing to them.
var tenses = []func(*sentence, *clause, verb) []string{
	(*sentence).modal, (*sentence).going, (*sentence).wish, (*sentence).thought, (*sentence).tense,
}

// passOver is what a tense gives for a verb of which only the next tells.
var passOver = []string{}

// tenseFacts tell when it happens and whether it does, by the verbs of a clause:
// the first that tells decides.
func (x *sentence) tenseFacts(c *clause, who string, add func(string)) {
	perfect := false
	for n, at := range c.verbs {
		v := verb{unit: &x.units[at], at: at, next: -1, to: x.text(at+1) == "to", who: who, perfect: perfect}
		if n+1 < len(c.verbs) {
			v.next = c.verbs[n+1]
		}
		v.personTo = v.next > at+1 && x.text(v.next-1) == "to" && v.next-at <= 4
		for _, tense := range tenses {
			facts := tense(x, c, v)
			if facts == nil {
				continue
			}
			for _, fact := range facts {
				add(fact)
			}
			if len(facts) > 0 {
				return
			}
			break
		}
		perfect = perfect || v.kind&english.Have != 0
	}
	if perfect {
		add(who + " perfect")
	}
}

// base is the verb behind v.
func (x *sentence) baseOf(i int) string {
	if i < 0 {
		return ""
	}
	return x.units[i].base
}

// modal reads will, would, can, should and the like.
func (x *sentence) modal(c *clause, v verb) []string {
	next := x.baseOf(v.next)
	switch v.text {
	case "will", "shall":
		if v.who == "you" && (next == "want" || next == "need") {
			return []string{"you need"}
		}
		return []string{"will", v.who + " will"}
	case "would", "might", "could":
		follows := x.text(v.at + 1)
		switch {
		case v.text == "could" && (x.spells(v.at+1, "do", "with") || follows == "use" && v.who == "I"):
			return []string{"want it"}
		case v.text == "would" && (follows == "like" || follows == "rather"):
			return passOver
		case v.text == "would" && v.next == v.at+1 && participleOnly(x.form(v.next)):
			return []string{"had done"} // "I'd planned"
		}
		return []string{"would"}
	case "should", "must", "ought":
		if next == "have" && x.form(v.next+1)&english.Participle != 0 && v.text != "ought" {
			return []string{"should have"}
		}
		return []string{"should", v.who + " should"}
	case "can", "may", "cannot":
		switch follows := x.text(v.at + 1); {
		case follows == "see" || follows == "hear" || follows == "feel":
			return []string{"look here"}
		case v.who == "you" && v.next >= 0 && v.next < x.call && !x.governs(v.next):
			return []string{"you can do else"}
		}
		return []string{v.who + " can"}
	}
	return nil
}

// going reads what stands for a future or a duty: going to, about to, have to.
func (x *sentence) going(c *clause, v verb) []string {
	follows, third := x.text(v.at+1), x.text(v.at+2)
	future := []string{"going to", v.who + " will"}
	switch {
	case v.kind&english.Be != 0 && (follows == "going" || follows == "about") && third == "to",
		v.kind&english.Be != 0 && follows == "ready",
		v.kind&english.Be != 0 && third == "ready" && c.negated < 0,
		v.text == "thinking" && v.at < x.call,
		v.base == "go" && v.form == english.Ing && v.to && x.form(v.at+2)&english.Base != 0 && !x.units[v.at+2].call:
		return future
	case v.kind&english.Be != 0 && follows == "supposed":
		return []string{"should"}
	case (v.base == "have" || v.text == "got") && v.to, v.base == "need" && (v.to || v.personTo) && v.who != "I":
		return []string{"need", v.who + " need"}
	case v.text == "used" && v.to:
		return []string{"used to"}
	case v.base == "tend":
		return []string{"habit"}
	}
	return nil
}

// wish reads wants and plans.
func (x *sentence) wish(c *clause, v verb) []string {
	follows, third := x.text(v.at+1), x.text(v.at+2)
	switch {
	case (v.base == "want" || v.base == "like" || v.base == "need") && (v.who == "I" || v.who == "you"):
		switch {
		case v.who == "you" && (follows == "me" || follows == "us"):
			return []string{"you need it of me"}
		case v.who == "you":
			return []string{"you need"}
		case v.personTo && x.is(v.at+1, english.Object|english.Subject):
			return []string{"want you to"}
		case v.to && third != "see" && third != "have" && third != "hear":
			return []string{"want to"}
		}
		return []string{"want it"}
	case intends[v.base] && (v.to || follows == "on"), v.base == "get" && follows == "ready":
		return []string{"going to"}
	case v.base == "wait" && v.form == english.Ing:
		return []string{"wait"}
	}
	return nil
}

// thought reads verbs of saying and thinking: what they rule is said or thought, not
// done.
func (x *sentence) thought(c *clause, v verb) []string {
	switch ahead := v.at < x.call; {
	case sayVerbs[v.base] && ahead:
		return []string{"quoted"}
	case lapses[v.base]:
		return []string{"lapse"}
	case minds[v.base] && ahead:
		return []string{"on the mind"}
	case thinks[v.base] && ahead && pastOnly(v.form) && v.text != "felt":
		return []string{"think past"}
	case thinks[v.base] && ahead && c.negated >= 0 && c.negated < v.at:
		return []string{"think not"}
	case thinks[v.base] && ahead:
		return []string{"think"}
	}
	return nil
}

// tense reads the tenses proper.
func (x *sentence) tense(c *clause, v verb) []string {
	next, nextForm := x.baseOf(v.next), x.form(v.next)
	switch {
	case v.base == "try" && v.next >= 0, v.kind&english.Do != 0 && v.text != "did" && v.next >= 0:
		return passOver
	case v.text == "had" && nextForm&english.Participle != 0:
		return []string{"had done"}
	case v.text == "was" || v.text == "were" || v.text == "did" || v.text == "had":
		return []string{"past", v.who + " past"}
	case v.kind&english.Have != 0 && nextForm&english.Participle != 0:
		return passOver
	case v.kind&english.Have != 0:
		return []string{v.who + " has"}
	case v.perfect && watches[v.base] && v.at < x.call, v.perfect && v.base == "know":
		return []string{"on the mind"} // "I've seen people do it"
	case v.perfect:
		return []string{v.who + " perfect"}
	case v.kind&english.Be != 0 && nextForm&english.Ing != 0 && !sayVerbs[next]:
		switch {
		case next == "stay" && x.text(v.next+1) == "away", avoids[next]:
			return []string{"leave it"}
		case next == "wait", next == "plan", next == "get" && x.text(v.next+1) == "ready":
			return passOver
		}
		return []string{v.who + " doing"}
	case v.kind&english.Be != 0 && c.subject == "it" && v.next >= 0 && v.next <= x.callEnd && x.text(v.next-1) == "to" && v.at < x.call:
		return []string{"it is so to"} // "it's important to get the nose down"
	case v.kind&english.Be != 0:
		return []string{v.who + " is"}
	case v.who == "thing" && v.at > x.call && v.at < x.callEnd && v.form == english.Base && v.kind&english.Light == 0:
		return []string{"thing is"} // a state that is a verb too: "harnesses secure"
	case pastOnly(v.form) && participleOnly(v.form) && v.who == "thing" && v.at > x.call && v.at <= x.callEnd && !x.said.Named:
		return []string{"thing perfect"} // "carb heat selected hot", "full power applied"
	case pastOnly(v.form):
		return []string{"past", v.who + " past"}
	case v.form&english.Ing != 0:
		return []string{v.who + " doing"}
	case watches[v.base] && v.who == "you":
		return []string{"look here"}
	case motions[v.base] || v.who != "thing" && v.who != "it":
		return []string{v.who + " present"}
	}
	return []string{v.who + " does something"}
}

// governs tells whether the verb at unit i acts on the call: little stands between.
func (x *sentence) governs(i int) bool {
	if x.units[i].call {
		return true
	}
	for k := i + 1; k < x.call; k++ {
		if !x.is(k, english.Determiner|english.Adverb|english.Degree|english.Particle) && x.text(k) != "to" && x.form(k) == 0 {
			return false
		}
	}
	b := x.units[i].base
	return !watches[b] && !sayVerbs[b] && b != "fly"
}
