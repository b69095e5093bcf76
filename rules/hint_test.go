package rules_test

import (
	"strings"
	"testing"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/rulestest"
)

func TestAHintMakesOnlyWhatIsMissingUnsure(t *testing.T) {
	p := procedure(t, `
id: trimming
title: Trimming
phases:
  - title: Trim
    steps:
      - {id: power, title: Power back, call: power-back, reference: r}
      - {id: trim, title: Trim set, call: trim-set, by: student, reference: r}
      - one_of:
          - {id: flaps, title: Flaps up, call: flaps-up, reference: r}
          - {id: gear, title: Gear up, call: gear-up, reference: r}
      - {id: cruise, title: Cruise power, call: cruise-power, reference: r}
`)
	for _, c := range []struct {
		says  string
		calls []string // at 10, 20, 30, 40 s; "" for none
		hint  string
		by    string
		at    float64
		step  string
		want  rules.Verdict
	}{
		{"its call, in the time in which it was due", []string{"power-back", "", "flaps-up", "cruise-power"}, "trim-set", "", 20, "trim", rules.Unsure},
		{"its call, by the one who has to say it", []string{"power-back", "", "flaps-up", "cruise-power"}, "trim-set", "student", 20, "trim", rules.Unsure},
		{"its call, by the other one", []string{"power-back", "", "flaps-up", "cruise-power"}, "trim-set", "instructor", 20, "trim", rules.NotHeard},
		{"its call, before it was due", []string{"power-back", "", "flaps-up", "cruise-power"}, "trim-set", "", 5, "trim", rules.NotHeard},
		{"its call, after it was due", []string{"power-back", "", "flaps-up", "cruise-power"}, "trim-set", "", 35, "trim", rules.NotHeard},
		{"another call", []string{"power-back", "", "flaps-up", "cruise-power"}, "nose-up", "", 20, "trim", rules.NotHeard},
		{"the call of a step that was heard", []string{"power-back", "trim-set", "flaps-up", "cruise-power"}, "trim-set", "", 20, "trim", rules.Heard},
		{"the call of a step heard too early", []string{"trim-set", "power-back", "flaps-up", "cruise-power"}, "trim-set", "", 25, "trim", rules.OutOfOrder},
		{"one of two that would do", []string{"power-back", "trim-set", "", "cruise-power"}, "gear-up", "", 30, "flaps", rules.Unsure},
		{"the first call, shortly before the second", []string{"", "trim-set", "flaps-up", "cruise-power"}, "power-back", "", 6, "power", rules.Unsure},
		{"the first call, long before the second", []string{"", "trim-set", "flaps-up", "cruise-power"}, "power-back", "", -6, "power", rules.NotHeard},
		{"the last call, shortly after the last but one", []string{"power-back", "trim-set", "flaps-up", ""}, "cruise-power", "", 45, "cruise", rules.Unsure},
		{"what was not understood, in the time in which it was due", []string{"power-back", "", "flaps-up", "cruise-power"}, callouts.Unclear, "", 20, "trim", rules.Unsure},
		{"what was not understood, by the one who has to say it", []string{"power-back", "", "flaps-up", "cruise-power"}, callouts.Unclear, "student", 20, "trim", rules.Unsure},
		{"what was not understood, by the other one", []string{"power-back", "", "flaps-up", "cruise-power"}, callouts.Unclear, "instructor", 20, "trim", rules.NotHeard},
		{"what was not understood, before it was due", []string{"power-back", "", "flaps-up", "cruise-power"}, callouts.Unclear, "", 5, "trim", rules.NotHeard},
		{"what was not understood, after it was due", []string{"power-back", "", "flaps-up", "cruise-power"}, callouts.Unclear, "", 35, "trim", rules.NotHeard},
		{"what was not understood, beside a step that was heard", []string{"power-back", "trim-set", "flaps-up", "cruise-power"}, callouts.Unclear, "", 20, "trim", rules.Heard},
	} {
		t.Run(c.says, func(t *testing.T) {
			var calls []callouts.Call
			for i, id := range c.calls {
				if id != "" {
					calls = append(calls, rulestest.Call(id, 10+10*float64(i)))
				}
			}
			a := p.Judge(calls, 0, len(calls))
			p.Hint(&a, []callouts.Call{{ID: c.hint, Start: c.at, End: c.at + 1, Speaker: c.by, Stance: callouts.Done, Confidence: 0.2, Heard: "there you are", Perhaps: true}})
			got := result(t, a, c.step)
			if got.Verdict != c.want {
				t.Fatalf("%s is %s, want %s: %s", c.step, got.Verdict, c.want, got.Reason)
			}
			unclear := strings.Contains(got.Reason, `something was said that was not understood, written as "there you are"`)
			if got.Verdict == rules.Unsure && unclear != (c.hint == callouts.Unclear) {
				t.Errorf("the reason is %q", got.Reason)
			}
			for _, f := range a.Findings {
				unsure := f.Kind == string(rules.Unsure) && f.Severity == rules.Note && f.At != nil && *f.At == c.at
				if f.Step == c.step && unsure != (c.want == rules.Unsure) {
					t.Errorf("told: %+v", f)
				}
			}
		})
	}
}

func TestWhatAHintIsToldAs(t *testing.T) {
	p := procedure(t, powerTrimFlaps)
	for likely, want := range map[float64]string{
		0.2:  `Perhaps at 0:20, in other words: "there you are"; listen there.`,
		0.05: `Not heard between 0:11 and 0:30; listen there. Or it is what was said at 0:20: "there you are".`,
		0.01: `Not heard between 0:11 and 0:30; listen there.`,
	} {
		calls := []callouts.Call{rulestest.Call("power-back", 10), rulestest.Call("flaps-up", 30)}
		a := p.Judge(calls, 0, len(calls))
		p.Hint(&a, []callouts.Call{{ID: "trim-set", Start: 20, End: 21, Stance: callouts.Done, Confidence: likely, Heard: "there you are", Perhaps: true}})
		if got := result(t, a, "trim").Reason; got != want {
			t.Errorf("of %g: %s, want %s", likely, got, want)
		}
	}
}
