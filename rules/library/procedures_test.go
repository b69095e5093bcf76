package library_test

import (
	"errors"
	"slices"
	"testing"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/library"
	"sidetone/rules/rulestest"
)

func bind(t *testing.T, procedure, aircraft string) *rules.Plan {
	t.Helper()
	p, err := library.Procedure(procedure)
	if err != nil {
		t.Fatal(err)
	}
	ac, err := library.Aircraft(aircraft)
	if err != nil {
		t.Fatal(err)
	}
	plan, err := rules.Bind(p, ac)
	if err != nil {
		t.Fatal(err)
	}
	return plan
}

func everyPlan(t *testing.T, f func(t *testing.T, plan *rules.Plan)) {
	fleet, err := library.AllAircraft()
	if err != nil {
		t.Fatal(err)
	}
	procs, err := library.Procedures()
	if err != nil {
		t.Fatal(err)
	}
	for _, ac := range fleet {
		for _, p := range procs {
			t.Run(p.ID+"/"+ac.ID, func(t *testing.T) { f(t, bind(t, p.ID, ac.ID)) })
		}
	}
}

// Of an aircraft without flaps only what needs none is asked.
func TestAProcedureThatNeedsFlapsIsNotForAnAirplaneWithout(t *testing.T) {
	ac, err := library.Aircraft("trainer")
	if err != nil {
		t.Fatal(err)
	}
	ac.Facts["flap_stages"] = rules.Fact{Value: []float64{}, Unit: "deg"}
	procs, err := library.Procedures()
	if err != nil {
		t.Fatal(err)
	}
	var not []string
	for _, p := range procs {
		if _, err := rules.Bind(p, ac); errors.Is(err, rules.ErrOtherAircraft) {
			not = append(not, p.ID)
		} else if err != nil {
			t.Error(err)
		}
	}
	want := []string{"go-around", "power-off-stall", "slow-flight-landing", "traffic-pattern"}
	if !slices.Equal(not, want) {
		t.Errorf("not for it are %q, want %q", not, want)
	}
}

func TestStepsChangeWithTheAircraft(t *testing.T) {
	for _, c := range []struct {
		says, procedure, aircraft string
		has, lacks                []string
	}{
		{"carburettor heat is checked in the run-up", "before-takeoff", "trainer", []string{"carb-heat"}, []string{"propeller", "boost-pump", "cowl-flaps"}},
		{"the propeller is cycled, pump and cowl flaps are set", "before-takeoff", "complex", []string{"propeller", "boost-pump", "cowl-flaps"}, []string{"carb-heat"}},
		{"fixed gear stays where it is", "takeoff", "trainer", nil, []string{"gear-up"}},
		{"the gear comes up after take-off", "takeoff", "complex", []string{"gear-up"}, nil},
		{"power is set by rpm", "slow-flight-landing", "trainer", []string{"power-back", "carb-heat-on"}, []string{"manifold-back", "gear-down", "gear-up"}},
		{"power is set by manifold pressure, and the wheels are out", "slow-flight-landing", "complex", []string{"manifold-back", "gear-down", "gear-up"}, []string{"power-back", "carb-heat-on"}},
		{"the pattern has carburettor heat", "traffic-pattern", "trainer", []string{"carb-heat-on"}, []string{"gear-down", "propeller-forward", "boost-pump"}},
		{"the pattern has gear, propeller and pump", "traffic-pattern", "complex", []string{"gear-down", "propeller-forward", "boost-pump"}, []string{"carb-heat-on"}},
		{"the heat goes cold in a go-around", "go-around", "trainer", []string{"carb-heat-cold"}, []string{"gear-up"}},
		{"the gear goes up in a go-around", "go-around", "complex", []string{"gear-up"}, []string{"carb-heat-cold"}},
		{"a failed engine gets carburettor heat", "engine-failure", "trainer", []string{"carb-heat-on"}, []string{"boost-pump", "alternate-air"}},
		{"a failed engine gets the pump", "engine-failure", "complex", []string{"boost-pump", "alternate-air"}, []string{"carb-heat-on"}},
		{"propeller and gear brake the descent", "emergency-descent", "complex", []string{"propeller-forward", "gear-down"}, []string{"carb-heat-on"}},
	} {
		t.Run(c.says, func(t *testing.T) {
			plan := bind(t, c.procedure, c.aircraft)
			for _, id := range c.has {
				if !plan.Applies(id) {
					t.Errorf("%s is not in it", id)
				}
			}
			for _, id := range c.lacks {
				if plan.Applies(id) || !slices.ContainsFunc(plan.Procedure.Steps(), func(s *rules.Step) bool { return s.ID == id }) {
					t.Errorf("%s is in it, or no step at all", id)
				}
			}
		})
	}
}

