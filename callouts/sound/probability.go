package sound

import "math"

// The calibration of a match: a logistic over how much of the phrase was not
// heard. Short phrases resemble more things by chance, so their misses weigh
// more; a single word missed weighs on top of the total, since "cabin heat on"
// is no "carb heat on" however well the rest fits.
//
// The constants were set by hand on some thirty slips of a recogniser on
// synthetic voices and as many lines of ordinary talk (calibration_test.go);
// they are to be refitted when there are lessons with answers.
const (
	calIntercept = 10.0
	calCost      = 36.0
	calShort     = 2.0 // phonemes
	calWorst     = 15.0
	calWorstFrom = 0.25
	// calCeiling is the belief in words that match to the phoneme: recognisers
	// invent whole phrases too.
	calCeiling = 0.98
)

// Probability is the belief that the phrase was said, from the sound alone. It
// falls with Cost and Worst and, for the same share of cost, with a shorter
// phrase.
func (m Match) Probability() float64 {
	if m.Weight <= 0 {
		return 0
	}
	x := calIntercept - calCost*m.Cost/m.Weight*(1+calShort/m.Weight) - calWorst*max(0, m.Worst-calWorstFrom)
	return calCeiling / (1 + math.Exp(-x))
}
