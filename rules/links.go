package rules

import "sidetone/callouts"

// Link is a step as the search for maneuvers sees it: a place in a plain
// sequence that keeps to the order of the procedure.
type Link struct {
	Phase    int
	Optional bool
	Anytime  bool
	step     int
}

// Links are the steps that apply to the aircraft, in sequence.
func (pl *Plan) Links() []Link {
	links := make([]Link, len(pl.steps))
	for i := range pl.steps {
		s := &pl.steps[i]
		links[pl.rank[i]] = Link{s.phase, s.Optional, s.Anytime, i}
	}
	return links
}

// Listens are the places in Links that a callout can satisfy.
func (pl *Plan) Listens(callout string) []int {
	var at []int
	for _, s := range pl.calls[callout] {
		at = append(at, pl.rank[s])
	}
	return at
}

// Fit is what it costs, in nats, to take a call for a link, without regard to
// its stance, its time or the other calls. A call not heard costs 3.
func (pl *Plan) Fit(l Link, c *callouts.Call) float64 {
	return float64(costHearing(c.Confidence)+pl.steps[l.step].costValue(c)) / float64(nat)
}
