// Package english knows the little words of English and the forms of its verbs:
// what is needed to tell how a sentence is built without knowing what it is about.
//
// The little words (pronouns, auxiliaries, prepositions, ...) are closed classes
// and complete here as far as people talk; the verbs are those of everyday speech
// and of the cockpit. The classes are those of any school grammar.
package english

import "strings"

// Kind is a set of classes a word may belong to.
type Kind uint32

// The classes of words. A word may be in several: "that", "set", "right".
const (
	Subject      Kind = 1 << iota // pronouns that act: i, we, somebody
	Object                        // pronouns that are acted on: me, it, them
	Determiner                    // the, a, my, some, each
	Preposition                   // of, for, with
	Be                            // is, was, been
	Do                            // do, does, did
	Have                          // have, has, had
	Modal                         // will, would, can, must
	Coordinator                   // and, but, or, so, then
	Subordinator                  // if, when, because
	Wh                            // what, where, how
	Negative                      // not, never, no
	Adverb                        // now, gently, all
	Particle                      // up, off, back: they finish a verb
	Discourse                     // okay, right, well
	Everybody                     // people, students: whoever, at no time
	Light                         // verbs with little meaning of their own: bring, put, go
	Degree                        // bit, little, touch: "back a bit"
)

// Aux are the auxiliaries.
const Aux = Be | Do | Have | Modal

var kinds = func() map[string]Kind {
	m := map[string]Kind{}
	for _, c := range []struct {
		kind  Kind
		words string
	}{
		{Subject, "i we you he she they it that this there these those one somebody someone everybody everyone nobody anybody anyone none who"},
		{Object, "me us you him her them it that this these those myself yourself himself herself itself ourselves themselves something anything nothing everything"},
		{Determiner, "the a an my your our his her its their this that these those some any each every another other both all no either neither more most many much few fewer less which what whose half enough several such"},
		{Preposition, "of for with without about from like than at in on to into onto by over under between during after before since until till through off up down around across behind below above beyond near past towards toward against per upon within inside outside via as"},
		{Be, "be is are was were am been being"},
		{Do, "do does did"},
		{Have, "have has had having"},
		{Modal, "will would can could shall should may might must cannot ought"},
		{Coordinator, "and but or so then nor plus"},
		{Subordinator, "if when whenever once until till unless before after while because since although though as whether where wherever whereas provided"},
		{Wh, "what where when why how which who whose whom"},
		{Negative, "not never no neither nor none nobody nothing without hardly"},
		{Adverb, "now here there just please still already yet again also too very really quite even only almost about maybe perhaps soon later today tonight always usually normally often sometimes never ever all both fully full completely right straight back away together forward forwards first next last finally then instead nicely gently slowly smoothly quickly slightly well enough once twice more less far further so somewhat pretty fairly exactly about roughly actually basically certainly probably definitely obviously immediately currently kind sort simply halfway along anyway"},
		{Particle, "up down on off in out back away over through forward forwards along around"},
		{Discourse, "okay ok alright right good great perfect nice yes yeah yep yup no nope well oh ah uh um er erm hmm sorry thanks look listen hey lovely excellent super fine sure roger cool brilliant beautiful there now so anyway wow whoa hello correct copy sir wonderful"},
		{Everybody, "people students pilots folks everybody everyone somebody someone anybody instructors guys beginners others many most some nobody they he she pilot student guy instructor examiner examiners controllers"},
		{Light, "bring take put get go come set pull push move turn have let make keep run ease give slide drop bump roll leave switch flick wind crank ride pop stick throw lift start begin finish want need use be become stay remain seem look feel"},
		{Degree, "bit little touch tad notch hair smidge fraction lot"},
	} {
		for w := range strings.FieldsSeq(c.words) {
			m[w] |= c.kind
		}
	}
	return m
}()

// KindOf is the classes of a word in small letters. Adverbs in -ly are known by
// their ending, light verbs in any form.
func KindOf(w string) Kind {
	k := kinds[w]
	if k == 0 && len(w) > 4 && strings.HasSuffix(w, "ly") {
		k = Adverb
	}
	for _, v := range forms[w] {
		k |= kinds[v.Base] & Light
	}
	for _, part := range shortened[w] {
		k |= kinds[part] & (Aux | Negative)
	}
	return k
}

// Is tells whether w is in one of the classes.
func Is(w string, k Kind) bool { return KindOf(w)&k != 0 }

// shortened gives what a shortened word stands for. Recognisers leave out the
// apostrophe too, where nothing else is written so.
var shortened = func() map[string][]string {
	m := map[string][]string{}
	add := func(w, full string) {
		m[w] = strings.Fields(full)
		if bare := strings.ReplaceAll(w, "'", ""); !meansOther[bare] {
			m[bare] = m[w]
		}
	}
	for w := range strings.FieldsSeq("i you we they he she it that there this what who where how when these those here") {
		for end, full := range map[string]string{"'ll": "will", "'ve": "have", "'d": "would", "'re": "are"} {
			add(w+end, w+" "+full)
		}
		if w != "i" && w != "you" && w != "we" && w != "they" {
			add(w+"'s", w+" is")
		}
	}
	add("i'm", "i am")
	add("let's", "let us")
	for w := range strings.FieldsSeq("is are was were do does did have has had would could should might must need") {
		add(w+"n't", w+" not")
	}
	add("won't", "will not")
	add("can't", "can not")
	add("shan't", "shall not")
	add("ain't", "is not")
	m["cannot"] = []string{"can", "not"}
	for w, full := range map[string]string{
		"gonna": "going to", "wanna": "want to", "gotta": "have to", "gimme": "give me", "lemme": "let me", "hafta": "have to", "y'all": "you",
		"should've": "should have", "would've": "would have", "could've": "could have", "might've": "might have", "must've": "must have", "shoulda": "should have", "coulda": "could have", "woulda": "would have",
		"c'mon": "come on", "dunno": "do not know", "'cause": "because", "cos": "because", "'em": "them", "til": "until", "'til": "until",
	} {
		m[w] = strings.Fields(full)
	}
	return m
}()

// meansOther are shortened words that without their apostrophe are other words.
var meansOther = map[string]bool{"ill": true, "were": true, "well": true, "hell": true, "shell": true, "shed": true, "wed": true, "its": true, "id": true, "here": true, "lets": true}

// Full writes a shortened word out: "don't" is do, not. Any other word is itself;
// 's behind a noun is "is": the carb heat's on.
func Full(w string) []string {
	if f, ok := shortened[w]; ok {
		return f
	}
	for _, end := range []struct{ short, full string }{{"'s", "is"}, {"'ll", "will"}, {"'ve", "have"}, {"'re", "are"}, {"'d", "would"}} {
		if stem, ok := strings.CutSuffix(w, end.short); ok && stem != "" {
			return []string{stem, end.full}
		}
	}
	return []string{w}
}
