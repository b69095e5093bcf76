package desk

import (
	"slices"
	"testing"
)

// A page offers the callouts of the card first, so it is told them.
func TestTheStateTellsWhatAnswersTheSteps(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	s := c.state(c.lesson("RIFF"))
	asked := s.Asked["slow-flight-clean"]
	at := func(step, callout string) int {
		return slices.IndexFunc(asked, func(a Asked) bool { return a.Step == step && slices.Contains(a.Callouts, callout) })
	}
	if carb, trim := at("carb-heat-on", "carb-heat-on"), at("trim", "trim-set"); carb < 0 || trim <= carb {
		t.Errorf("slow flight asks for %v", asked)
	}
}
