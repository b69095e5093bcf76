package rules_test

import (
	"testing"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/rulestest"
)

const powerTrimFlaps = `
id: trimming
title: Trimming
phases:
  - title: Trim
    steps:
      - {id: power, title: Power back, call: power-back, reference: r}
      - {id: trim, title: Trim set, call: trim-set, reference: r}
      - {id: flaps, title: Flaps up, call: flaps-up, reference: r}
`

func TestAnUnlikelyCallExcusesNothingThatWasHeard(t *testing.T) {
	p := procedure(t, powerTrimFlaps)
	for confidence, want := range map[float64]rules.Verdict{0.1: rules.OutOfOrder, 0.2: rules.OutOfOrder, 0.34: rules.Unsure} {
		perhaps := rulestest.Call("trim-set", 20)
		perhaps.Confidence, perhaps.Perhaps = confidence, true
		calls := []callouts.Call{rulestest.Call("trim-set", 5), rulestest.Call("power-back", 10), perhaps, rulestest.Call("flaps-up", 30)}
		if got := p.Judge(calls, 0, len(calls)).Steps[1]; got.Verdict != want {
			t.Errorf("a call of %.2f after trim before power: %s, want %s: %s", confidence, got.Verdict, want, got.Reason)
		}
	}
}
