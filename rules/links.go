package rules

import (
	"slices"

	"sidetone/callouts"
)

// Link is a step as the search for maneuvers sees it, or several steps of which
// one is needed: a place in a plain sequence that keeps to the order of the
// procedure.
type Link struct {
	Phase    int
	Optional bool
	Anytime  bool
	steps    []int
}

// Links are the steps that apply to the aircraft, in sequence.
func (pl *Plan) Links() []Link { return slices.Clone(pl.links) }

// link makes the links.
func (pl *Plan) link() {
	inOrder := make([]int, len(pl.steps))
	for s, r := range pl.rank {
		inOrder[r] = s
	}
	group := map[int]int{}
	for _, s := range inOrder {
		st := &pl.steps[s]
		if at, ok := group[st.Group]; ok && st.Group > 0 {
			pl.links[at].steps = append(pl.links[at].steps, s)
			continue
		}
		group[st.Group] = len(pl.links)
		pl.links = append(pl.links, Link{st.phase, st.Optional, st.Anytime, []int{s}})
	}
}

// Listens are the places in Links that a callout can satisfy.
func (pl *Plan) Listens(callout string) []int {
	var at []int
	for _, s := range pl.calls[callout] {
		at = append(at, slices.IndexFunc(pl.links, func(l Link) bool { return slices.Contains(l.steps, s) }))
	}
	slices.Sort(at)
	return slices.Compact(at)
}

// Place is where a step is in Links, -1 when it does not apply to the aircraft.
func (pl *Plan) Place(step string) int {
	return slices.IndexFunc(pl.links, func(l Link) bool {
		return slices.ContainsFunc(l.steps, func(s int) bool { return pl.steps[s].ID == step })
	})
}

// Fit is what it costs, in nats, to take a call for a link, without regard to
// its stance, its time or the other calls. A call not heard costs 3. One with a
// figure of something else than the step asks for, such as a setting of the
// propeller where that of the throttle is due, costs as one just outside its limits:
// it may serve, but says less for the maneuver.
func (pl *Plan) Fit(l Link, c *callouts.Call) float64 {
	best := forbidding
	for _, s := range l.steps {
		if st := &pl.steps[s]; slices.Contains(st.Calls, c.ID) {
			k := costHearing(c.Confidence) + st.costValue(c)
			if st.Value != nil && len(c.Readings) > 0 && !slices.ContainsFunc(c.Readings, func(r callouts.Reading) bool { return r.Quantity == st.Value.Of }) {
				k += costOff
			}
			best = min(best, k)
		}
	}
	return float64(best) / float64(nat)
}
