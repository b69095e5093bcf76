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
var reference = regexp.MustCompile(`^(FAA-S-ACS-6C, (II|III|IV|V|VI|VII|IX|XII)\.[A-N]( [SR]\d+)?( \(|;)|FAA-H-8083-(3|25)C, chapter \d+ \(|AIM \d-\d-\d+( [a-z])?( and \d-\d-\d+)? \(|POH$|common practice, no source$)`)

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
			if s.Teach != "" && (!strings.HasSuffix(s.Teach, ".") || strings.Contains(s.Teach, ". ")) {
				t.Errorf("%s/%s teaches more or less than a sentence: %q", p.ID, s.ID, s.Teach)
			}
		}
		for _, h := range p.Holds {
			if !reference.MatchString(h.Reference) || h.Teach == "" {
				t.Errorf("%s/%s: %q %q", p.ID, h.ID, h.Reference, h.Teach)
			}
		}
		for _, n := range p.Nevers {
			if !reference.MatchString(n.Reference) || n.Teach == "" {
				t.Errorf("%s/%s: %q %q", p.ID, n.ID, n.Reference, n.Teach)
			}
		}
	}
}

// The speed that is flown lies a few knots above where the warning sounds, and
// all figures are of a kind one finds in such airplanes (common practice, no
// source).
func TestTheAircraftMakeSense(t *testing.T) {
	fleet, err := library.AllAircraft()
	if err != nil {
		t.Fatal(err)
	}
	for _, ac := range fleet {
		fact := func(name string) float64 {
			v, ok := ac.Facts[name].Value.(float64)
			if !ok {
				t.Errorf("%s: %s is no number", ac.ID, name)
			}
			return v
		}
		for _, c := range []string{"", "_landing"} {
			if d := fact("slow_flight_speed"+c) - fact("stall_warning_speed"+c); d < 3 || d > 10 {
				t.Errorf("%s: %v kt between warning and speed%s", ac.ID, d, c)
			}
		}
		// From the slowest to the fastest.
		speeds := []string{"stall_warning_speed_landing", "stall_warning_speed", "best_glide_speed", "best_climb_speed", "maneuvering_speed", "emergency_descent_speed"}
		for i := range len(speeds) - 1 {
			if fact(speeds[i]) >= fact(speeds[i+1]) {
				t.Errorf("%s: %s is no more than %s", ac.ID, speeds[i+1], speeds[i])
			}
		}
		if fact("cruise_power") < 2200 || fact("cruise_power") > 2500 || fact("runup_power") < 1700 || fact("runup_power") > 2200 {
			t.Errorf("%s: power settings are off", ac.ID)
		}
		if ac.Facts["constant_speed_propeller"].Value == false && (fact("entry_power") < 1700 || fact("entry_power") > 1800) {
			t.Errorf("%s: power settings are off", ac.ID)
		}
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
