package stance

import "strings"

// turns are turns of phrase that tell wherever in the sentence they stand, written
// with shortened words in full.
var turns = map[string]string{
	"habit": `always|usually|normally|generally|often|sometimes|typically|as a rule|every time|each time|most of the time|in general|in the habit
		some days|days like this|in winter|in summer|tends to|tend to|used to|easy to|hard to`,
	"in the past": `yesterday|the other day|earlier|ago|on the ground|back then|that time|this morning|the whole time|when i was|when i started`,
	"for later": `in a moment|in a minute|in a second|in a bit|in a few|in about|in just a|in another|later|shortly|soon|any second|any moment|any minute|not long
		next time|on the next|after this|after that|before too long|right after|from now`,
	"when I say": `when i say|until i say|till i say|until i tell|till i tell|until you hear|when i tell you|when i call|when i give|on my call|on my mark|on my command`,
	"plan": `stand by|standby|be ready|get ready|the plan|next call|next thing|next is|next up|next we|next i|next item|next one|then comes|comes next
		what we will do|what i will do|what i would like to do`,
	"now": `now`,
	"suppose": `imagine|suppose|supposing|pretend|let us say|what if|in case|assume|assuming|as if|hypothetically|otherwise|for example|for instance|if i were
		in a real|in the real|some aircraft|some airplanes|other airplanes|other aircraft|bigger airplane|bigger aircraft`,
	"spoken of": `the book|the checklist|checklist says|the manual|handbook|poh|the examiner|the idea|the word|the thing about|the reason|by the way|in theory
		that is why|that is what|that is the rule|that is how|that is the way|this is why|which is why|so that|how it works|what it does|what i mean
		what happened there|what happened was|what happened is|the same as|same as before|is called|we call|tell you|talk about|talked about|spoke about
		we said|i said|you said|he said|she said|he told`,
	"there": `over the fence|over the threshold|over the numbers|over the hedge|abeam|on base|on final|on downwind|in the flare|in the descent|in the climb|at the top
		at the numbers|at the hold|on short final|after takeoff|in the round out|in the roundout|past the trees`,
	"of the type": `in this one|in this aeroplane|in this airplane|in this aircraft|in this thing|in this machine|in this type|on this aeroplane|on this type|in this is|for this airplane
		for this aeroplane|above the stall|before the stall`,
	"people": `people|students|pilots|most of us|a lot of us|some of us|everybody|everyone|somebody|someone|beginners|folks|guys
		my instructor|other instructors|my first instructor|my old instructor`,
	"as told":   `like you said|as you said|like you asked|as you asked|like you told|as you told|as instructed|as requested|as briefed`,
	"please":    `please|thanks|thank you|for me|go on|come on|go ahead|on you go|do me a favour|do me a favor`,
	"time to":   `time to|time for|it is time|about time|high time`,
	"too soon":  `too soon|too early|not yet|just yet|no need|never mind|hold off|nowhere near|far from|short of|wait on|wait with|keep off|lay off|leave off|not ready|hands off the|hands off that|hands off your|hands off my`,
	"no way":    `no way`,
	"nobody":    `nobody|neither|none of us`,
	"sure?":     `you sure|you certain`,
	"what next": `then what|what then|what next|what else`,
	"if you would": `if you would|if you like|if you want|if you do not mind|if you could|if you can|if you please|if you are happy|if you are ready|if that is okay
		when ready|when you are ready|when you like|when you want|whenever you like|whenever you want|whenever you are ready|as you like|as you wish
		at your leisure|in your own time|your call`,
}

// everywhere are the turns that count the same before and behind the call.
var everywhere = map[string]bool{"please": true, "time to": true, "no way": true, "what next": true, "if you would": true}

// turn is one of them, in words.
type turn struct {
	fact  string
	words []string
}

// turnsBy are the turns by their first word.
var turnsBy = func() map[string][]turn {
	m := map[string][]turn{}
	for fact, list := range turns {
		for _, line := range strings.Split(list, "\n") {
			for phrase := range strings.SplitSeq(line, "|") {
				words := strings.Fields(phrase)
				m[words[0]] = append(m[words[0]], turn{fact, words})
			}
		}
	}
	return m
}()

// lastTimes are what follows "last" where the past is meant: "last week", not "last of
// the flaps".
var lastTimes = set("time week lesson one year month night winter summer flight landing circuit approach go turn try day monday tuesday wednesday thursday friday saturday sunday")

var weekdays = set("monday tuesday wednesday thursday friday saturday sunday mondays tuesdays wednesdays thursdays fridays saturdays sundays weekends")

// pastAt tells whether a past time is named at unit i.
func (x *sentence) pastAt(i int) bool {
	return x.text(i) == "last" && lastTimes[x.text(i+1)] || x.text(i) == "on" && weekdays[x.text(i+1)]
}

var laterUnits = set("seconds minutes moments miles")

// laterAt tells whether a time to come is named at unit i: "in two minutes", "two
// more miles".
func (x *sentence) laterAt(i int) bool {
	return laterUnits[x.text(i)] && (x.text(i-2) == "in" || x.text(i-3) == "in" || x.text(i-1) == "more" || x.text(i-2) == "another")
}

// anyCase are determiners of what is meant in general; thisCase are nouns that are
// not.
var (
	anyCase  = set("a an any most every")
	caseOf   = set("in on for with at")
	thisCase = set("moment minute second bit while few little sec row touch couple time go")
)

// generic tells whether a case of any kind is named at unit i, not this one: "on a
// hot day", "for a short field".
func (x *sentence) generic(i int) bool {
	if !caseOf[x.text(i)] || !anyCase[x.text(i+1)] || i+2 >= len(x.units) || x.units[i+1].call || x.units[i+2].call {
		return false
	}
	return !thisCase[x.text(i+2)] && !thisCase[x.text(i+3)]
}

// topics are nouns that make what follows a matter of talk; numbered are the words
// with which "thing" counts off items instead.
var (
	topics = set(`saying motto joke story example expression phrase term mistake mistakes error errors trick reason point key secret idea thing problem danger habit rule
		order question word difference trouble risk advantage purpose sequence lesson technique theory temptation effect`)
	numbered = set("first next last other one")
	plans    = set("intention aim plan goal")
	duties   = set("job task turn")
)

// topicAt tells whether a matter of talk is named at unit i.
func (x *sentence) topicAt(i int) bool {
	if next := x.text(i + 1); !topics[x.text(i)] || next == "i" || next == "we" { // "the first thing I do is"
		return false
	}
	p := x.text(i - 1)
	return !numbered[p] || p == "first" && !x.units[i].comma
}

var comparatives = set(`more less higher lower slower faster heavier lighter bigger smaller sooner later longer shorter steeper closer further farther harder hotter colder warmer
	stronger weaker quicker earlier nearer tighter`)

// theMoreAt tells whether unit i begins "the heavier you are, the more you need".
func (x *sentence) theMoreAt(i int) bool {
	return x.text(i) == "the" && comparatives[x.text(i+1)] && x.isSubject(i+2)
}
