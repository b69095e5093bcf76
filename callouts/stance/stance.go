// Package stance tells what a speaker does with a call: whether it is made,
// ordered, asked about, announced, denied, or only talked about.
//
// A sentence is parted into clauses, and of the clause the call is in is read how
// it is built: who acts, in which tense, told, asked or wished, denied or not,
// under which "if" or "when". Each of these is evidence (facts.go, meanings.go) for some
// stances and against others, with a weight fitted on sentences whose stance is
// known (weights.yaml). The sum of the weights gives the odds. That is a maximum
// entropy model, also called multinomial logistic regression (A. Berger,
// S. Della Pietra and V. Della Pietra, "A Maximum Entropy Approach to Natural
// Language Processing", Computational Linguistics 22(1), 1996), with a Gaussian
// prior on the weights (S. Chen and R. Rosenfeld, "A Gaussian Prior for Smoothing
// Maximum Entropy Models", Carnegie Mellon University, 1999).
//
// It works on what recognisers write: no capitals, no punctuation. Where there is
// punctuation, it helps.
package stance

import "math"

// Stance says what a speaker does with the words of a call.
type Stance string

// Only Done satisfies a step of a procedure; Ordered followed by the same call
// Done makes the step prompted.
const (
	Done        Stance = "done"         // "carb heat on"
	Ordered     Stance = "ordered"      // "give me carb heat"
	Asked       Stance = "asked"        // "is the carb heat on?"
	Announced   Stance = "announced"    // "in a moment we'll add carb heat"
	Denied      Stance = "denied"       // "don't trim yet"
	TalkedAbout Stance = "talked-about" // "last time you forgot the flaps"
)

// All are the stances, in the order of Odds.
var All = [...]Stance{Done, Ordered, Asked, Announced, Denied, TalkedAbout}

// Word is a word as it was heard, in small letters and without punctuation.
type Word struct {
	Text     string
	Comma    bool    // a comma follows
	Stop     bool    // a sentence ends
	Question bool    // with a question mark
	Pause    float64 // silence after it, in seconds
	Apart    bool    // what follows is somebody else, or much later
}

// Said is a call among the words around it.
type Said struct {
	Words      []Word
	First, End int      // the call is Words[First:End]
	Thing      int      // the word that names what the call is about
	Phrase     []string // the phrase it was found as, nil for none
	Misheard   bool     // it was heard as other words, that mean nothing here
	Named      bool     // the thing is named, but nothing is said of what becomes of it
	Told       []Fact   // what a network of meanings says of how it is meant
	Command    bool     // its phrase is worded as an order ("bring the power back")
}

// Reading is how a call is meant: the probability of each stance, in the order
// of All, and the facts it rests on.
type Reading struct {
	Odds  [len(All)]float64
	Facts []Fact
}

// Best is the likeliest stance and its probability.
func (r Reading) Best() (Stance, float64) {
	k := 0
	for i, p := range r.Odds {
		if p > r.Odds[k] {
			k = i
		}
	}
	return All[k], r.Odds[k]
}

// Of is the probability of a stance.
func (r Reading) Of(s Stance) float64 {
	for i, x := range All {
		if x == s {
			return r.Odds[i]
		}
	}
	return 0
}

// Toward is the reading when something beside the sentence speaks for one stance
// against another, in nats.
func (r Reading) Toward(toward, against Stance, nats float64) Reading {
	total := 0.0
	for i, s := range All {
		switch s {
		case toward:
			r.Odds[i] *= math.Exp(nats / 2)
		case against:
			r.Odds[i] *= math.Exp(-nats / 2)
		}
		total += r.Odds[i]
	}
	for i := range r.Odds {
		r.Odds[i] /= total
	}
	return r
}

// Read tells how a call is meant.
func Read(s Said) Reading {
	facts := Facts(s)
	if s.Told == nil {
		return fitted().Read(facts)
	}
	return fittedTold().Read(append(facts, s.Told...))
}

// Whole is the log of a probability, in nats, that is the whole of a fact.
const Whole = 5
