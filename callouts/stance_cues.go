package callouts

import "strings"

// cue is a run of words that tells how a call is meant.
type cue struct {
	stance   Stance
	words    []string
	scope    scope
	priority int  // the highest of the cues that apply decides
	within   int  // most words between the start of the cue and the call
	opens    bool // only at the start of a clause or sentence
	after    bool // also behind the call in its clause
}

// scope is how far a cue's sway goes.
type scope uint8

const (
	clauseScope   scope = iota // the clause it is in
	sentenceScope              // its sentence from there on when it opens it, else its clause
)

// Words that part clauses, words of a speaker who turns to the present, words
// that mean no more than "heard you", and words for the one who acts.
var (
	joiners          = set("and", "but", "so", "then", "because")
	discourse        = set("okay", "ok", "alright", "right", "good", "great", "perfect", "nice")
	acknowledgements = set("okay", "ok", "alright", "right", "good", "great", "perfect", "nice", "yes", "yeah", "yep", "roger", "now", "here", "uh", "um", "there", "well", "oh",
		"and", "so", "then", "is", "the", "our", "my", "we're", "i'm", "check", "checked", "sir", "copy", "got", "it", "that's")
	subjects = set("i", "we", "i'm", "we're", "i've", "we've")
)

// stanceCues lists what is looked for before a call. To teach the program a new
// turn of phrase, add a line.
var stanceCues = concat(
	// Reminders are orders, whatever words they use.
	cues(Ordered, clauseScope, 90, 6, false, "don't forget", "do not forget", "don't forget to", "remember to", "make sure", "be sure"),

	// Not done.
	cues(Denied, clauseScope, 80, 2, false, "not", "no"),
	cues(Denied, clauseScope, 80, 5, false, "don't", "do not", "not yet", "never mind", "without", "haven't", "hasn't", "didn't", "isn't", "aren't", "won't", "can't", "cannot", "leave"),
	cues(Denied, sentenceScope, 80, 6, false, "hold off", "not ready", "wait on", "wait with"),

	// Spoken of: what could be, was, or tends to be.
	cues(TalkedAbout, sentenceScope, 70, 12, false, "common mistake", "common error", "mistake", "mistakes", "last time", "last week", "last lesson", "yesterday", "the other day", "on the ground",
		"what happens", "would have", "should have", "could have", "would've", "should've", "might have", "people", "students", "pilots", "supposed to", "suppose", "imagine",
		"for example", "for instance", "the reason", "remember", "the idea", "the point", "what comes", "comes first", "comes before", "instead of", "rather than", "talk about", "talked about", "called", "let's say", "the checklist says", "the book says", "used to", "tend to", "tends to"),
	cues(TalkedAbout, sentenceScope, 70, 10, false, "forgot", "forget", "forgets", "forgotten", "forgetting", "missed", "never", "always", "usually", "normally", "generally", "sometimes", "often", "typically", "every time", "whenever"),
	cues(TalkedAbout, sentenceScope, 65, 10, true, "if", "unless"),
	cues(TalkedAbout, clauseScope, 65, 8, false, "if you", "if we", "if i", "you could", "you would", "you'd", "you might", "we could", "we would", "we'd", "it would", "that would", "before you", "before we", "after you", "after we", "because you", "you had", "we had", "you were", "was", "were"),
	cues(TalkedAbout, clauseScope, 55, 6, false, "should", "have to", "has to", "had to", "needs to", "means", "about the", "about"),

	// Asked.
	cues(Asked, clauseScope, 75, 5, true, "is", "is the", "is your", "is our", "are", "are the", "are your", "are we", "did", "did you", "did we", "do", "do you", "do we", "does", "has", "have you", "have we", "was", "were", "what", "what's", "which", "where", "where's", "how", "how's", "how about", "who", "why", "why is", "shall", "shall we", "shall i", "should", "should we", "should i", "may i", "can i", "can we"),
	cues(Asked, clauseScope, 75, 8, true, "did you", "do you", "have you", "what about", "how about", "where is", "where are", "what is", "what are", "why did", "why do", "when do", "when did", "when should", "tell me"),

	// For later.
	cues(Announced, clauseScope, 60, 7, false, "going to", "gonna", "i'll", "we'll", "you'll", "i will", "we will", "you will", "will", "about to", "ready to", "plan to", "planning", "want to do", "looking for", "wait for", "waiting for", "until", "expect", "coming up on", "later"),
	cues(Announced, sentenceScope, 60, 10, false, "in a moment", "in a minute", "in a second", "in a bit", "in just a", "next time", "next up", "next we", "after that", "when you", "when we", "when i", "when the", "as soon as", "once you", "once we", "once the", "once i", "the plan is", "first we'll", "then we'll"),

	// Told to do it.
	cues(Ordered, clauseScope, 50, 5, false, "give me", "let's have", "let's get", "let's go", "let's", "go ahead and", "go ahead", "i want", "i'd like", "i need", "you need", "we need", "you want", "we want", "can you", "could you", "would you", "will you", "please", "i want you to", "you can"),
	cues(Ordered, clauseScope, 50, 4, true, "bring", "bring the", "set", "put", "put the", "put your", "pull", "pull the", "push", "push the", "add", "give", "get", "get the", "get your", "take", "take the", "reduce", "reduce the", "lower", "raise", "keep", "keep the", "hold", "select", "select the", "make", "turn", "check", "check the", "check your", "call", "say", "go"),
	cues(Ordered, clauseScope, 50, 3, false, "your"),

	// Said of the present by the one who does it, in words that look like an order.
	cues(Done, clauseScope, 51, 5, false, "let's see", "let me see", "i've got", "we've got", "i have", "we have", "we are", "i'm", "we're"),
)

// afterCues are tagged on right behind a call, even after a pause.
var afterCues = concat(
	cues(Denied, clauseScope, 0, 0, false, "not yet", "no not yet", "isn't", "is not", "not"),
	cues(Ordered, clauseScope, 0, 0, false, "please", "now please"),
	cues(Announced, clauseScope, 0, 0, false, "in a moment", "in a minute", "in a second", "later", "next", "when ready", "when you're ready"),
	cues(TalkedAbout, clauseScope, 0, 0, false, "comes first", "comes before", "comes after", "comes next", "comes last", "goes first", "goes before", "goes after", "before", "always", "would", "was", "were", "should"),
)

func cues(st Stance, sc scope, priority, within int, opens bool, phrases ...string) []cue {
	out := make([]cue, len(phrases))
	for i, p := range phrases {
		out[i] = cue{stance: st, words: strings.Fields(p), scope: sc, priority: priority, within: within, opens: opens}
	}
	return out
}

func concat(lists ...[]cue) (out []cue) {
	for _, l := range lists {
		out = append(out, l...)
	}
	return out
}
