package rules_test

import (
	"slices"
	"strings"
	"testing"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/rulestest"
)

func TestWhatWasNotUnderstoodMayHaveBeenTheCallThatIsMissing(t *testing.T) {
	p := procedure(t, `
id: trimming
title: Trimming
phases:
  - title: Trim
    steps:
      - {id: power, title: Power back, call: power-back, reference: r}
      - {id: trim, title: Trim set, call: trim-set, by: student, reference: r}
      - {id: flaps, title: Flaps up, call: flaps-up, reference: r}
`)
	unclear := func(at float64, speaker string) callouts.Call {
		return callouts.Call{ID: callouts.Unclear, Start: at, End: at + 1, Speaker: speaker, Stance: callouts.Done, Confidence: 0.2, Heard: "i'm dreaming", Perhaps: true}
	}
	for _, c := range []struct {
		says string
		at   float64
		by   string
		want rules.Verdict
	}{
		{"nothing of that kind was said", -1, "", rules.NotHeard},
		{"in the time in which it was due", 20, "", rules.Unsure},
		{"before it was due", 5, "", rules.NotHeard},
		{"after it was due", 40, "", rules.NotHeard},
		{"by the one whose call it is", 20, "student", rules.Unsure},
		{"by the other one", 20, "instructor", rules.NotHeard},
	} {
		calls := []callouts.Call{rulestest.Call("power-back", 10), rulestest.Call("flaps-up", 30)}
		if c.at >= 0 {
			calls = append(calls, unclear(c.at, c.by))
			slices.SortFunc(calls, func(a, b callouts.Call) int { return int(a.Start - b.Start) })
		}
		a := p.Judge(calls, 0, len(calls))
		got := a.Steps[1]
		if got.Verdict != c.want || (got.Verdict == rules.Unsure) != strings.Contains(got.Reason, `at 0:20 something was said that was not understood, written as "i'm dreaming"`) {
			t.Errorf("%s: trim is %s: %s", c.says, got.Verdict, got.Reason)
		}
		if got.Verdict == rules.Unsure && (len(a.Findings) != 1 || a.Findings[0].At == nil || *a.Findings[0].At != 20) {
			t.Errorf("%s: the moment to listen to is not told: %+v", c.says, a.Findings)
		}
		if a.Steps[0].Verdict != rules.Heard || a.Steps[2].Verdict != rules.Heard {
			t.Errorf("%s: %+v", c.says, a.Steps)
		}
	}
}

func TestAnUnlikelyCallExcusesNothingThatWasHeard(t *testing.T) {
	p := procedure(t, `
id: trimming
title: Trimming
phases:
  - title: Trim
    steps:
      - {id: power, title: Power back, call: power-back, reference: r}
      - {id: trim, title: Trim set, call: trim-set, reference: r}
      - {id: flaps, title: Flaps up, call: flaps-up, reference: r}
`)
	for confidence, want := range map[float64]rules.Verdict{0.1: rules.OutOfOrder, 0.2: rules.OutOfOrder, 0.34: rules.Unsure} {
		perhaps := rulestest.Call("trim-set", 20)
		perhaps.Confidence, perhaps.Perhaps = confidence, true
		calls := []callouts.Call{rulestest.Call("trim-set", 5), rulestest.Call("power-back", 10), perhaps, rulestest.Call("flaps-up", 30)}
		if got := p.Judge(calls, 0, len(calls)).Steps[1]; got.Verdict != want {
			t.Errorf("a call of %.2f after trim before power: %s, want %s: %s", confidence, got.Verdict, want, got.Reason)
		}
	}
}
