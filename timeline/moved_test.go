package timeline_test

import (
	"slices"
	"testing"

	"sidetone/rules/rulestest"
	"sidetone/timeline"
)

// A step called out of its place was called: with something else missing, it must not
// hide the maneuver.
func TestAManeuverWithAStepOutOfOrderAndOneNotHeardIsFound(t *testing.T) {
	plans := wholeLibrary(t)["trainer"]
	for _, c := range []struct{ procedure, early, before, without string }{
		{"diversion", "eta", "heading", "time"},
		{"diversion", "fuel", "heading", "time"},
	} {
		l, steps := rulestest.Perfect(planOf(t, plans, c.procedure), 100)
		gone := slices.Index(steps, c.without)
		if gone < 0 {
			t.Fatalf("%s has no %s", c.procedure, c.without)
		}
		l, steps = l.Without(gone), slices.Delete(steps, gone, gone+1)
		early, before := slices.Index(steps, c.early), slices.Index(steps, c.before)
		if early < 0 || before < 0 {
			t.Fatalf("%s has %q", c.procedure, steps)
		}
		if got := names(timeline.FindPlans(lesson(l.Moved(early, before)), plans)); !slices.Equal(got, []string{c.procedure}) {
			t.Errorf("%s with %s before %s and without %s: found %q", c.procedure, c.early, c.before, c.without, got)
		}
	}
}
