package rules_test

import (
	"testing"

	"sidetone/callouts"
	"sidetone/rules/rulestest"
)

func TestWhatAProcedureExpectsIsBelievedSooner(t *testing.T) {
	p := procedure(t, `
id: trimming
title: Trimming
phases:
  - title: Trim
    steps:
      - {id: power, title: Power back, call: power-back, reference: r}
      - {id: trim, title: Trim set, call: trim-set, reference: r}
      - {id: turns, title: Turns, call: power-set, value: {of: rpm, target: 1700, tolerance: {plus: 50, minus: 50}}, reference: r}
      - {id: flaps, title: Flaps up, call: flaps-up, reference: r}
`)
	flown := func(without ...string) (l rulestest.Lesson) {
		for i, id := range []string{"power-back", "trim-set", "power-set", "flaps-up"} {
			c := rulestest.Call(id, 10+10*float64(i))
			if id == "power-set" {
				c = rulestest.With(c, callouts.RPM, 1700)
			}
			if len(without) == 0 || without[0] != id {
				l = append(l, c)
			}
		}
		return l
	}
	perhaps := func(c callouts.Call, p float64) callouts.Call {
		c.Confidence, c.Perhaps, c.Heard = p, true, "there you are"
		return c
	}
	hint := func(c callouts.Call) []callouts.Call { return []callouts.Call{c} }
	with := func(l []callouts.Call, c callouts.Call) []callouts.Call { return callouts.Merge(l, []callouts.Call{c}) }
	asked := rulestest.Call("trim-set", 20)
	asked.Stance = callouts.Asked
	trim, turns := rulestest.Call("trim-set", 20), rulestest.Call("power-set", 30)
	for _, c := range []struct {
		says  string
		calls []callouts.Call
		hints []callouts.Call
		want  string
	}{
		{"nothing is missing", flown(), hint(perhaps(trim, 0.9)), ""},
		{"it is missing, and nothing hints at it", flown("trim-set"), nil, ""},
		{"it is missing, and a fair hint is there", flown("trim-set"), hint(perhaps(trim, 0.4)), "trim-set"},
		{"it is missing, and a faint hint is there", flown("trim-set"), hint(perhaps(trim, 0.2)), ""},
		{"it is missing, and something was not understood", flown("trim-set"), hint(perhaps(rulestest.Call(callouts.Unclear, 20), 0.9)), ""},
		{"a faint hint with the very figure", flown("power-set"), hint(perhaps(rulestest.With(turns, callouts.RPM, 1720), 0.05)), "power-set"},
		{"a fair hint with another figure", flown("power-set"), hint(perhaps(rulestest.With(turns, callouts.RPM, 2300), 0.4)), ""},
		{"it was perhaps heard in its place", with(flown("trim-set"), perhaps(trim, 0.2)), nil, "trim-set"},
		{"it was hardly heard in its place", with(flown("trim-set"), perhaps(trim, 0.04)), nil, ""},
		{"it was perhaps heard where it is a fault", with(flown("trim-set"), perhaps(rulestest.Call("trim-set", 5), 0.4)), nil, ""},
		{"what was perhaps heard was asked", with(with(flown("trim-set"), asked), perhaps(trim, 0.2)), nil, ""},
	} {
		t.Run(c.says, func(t *testing.T) {
			a := p.Judge(c.calls, 0, len(c.calls))
			got := p.Expected(&a, c.calls, c.hints)
			if len(got) > 1 || len(got) == 0 && c.want != "" || len(got) == 1 && got[0].ID != c.want {
				t.Fatalf("expected %+v, want %q; steps %+v", got, c.want, a.Steps)
			}
			for _, e := range got {
				if e.Perhaps || !e.Expected || e.Confidence < 0.5 || e.Confidence > 0.8 {
					t.Errorf("believed as %+v", e)
				}
			}
		})
	}
}