// told are the ids of what is found wrong, but for notes.
func told(a rules.Assessment) []string {
	out := []string{}
	for _, f := range a.Findings {
		if f.Severity != rules.Note {
			out = append(out, f.Step)
		}
	}
	return out
}

// with is a lesson with one more call, two seconds after the one for a step, or
// after the first when the step is "".
func with(t *testing.T, l rulestest.Lesson, steps []string, after string, c callouts.Call) rulestest.Lesson {
	t.Helper()
	i := max(0, slices.Index(steps, after))
	if after != "" && steps[i] != after {
		t.Fatalf("no step %q", after)
	}
	c.Start, c.End = l[i].Start+2, l[i].End+2
	return slices.Insert(slices.Clone(l), i+1, c)
}

func TestEveryFigureNotHeldIsTold(t *testing.T) {
	everyPlan(t, func(t *testing.T, plan *rules.Plan) {
		l, steps := rulestest.Perfect(plan, 30)
		for _, h := range plan.Procedure.Holds {
			target := 90.0 // what a perfect lesson says where any figure will do
			if i := slices.Index(steps, h.From.Step); h.Value.AsCalledAt == "" {
				if i < 0 || l[i].Value == nil {
					t.Fatalf("%s: no figure to go by", h.ID)
				}
				target = *l[i].Value
				if f, ok := plan.Aircraft.Facts[h.Value.Target].Value.(float64); ok {
					target = f
				}
			}
			for _, c := range []struct {
				says string
				v    float64
				want []string
			}{
				{"at the upper limit", target + h.Value.Plus, []string{}},
				{"at the lower limit", target - h.Value.Minus, []string{}},
				{"above it", target + h.Value.Plus + 1, []string{h.ID}},
				{"below it", target - h.Value.Minus - 1, []string{h.ID}},
			} {
				from := h.From.Step
				if from == "" {
					from = h.Value.AsCalledAt
				}
				call := rulestest.With(rulestest.Call(h.Calls[0], 0), h.Value.Of, c.v)
				at := with(t, l, steps, from, call)
				if got := told(plan.Judge(at, 0, len(at))); !slices.Equal(got, c.want) {
					t.Errorf("%s %s (%v): told %q, want %q", h.ID, c.says, c.v, got, c.want)
				}
			}
		}
	})
}

func TestEveryCallThatMustNotBeMadeIsTold(t *testing.T) {
	everyPlan(t, func(t *testing.T, plan *rules.Plan) {
		l, steps := rulestest.Perfect(plan, 30)
		for _, n := range plan.Procedure.Nevers {
			if n.From.Step != "" && !plan.Applies(n.From.Step) {
				continue // nor does it begin then
			}
			for _, id := range n.Calls {
				bad := with(t, l, steps, n.From.Step, rulestest.Call(id, 0))
				want := []string{n.ID}
				if n.When == "retractable_gear" && plan.Aircraft.ID == "trainer" {
					want = []string{}
				}
				if got := told(plan.Judge(bad, 0, len(bad))); !slices.Equal(got, want) {
					t.Errorf("%s with %s: told %q, want %q", n.ID, id, got, want)
				}
			}
		}
	})
}

// FAA-H-8083-3C, chapter 5: nose, then wings, then power. Each two of them swapped
// are told, at the one called too early.
func TestTheOrderOfAStallRecovery(t *testing.T) {
	for _, aircraft := range []string{"trainer", "complex"} {
		plan := bind(t, "power-off-stall", aircraft)
		l, steps := rulestest.Perfect(plan, 30)
		for _, c := range [][2]string{{"nose-down", "wings-level"}, {"wings-level", "full-power"}, {"nose-down", "full-power"}} {
			swapped := slices.Clone(l)
			a, b := slices.Index(steps, c[0]), slices.Index(steps, c[1])
			swapped[a].ID, swapped[b].ID = l[b].ID, l[a].ID
			if got := told(plan.Judge(swapped, 0, len(swapped))); len(got) == 0 || !slices.Contains(got, c[1]) {
				t.Errorf("%s: %s and %s swapped: told %q", aircraft, c[0], c[1], got)
			}
		}
	}
}
