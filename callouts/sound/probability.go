package sound

import "math"

// The calibration of a match: a logistic over the share of the phrase that was
// not heard, the length of the phrase (short ones resemble more things by
// chance) and the worst heard of its words ("cabin heat on" is no "carb heat
// on").
//
// Fitted by logistic regression on 780 hearings of calls by the embedded
// recogniser (five synthetic voices, quiet and over loud noise) against 100,000
// words of fiction and cockpit chatter with no call in them, weighted to one
// call in a hundred words. To be refitted when there are lessons with answers.
const (
	calIntercept = 9.2
	calCost      = 28.0
	calShort     = 20.0
	calWorst     = 1.3
	// A word missed altogether, set by hand: the words left out of a short call
	// are the ones that tell "carb heat on" from "carb heat off".
	calMissing     = 8.0
	calMissingFrom = 0.55
	// calCeiling is the belief in words that match to the phoneme: recognisers
	// invent whole phrases too.
	calCeiling = 0.98
)

// Prospect is the least probability of the matches a search returns. It is
// below what anybody would believe by itself, for matches that something else
// speaks for.
const Prospect = 0.08

// Probability is the belief that the phrase was said, from the sound alone. It
// falls with Cost and Worst and, for the same share of cost, with a shorter
// phrase.
func (m Match) Probability() float64 { return m.ProbabilityWith(0) }

// ProbabilityWith is Probability when something beside the sound speaks for the
// phrase, given as log-odds.
func (m Match) ProbabilityWith(evidence float64) float64 {
	if m.Weight <= 0 {
		return 0
	}
	x := evidence + calIntercept - calCost*m.Cost/m.Weight - calShort/m.Weight - calWorst*m.Worst - calMissing*max(0, m.Worst-calMissingFrom)
	return calCeiling / (1 + math.Exp(-x))
}

// costAt is the most a match of a phrase of the given weight may cost to reach
// probability p.
func costAt(p, weight float64) float64 {
	x := -math.Log(calCeiling/p - 1)
	return max(0, (calIntercept-calShort/weight-x)*weight/calCost)
}
