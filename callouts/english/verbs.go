package english

import "strings"

// Form is a form of a verb.
type Form uint8

// The forms of a verb. A form may be several: "put", "trimmed".
const (
	Base       Form = 1 << iota // bring
	Third                       // brings
	Past                        // brought (yesterday)
	Participle                  // brought (it has been)
	Ing                         // bringing
)

// Verb is one way to read a word as a verb.
type Verb struct {
	Base string
	Form Form
}

// irregular are verbs with a past or a participle of their own: base, past,
// participle; the participle is left out where it is the past.
const irregular = `be/was/been become/became/become begin/began/begun bend/bent blow/blew/blown break/broke/broken bring/brought build/built
bleed/bled burn/burnt overshoot/overshot/overshot buy/bought catch/caught choose/chose/chosen come/came/come cost/cost cut/cut deal/dealt dig/dug do/did/done draw/drew/drawn drink/drank/drunk drive/drove/driven
eat/ate/eaten fall/fell/fallen feed/fed feel/felt fight/fought find/found fly/flew/flown forget/forgot/forgotten freeze/froze/frozen get/got/got give/gave/given
go/went/gone grow/grew/grown hang/hung have/had hear/heard hide/hid/hidden hit/hit hold/held hurt/hurt keep/kept know/knew/known lay/laid lead/led learn/learnt leave/left
lend/lent let/let lie/lay/lain light/lit lose/lost make/made mean/meant meet/met pay/paid put/put quit/quit read/read ride/rode/ridden ring/rang/rung rise/rose/risen run/ran/run
say/said see/saw/seen sell/sold send/sent set/set shake/shook/shaken shoot/shot show/showed/shown shut/shut sing/sang/sung sink/sank/sunk sit/sat sleep/slept slide/slid
speak/spoke/spoken speed/sped spend/spent spin/spun split/split spread/spread stand/stood steal/stole/stolen stick/stuck strike/struck swear/swore/sworn sweep/swept swim/swam/swum
swing/swung take/took/taken teach/taught tear/tore/torn tell/told think/thought throw/threw/thrown understand/understood wake/woke/woken wear/wore/worn win/won wind/wound write/wrote/written`

// regular are the verbs of everyday talk and of the cockpit that follow the rules.
const regular = `abort accelerate accept act add adjust advance advise agree aim allow amend announce answer anticipate appear apply approach arrange arrive ask attempt avoid
back bank bang base believe bet bother brake breathe brief bump call cancel capture care carry cause change charge check circle clean clear climb close come complete compensate
configure confirm confuse consider chop continue control coordinate correct cough count counter cover crank crash create cross cry cycle dampen dare decide decrease declare deploy descend
describe deserve determine dial die disconnect discontinue discuss divert double drag dump drain drift drop dump ease enable end engage enter entail establish exercise expect explain extend face fail
fill finish fire fix flare flatten flick float flow focus follow force forecast glance glide grab guess gain handle hang happen hate head help hesitate hope hurry ice identify idle ignore jam
imagine improve include increase inform initiate intend intercept join jump kick kill kiss knock land latch laugh lean level lift like line listen load lock look lower maintain manage
mark matter measure mention mess milk mind miss mix move name need neglect nose note notice nudge offer open operate overcook own panic park pass pause perform pick pitch place plan play point
pop power practice practise prefer prepare present press pretend prevent promise pull pump push raise reach react realise realize recall recheck recommend recover reduce refer refuse reject relax
release relight remain remember remind remove repeat replace report request require rescue reset restart restore retract retrim retry return reverse review rise roll rotate round rush
sag save scan scare secure seem select separate serve settle shift shout shove signal simulate skip slam slip slow smell smooth snap sort sound spiral squawk squeeze stabilise stabilize stall stare start
stay steady steer step stop stow straighten stretch struggle suck suggest suit suppose surprise switch talk tap taste taxi tend terminate test thank tidy tighten tilt time tip touch trade trail train transfer
transition transmit travel treat trim tread troubleshoot trust try tuck tune turn twist unlatch unload unlock use vacate vary verify visit wait walk want warn warm wash watch wave wish wonder work worry yank yell`

var forms = func() map[string][]Verb {
	m := map[string][]Verb{}
	add := func(w, base string, f Form) {
		for i, v := range m[w] {
			if v.Base == base {
				m[w][i].Form |= f
				return
			}
		}
		m[w] = append(m[w], Verb{base, f})
	}
	for entry := range strings.FieldsSeq(irregular) {
		parts := strings.Split(entry, "/")
		base, past, participle := parts[0], parts[1], parts[len(parts)-1]
		add(base, base, Base)
		add(third(base), base, Third)
		add(past, base, Past)
		add(participle, base, Participle)
		add(ing(base), base, Ing)
	}
	for base := range strings.FieldsSeq(regular) {
		add(base, base, Base)
		add(third(base), base, Third)
		add(ed(base), base, Past|Participle)
		add(ing(base), base, Ing)
	}
	for w, base := range map[string]string{"burned": "burn", "learned": "learn", "lighted": "light", "leaned": "lean", "dived": "dive", "gotten": "get"} {
		add(w, base, Past|Participle)
	}
	// British spelling, and pasts that rules get wrong.
	for w, base := range map[string]string{"levelling": "level", "travelling": "travel"} {
		add(w, base, Ing)
	}
	for w, base := range map[string]string{"levelled": "level", "travelled": "travel"} {
		add(w, base, Past|Participle)
	}
	for w, f := range map[string]Form{"am": Base, "is": Third, "are": Base, "were": Past, "being": Ing} {
		add(w, "be", f)
	}
	return m
}()

