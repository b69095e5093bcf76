package timeline_test

import (
	"slices"
	"testing"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/rulestest"
	"sidetone/timeline"
)

// Too little of it was heard to tell the maneuver, but what else was said speaks for it.
func TestHintsSpeakForAManeuver(t *testing.T) {
	plans := wholeLibrary(t)["trainer"]
	l, steps := rulestest.Perfect(planOf(t, plans, "slow-flight-landing"), 100)
	var heard, hints rulestest.Lesson
	for i, c := range l {
		if slices.Contains([]string{"carb-heat-on", "power-back", "full-power", "cruise-power"}, steps[i]) {
			heard = append(heard, c)
			continue
		}
		c.Perhaps = true
		hints = append(hints, c)
	}
	at := func(p float64) rulestest.Lesson {
		out := slices.Clone(hints)
		for i := range out {
			out[i].Confidence = p
		}
		return out
	}
	for _, c := range []struct {
		says   string
		lesson timeline.Lesson
		want   []string
	}{
		{"without them", timeline.Lesson{Calls: heard}, nil},
		{"with them", timeline.Lesson{Calls: heard, Hints: at(0.4)}, []string{"slow-flight-landing"}},
		{"when they are next to nothing", timeline.Lesson{Calls: heard, Hints: at(0.001)}, nil},
		{"alone", timeline.Lesson{Hints: at(0.4)}, nil},
	} {
		if got := names(c.lesson.Find(plans)); !slices.Equal(got, append([]string{}, c.want...)) {
			t.Errorf("%s: found %q, want %q", c.says, got, c.want)
		}
	}
}

// Where one of two turns alike was heard, either may be the one that was not: hints at
// the other tell that both were flown.
func TestAManeuverMayEndInHints(t *testing.T) {
	plans := wholeLibrary(t)["trainer"]
	l, steps := rulestest.Perfect(planOf(t, plans, "steep-turns"), 100)
	at := func(id string) int { return slices.Index(steps, id) }
	first, hints := slices.Clone(l[at("clear-first"):at("clear-second")]), slices.Clone(l[at("clear-second"):])
	for i := range hints {
		hints[i].Confidence, hints[i].Perhaps = 0.4, true
	}
	later := rulestest.Lesson{rulestest.Call("flaps-up", l[len(l)-1].End+90)}
	for _, c := range []struct {
		says  string
		heard rulestest.Lesson
		hints []callouts.Call
		want  []string
	}{
		{"only the first turn was heard", first, nil, nil},
		{"the second turn was perhaps called", first, hints, []string{"steep-turns"}},
		{"and long after that something else was", lesson(first, later), hints, []string{"steep-turns"}},
	} {
		heard := timeline.Lesson{Calls: slices.Clone(c.heard), Hints: c.hints}
		if got := names(heard.Find(plans)); !slices.Equal(got, append([]string{}, c.want...)) {
			t.Errorf("%s: found %q, want %q", c.says, got, c.want)
		}
	}
}

func TestAHintThatAProcedureExpectsBecomesACall(t *testing.T) {
	l, steps := rulestest.Perfect(plans(t)["slow-flight-clean"], 100)
	trim := slices.Index(steps, "trim")
	hint := l[trim]
	hint.Confidence, hint.Perhaps, hint.Heard = 0.4, true, "wheel back a touch"
	talked := hint
	talked.Stance, talked.Confidence, talked.Perhaps = callouts.TalkedAbout, 0.9, false
	for _, c := range []struct {
		says  string
		calls rulestest.Lesson
		radio []bool
	}{
		{"that was not told", l.Without(trim), make([]bool, len(l)-1)},
		{"that was told as talked about", lesson(l.Without(trim), rulestest.Lesson{talked}), make([]bool, len(l))},
		{"in a lesson of which nobody knows what was said on the radio", lesson(l.Without(trim), rulestest.Lesson{talked}), nil},
	} {
		heard := timeline.Lesson{Calls: slices.Clone(c.calls), Radio: c.radio, Hints: []callouts.Call{hint}}
		ac, procs := fleet(t)
		found, err := timeline.Find(&heard, procs, ac)
		if err != nil || len(found) != 1 {
			t.Fatalf("%s: found %q, %v", c.says, names(found), err)
		}
		for _, s := range found[0].Steps {
			if s.ID != "trim" {
				continue
			}
			if s.Verdict != rules.Heard || s.Call == nil || !heard.Calls[*s.Call].Expected || heard.Calls[*s.Call].Perhaps {
				t.Errorf("%s: trim is %s: %s", c.says, s.Verdict, s.Reason)
			}
			if want := `Heard at ` + rules.Clock(hint.Start) + `, as it seems, in "wheel back a touch".`; s.Reason != want {
				t.Errorf("%s: %q, want %q", c.says, s.Reason, want)
			}
		}
		if len(heard.Calls) != len(l) {
			t.Errorf("%s: %d calls are left, want %d", c.says, len(heard.Calls), len(l))
		}
	}
}
