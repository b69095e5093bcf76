package rules

import (
	"math"

	"sidetone/callouts"
)

// cost is what the judge pays for an explanation, in billionths of a nat. Whole
// numbers keep the optimum exact and the same on every machine. COSTS.md gives
// the reasons for the figures.
type cost int64

const nat cost = 1_000_000_000

const (
	costNotHeard = 3 * nat     // a required call was not heard
	costMoved    = 2 * nat     // a call was heard, out of order
	costLate     = nat         // a call was heard, later than it was due
	costOff      = nat         // the figure is just outside the tolerance
	costFarOff   = 5 * nat / 2 // the figure is far outside: still no "not heard"
	costNoFigure = nat / 4     // the call came without the figure asked for
	costReading  = nat / 10    // each reading of a figure likelier than the one taken

	// costLeftOver is how much dearer an explanation may be that has a use for a call
	// left over, where the step it calls was not heard.
	costLeftOver = 2 * nat

	// costLaterStep makes it cheaper to move the later of two swapped steps:
	// it is the one that was called too early.
	costLaterStep = nat / 10_000
	// costLaterCall prefers the first of several calls that are equally good.
	costLaterCall cost = 1
	// optionalPart divides the costs of optional steps, so that all of them
	// together do not sway what is said of a required one.
	optionalPart = 50

	// closeCall is how near two explanations must cost for the judge to be
	// unsure which is right.
	closeCall = 3 * nat / 10

	// costPerhaps is the least price of a call that was perhaps made, by less than the
	// confidence mayExcuse. It is cheaper than to call the step not heard, and dearer
	// than to tell what is wrong with a call that was heard.
	costPerhaps = costNotHeard - nat/20

	// forbidding is more than any explanation costs.
	forbidding = 10_000 * nat

	// clearlyHeard is the confidence above which a call is as good as any, and
	// fairlyHeard the one below which the verdict is unsure.
	clearlyHeard = 0.9
	fairlyHeard  = 0.5
)

// costHearing is the price of taking a call for heard: the log-odds against it,
// none for one that was clearly heard.
func costHearing(confidence float64) cost {
	if !(confidence < clearlyHeard) {
		return 0
	}
	odds := func(p float64) float64 { return p / (1 - p) }
	return cost(math.Round(0.5 * float64(nat) * math.Log(odds(clearlyHeard)/odds(max(confidence, 1e-6)))))
}

// costHearing is costHearing of a call's confidence, or what one costs that was only
// perhaps made.
func (s *planStep) costHearing(c *callouts.Call) cost {
	k := costHearing(c.Confidence)
	if c.Perhaps && c.Confidence < mayExcuse {
		k = max(k, costPerhaps)
	}
	return k
}

// wide is how far outside the tolerance a figure counts as far off.
func wide(q callouts.Quantity) float64 {
	switch q {
	case callouts.Altitude, callouts.RPM:
		return 500
	case callouts.Heading, callouts.Bank:
		return 45
	}
	return 20
}

// costValue is the price of the figure a call carries, for a step.
func (s *planStep) costValue(c *callouts.Call) cost {
	if s.Value == nil {
		return 0
	}
	_, miss, rank, ok := s.reading(c)
	if !ok {
		if s.Value.Optional {
			return 0
		}
		return costNoFigure
	}
	k := cost(rank) * costReading
	if miss > 0 {
		k += costOff + cost(float64(costFarOff-costOff)*min(1, miss/wide(s.Value.Of)))
	}
	return min(k, costFarOff)
}
