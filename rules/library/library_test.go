package library_test

import (
	"regexp"
	"strings"
	"testing"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/library"
)

func TestEveryProcedureFitsTheDefaultAircraft(t *testing.T) {
	ac, err := library.DefaultAircraft()
	if err != nil {
		t.Fatal(err)
	}
	procs, err := library.Procedures()
	if err != nil {
		t.Fatal(err)
	}
	if len(procs) < 16 {
		t.Fatalf("%d procedures", len(procs))
	}
	for _, p := range procs {
		if _, err := rules.Bind(p, ac); err != nil {
			t.Error(err)
		}
		same, err := library.Procedure(p.ID)
		if err != nil || same.Title != p.Title {
			t.Errorf("%s: %v", p.ID, err)
		}
	}
}

func TestEveryCalloutIsOneTheLexiconKnows(t *testing.T) {
	lex, err := callouts.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	var known []string
	quantity := map[string]callouts.Quantity{}
	for _, c := range lex.Callouts {
		known = append(known, c.ID)
		quantity[c.ID] = c.Quantity
	}
	procs, err := library.Procedures()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range procs {
		if err := p.CheckCallouts(known); err != nil {
			t.Error(err)
		}
		for _, s := range p.Steps() {
			if s.Value != nil && quantity[s.Calls[0]] != s.Value.Of {
				t.Errorf("%s/%s wants a figure of %s, but %s has one of %q", p.ID, s.ID, s.Value.Of, s.Calls[0], quantity[s.Calls[0]])
			}
		}
	}
}

// reference is how a source is named: the task of the airman certification
// standards, a chapter of a handbook, a paragraph of the information manual, the
// handbook of the airplane, or the plain statement that there is none.
var reference = regexp.MustCompile(`^(FAA-S-ACS-6C, (II|III|IV|V|VI|VII|IX|XII)\.[A-N]( S\d+)?( \(|;)|FAA-H-8083-(3|25)C, chapter \d+ \(|AIM \d-\d-\d+( [a-z])?( and \d-\d-\d+)? \(|POH$|common practice, no source$)`)

// A source is a document with its part, or the plain statement that there is none.
func TestEveryStepSaysWhereItIsFrom(t *testing.T) {
	procs, err := library.Procedures()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range procs {
		for _, s := range p.Steps() {
			if !reference.MatchString(s.Reference) {
				t.Errorf("%s/%s: %q", p.ID, s.ID, s.Reference)
			}
			if s.Teach == "" && !s.Optional {
				t.Errorf("%s/%s teaches nothing", p.ID, s.ID)
			}
		}
	}
}

// The speed that is flown lies a few knots above where the warning sounds, and
// all figures are of a kind one finds in such an airplane (common practice, no
// source).
func TestTheTrainerMakesSense(t *testing.T) {
	ac, err := library.DefaultAircraft()
	if err != nil {
		t.Fatal(err)
	}
	fact := func(name string) float64 {
		v, ok := ac.Facts[name].Value.(float64)
		if !ok {
			t.Errorf("%s is no number", name)
		}
		return v
	}
	for _, c := range []string{"", "_landing"} {
		if d := fact("slow_flight_speed"+c) - fact("stall_warning_speed"+c); d < 3 || d > 10 {
			t.Errorf("%v kt between warning and speed%s", d, c)
		}
	}
	if fact("entry_power") < 1700 || fact("entry_power") > 1800 || fact("cruise_power") < 2200 {
		t.Error("power settings are off")
	}
}

func TestAnUnknownIDNamesTheKnownOnes(t *testing.T) {
	for _, c := range []struct {
		says, id, want string
		get            func(string) error
	}{
		{"a procedure mistyped", "slow-flight-claen", `did you mean "slow-flight-clean"?`, getProcedure},
		{"a procedure there is none like", "cross-country", "known are after-landing, before-takeoff, clearing-turns", getProcedure},
		{"an aircraft mistyped", "trianer", `did you mean "trainer"?`, getAircraft},
	} {
		err := c.get(c.id)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", c.says, err)
		}
	}
	if _, err := library.Source("nothing"); err == nil {
		t.Error("a source of nothing")
	}
}

func getProcedure(id string) error { _, err := library.Procedure(id); return err }
func getAircraft(id string) error  { _, err := library.Aircraft(id); return err }
