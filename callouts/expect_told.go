package callouts

import (
	"math"
	"slices"
	"strings"

	"sidetone/callouts/english"
	"sidetone/callouts/sound"
)

// told is the odds of a call told by an act in its shortest words ("power full").
const told = -2.0

// Ways are how else a thing and what becomes of it are joined, and how much less
// likely each is, in nats.
var joined = []struct {
	words string
	odds  float64
}{
	{"", 0}, {"'s", -1}, {"is", -1}, {"are", -1}, {"comes", -2}, {"come", -2}, {"coming", -1.5},
	{"goes", -2}, {"go", -2}, {"going", -1.5}, {"to", -2.5}, {"going to", -2},
	{"'s going", -2.5}, {"'s coming", -2.5},
}

// toldActs gives the acts of a callout in their usual words to add: "carb heat's
// on", "power going to full", "retracting the flaps".
func toldActs(c *Callout, add func(odds float64, words ...string)) error {
	for _, a := range c.Acts {
		if a.Alone {
			continue
		}
		things, err := expand(a.Thing)
		if err != nil {
			return err
		}
		var states []string
		if a.State != "" && !strings.Contains(a.State, "{") {
			if states, err = expand(a.State); err != nil {
				return err
			}
			// "To zero" sounds as "two zero" does, and flaps may be both.
			states = slices.DeleteFunc(states, func(s string) bool { return s == "" || strings.HasPrefix(s, "to zero") })
		}
		var verbs []string
		if a.Verb != "" {
			verbs = strings.Split(a.Verb, "/")
		}
		for _, thing := range things {
			if thing == "" {
				for _, verb := range verbs {
					just(verb, states, strings.Contains(a.State, "{"), add)
				}
				continue
			}
			for _, state := range states {
				become(strings.Fields(thing), strings.Fields(state), add)
			}
			for _, verb := range verbs {
				handle(verb, strings.Fields(thing), add)
			}
		}
	}
	return nil
}

// just adds a verb that says it all, or all but the state; what is done with a
// figure is left to the phrases with one.
func just(verb string, states []string, figure bool, add func(odds float64, words ...string)) {
	if figure {
		return
	}
	ing, participle := english.InForm(verb, english.Ing), english.InForm(verb, english.Participle)
	if len(states) == 0 {
		add(told-1, ing)
		add(told-1, participle)
		return
	}
	for _, state := range states {
		for _, it := range []string{"", "it ", "her "} {
			add(told, verb, it+state)
			add(told-0.5, ing, it+state)
			add(told-1, participle, it+state)
		}
	}
}

// become adds a thing and what becomes of it.
func become(thing, state []string, add func(odds float64, words ...string)) {
	last := thing[len(thing)-1]
	many := strings.HasSuffix(last, "s") && !strings.HasSuffix(last, "ss")
	for _, j := range joined {
		link := strings.Fields(j.words)
		if len(link) > 0 && link[len(link)-1] == "to" && !place(state[0]) {
			continue
		}
		if len(link) > 0 {
			switch link[0] {
			case "are", "come", "go":
				if !many {
					continue
				}
			case "is", "comes", "goes":
				if many {
					continue
				}
			case "'s":
				if many {
					continue
				}
				add(told+j.odds, slices.Concat(thing[:len(thing)-1], []string{last + "'s"}, link[1:], state)...)
				continue
			}
		}
		add(told+j.odds, slices.Concat(thing, link, state)...)
	}
}

// place tells whether a thing may go to it: "to idle", but not "to on" or "to checked".
func place(state string) bool {
	return !english.Is(state, english.Particle|english.Preposition) && english.FormOf(state) == 0 &&
		!slices.Contains(nowhere, state)
}

var nowhere = strings.Fields("zero all right wide good okay fine green clear complete tight locked first right normal healthy happy less more higher lower")

// handle adds what is done to a thing.
func handle(verb string, thing []string, add func(odds float64, words ...string)) {
	ing, participle := english.InForm(verb, english.Ing), english.InForm(verb, english.Participle)
	bare := english.Is(thing[0], english.Determiner)
	for _, the := range []string{"", "the"} {
		if bare && the != "" {
			continue
		}
		t := strings.Join(thing, " ")
		add(told-1, strings.TrimSpace(verb+" "+the), t)
		add(told-1.5, strings.TrimSpace(ing+" "+the), t)
	}
	add(told-1, append(slices.Clone(thing), participle)...)
	add(told-2, append(slices.Clone(thing), ing)...)
}

// spelt is the odds of a phrase that counts only where it is spelt so.
const spelt = -2.5

// leastSpelt is how much sound, in phonemes, such a phrase must be to be listened
// for: shorter ones sound like other talk.
const leastSpelt = 8

// speltOut gives those of a callout to add, each figure spoken out.
func speltOut(c *Callout, add func(odds float64, figure string, words ...string)) error {
	for _, s := range c.Spelt {
		ways, err := compilePhrase(s, c.Quantity)
		if err != nil {
			return err
		}
		for _, w := range ways {
			if sound.NewPhrase(w.pre).Weight < leastSpelt {
				continue
			}
			if !w.slot {
				add(spelt, "", w.pre...)
				continue
			}
			figures := SpokenFigures(c.Quantity)
			for _, f := range figures {
				add(spelt-math.Log(float64(len(figures))), f, slices.Concat(w.pre, []string{f})...)
			}
		}
	}
	return nil
}