const vowels = "aeiou"

func isVowel(b byte) bool { return strings.IndexByte(vowels, b) >= 0 }

// doubles are verbs of more than one syllable that double their last letter.
var doubles = map[string]bool{"begin": true, "commit": true, "forget": true, "retrim": true, "reset": true, "transfer": true, "transmit": true, "prefer": true, "refer": true}

// doubled tells whether the last consonant is doubled before -ed and -ing: in
// words of one syllable that end in a vowel and a consonant.
func doubled(w string) bool {
	n := len(w)
	if n < 3 || isVowel(w[n-1]) || strings.IndexByte("wxy", w[n-1]) >= 0 || !isVowel(w[n-2]) || isVowel(w[n-3]) && w[n-3] != 'u' {
		return false
	}
	if doubles[w] {
		return true
	}
	for i := range n - 2 {
		if isVowel(w[i]) && !(w[i] == 'u' && i > 0 && w[i-1] == 'q') {
			return false
		}
	}
	return true
}

func third(w string) string {
	switch n := len(w); {
	case w == "have":
		return "has"
	case w == "be":
		return "is"
	case w == "do" || w == "go":
		return w + "es"
	case w[n-1] == 'y' && !isVowel(w[n-2]):
		return w[:n-1] + "ies"
	case strings.HasSuffix(w, "s"), strings.HasSuffix(w, "x"), strings.HasSuffix(w, "ch"), strings.HasSuffix(w, "sh"), strings.HasSuffix(w, "z"):
		return w + "es"
	}
	return w + "s"
}

func ed(w string) string {
	switch n := len(w); {
	case w[n-1] == 'e':
		return w + "d"
	case w[n-1] == 'y' && !isVowel(w[n-2]):
		return w[:n-1] + "ied"
	case doubled(w):
		return w + w[n-1:] + "ed"
	}
	return w + "ed"
}

func ing(w string) string {
	switch n := len(w); {
	case strings.HasSuffix(w, "ie"):
		return w[:n-2] + "ying"
	case w[n-1] == 'e' && !strings.HasSuffix(w, "ee") && w != "be" && !strings.HasSuffix(w, "oe"):
		return w[:n-1] + "ing"
	case doubled(w):
		return w + w[n-1:] + "ing"
	}
	return w + "ing"
}

// Verbs gives the ways to read a word in small letters as a verb, none if it is
// no verb that is known here.
func Verbs(w string) []Verb { return forms[w] }

// FormOf is the forms a word may be of any verb, 0 for none. Words that look like
// a participle count as one ("configured"), those in -ing as such.
func FormOf(w string) Form {
	if notIng[w] {
		return 0
	}
	var f Form
	for _, v := range forms[w] {
		f |= v.Form
	}
	if f == 0 && len(w) > 5 && strings.HasSuffix(w, "ing") {
		f = Ing
	}
	if f == 0 && len(w) > 4 && strings.HasSuffix(w, "ed") && !strings.HasSuffix(w, "eed") && w != "hundred" {
		f = Past | Participle
	}
	return f
}

// notIng are nouns that look like a verb in -ing.
var notIng = map[string]bool{"during": true, "morning": true, "evening": true, "something": true, "anything": true, "nothing": true, "everything": true, "ceiling": true, "heading": true, "wing": true, "string": true, "spring": true, "landing": true, "warning": true}

// BaseOf is the verb a word is a form of, "" for none.
func BaseOf(w string) string {
	if v := forms[w]; len(v) > 0 {
		return v[0].Base
	}
	return ""
}

// IsFormOf tells whether w is a form of the verb base, of any verb that follows
// the rules too.
func IsFormOf(w, base string) bool {
	for _, v := range forms[w] {
		if v.Base == base {
			return true
		}
	}
	return w == base || w == third(base) || w == ed(base) || w == ing(base)
}

// InForm is a verb in one of its forms: "brought" of "bring" as Participle. A verb
// that is not known here follows the rules.
func InForm(base string, f Form) string {
	var out string
	for w, all := range forms {
		for _, v := range all {
			if v.Base == base && v.Form&f != 0 && (out == "" || w < out) {
				out = w
			}
		}
	}
	switch {
	case out != "":
		return out
	case f == Ing:
		return ing(base)
	case f == Third:
		return third(base)
	case f&(Past|Participle) != 0:
		return ed(base)
	}
	return base
}
