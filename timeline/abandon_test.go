package timeline_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/rulestest"
	"sidetone/timeline"
)

// told lists maneuvers, those given up with a dash and the second.
func told(found []rules.Assessment) []string {
	out := []string{}
	for _, a := range found {
		s := a.Procedure
		if a.Abandoned != nil {
			s += fmt.Sprintf(" - %.0f", a.Abandoned.At)
		}
		out = append(out, s)
	}
	return out
}

// begun is a perfect lesson of a plan as far as some required steps.
func begun(p *rules.Plan, start float64, required int) rulestest.Lesson {
	l, steps := rulestest.Perfect(p, start)
	for i, id := range steps {
		if optional(p, id) {
			continue
		}
		if required--; required == 0 {
			return l[:i+1]
		}
	}
	return l
}

func optional(p *rules.Plan, step string) bool {
	return slices.ContainsFunc(p.Procedure.Steps(), func(s *rules.Step) bool { return s.ID == step && s.Optional })
}

func uttered(id string, at float64, stance callouts.Stance) rulestest.Lesson {
	c := rulestest.Call(id, at)
	c.Stance = stance
	return rulestest.Lesson{c}
}

func TestAttemptsThatAreGivenUp(t *testing.T) {
	plans := wholeLibrary(t)["trainer"]
	stall, steep, clean := planOf(t, plans, "power-off-stall"), planOf(t, plans, "steep-turns"), planOf(t, plans, "slow-flight-clean")
	landing := planOf(t, plans, "slow-flight-landing")
	whole := func(p *rules.Plan, at float64) rulestest.Lesson { l, _ := rulestest.Perfect(p, at); return l }
	without := func(p *rules.Plan, at float64, steps ...string) rulestest.Lesson {
		var out rulestest.Lesson
		l, ids := rulestest.Perfect(p, at)
		for i, c := range l {
			if !slices.Contains(steps, ids[i]) {
				out = append(out, c)
			}
		}
		return out
	}
	reject := planOf(t, plans, "rejected-takeoff")
	endOf := func(l rulestest.Lesson) float64 { return l[len(l)-1].End }
	stop, again := callouts.Done, callouts.Announced
	for _, c := range []struct {
		says   string
		lesson rulestest.Lesson
		named  string
		want   []string
	}{
		{"with words, and not flown again", lesson(begun(clean, 0, 4), uttered("discontinue", 60, stop)), "", []string{"slow-flight-clean - 60"}},
		{"with words, and flown again", lesson(begun(stall, 0, 4), uttered("do-again", 60, again), whole(stall, 100)), "",
			[]string{"power-off-stall - 60", "power-off-stall"}},
		{"with words that are only talked about", lesson(begun(stall, 0, 4), uttered("discontinue", 60, callouts.TalkedAbout)), "", nil},
		{"with words that come a minute later", lesson(begun(stall, 0, 4), uttered("discontinue", 130, stop)), "", nil},
		{"without words, and flown again", lesson(begun(stall, 0, 4), whole(stall, 100)), "",
			[]string{fmt.Sprintf("power-off-stall - %.0f", endOf(begun(stall, 0, 4))), "power-off-stall"}},
		{"without words, and flown again an hour later", lesson(begun(stall, 0, 4), whole(stall, 3600)), "", []string{"power-off-stall"}},
		{"without words, and another one flown", lesson(begun(stall, 0, 4), whole(steep, 100)), "", []string{"steep-turns"}},
		{"twice, and flown then", lesson(begun(clean, 0, 3), uttered("do-again", 45, again), begun(clean, 70, 3), uttered("do-again", 115, again), whole(clean, 140)), "",
			[]string{"slow-flight-clean - 45", "slow-flight-clean - 115", "slow-flight-clean"}},
		{"without words, but it was named", begun(stall, 20, 4), "power-off-stall", []string{fmt.Sprintf("power-off-stall - %.0f", endOf(begun(stall, 20, 4)))}},
		{"another one was named", begun(stall, 20, 4), "steep-turns", nil},
		{"after two calls, without words", begun(stall, 20, 2), "power-off-stall", nil},

		{"not an approach to land, which begins like slow flight", approach(0), "", nil},
		{"not an approach that is called off", lesson(approach(0), rulestest.Lesson{rulestest.Call("going-around", 60)}), "", nil},
		{"not a maneuver that is flown again", lesson(whole(stall, 0), uttered("do-again", 190, again), whole(stall, 220)), "", []string{"power-off-stall", "power-off-stall"}},
		{"not one in which such words fall", lesson(whole(stall, 0), uttered("discontinue", 40, stop)), "", []string{"power-off-stall"}},
		{"not a take-off that is rejected with other words first", lesson(whole(reject, 300), uttered("discontinue", 312, stop), uttered("discontinue", 312, stop)), "", []string{"rejected-takeoff"}},
		{"not one whose last three calls are missing", lesson(without(landing, 0, "flaps-up", "cruise-power", "trim-cruise"), uttered("discontinue", 110, stop)), "", []string{"slow-flight-landing"}},
		{"not one whose middle is missing, flown again",
			lesson(without(stall, 0, "power-idle", "nose-up", "stall-warning", "full-stall", "recover"), whole(stall, 250)), "", []string{"power-off-stall", "power-off-stall"}},
		{"not one whose middle is missing, with words at its end",
			lesson(without(clean, 0, "nose-up", "airspeed", "trim"), uttered("discontinue", 90, stop)), "", []string{"slow-flight-clean"}},
		{"not one whose middle is missing that was named",
			without(clean, 20, "nose-up", "airspeed", "trim"), "slow-flight-clean", []string{"slow-flight-clean"}},
	} {
		t.Run(c.says, func(t *testing.T) {
			l := timeline.Lesson{Calls: c.lesson}
			if c.named != "" {
				l.Names = []timeline.Naming{{Procedures: []string{c.named}, At: 5}}
			}
			if got := told(l.Find(plans)); !slices.Equal(got, append([]string{}, c.want...)) {
				t.Errorf("told %q, want %q", got, c.want)
			}
		})
	}
}

func TestAnAttemptGivenUpTellsHowItIsKnown(t *testing.T) {
	plans := wholeLibrary(t)["trainer"]
	clean := planOf(t, plans, "slow-flight-clean")
	whole, _ := rulestest.Perfect(clean, 100)
	short := begun(clean, 0, 3)
	words := uttered("discontinue", 60, callouts.Done)
	words[0].Heard = "Knock it off."
	for _, c := range []struct {
		says   string
		lesson timeline.Lesson
		want   string
	}{
		{"by words", timeline.Lesson{Calls: lesson(short, words, whole)}, `Abandoned at 1:00 with "Knock it off", after nose up at 0:36: 3 of 9 calls were heard.`},
		{"by the new attempt", timeline.Lesson{Calls: lesson(short, whole)}, `Abandoned, after nose up at 0:36, and begun afresh at 1:40: 3 of 9 calls were heard.`},
		{"by its name", timeline.Lesson{Calls: short, Names: []timeline.Naming{{Procedures: []string{"slow-flight-clean"}}}}, `Abandoned, after nose up at 0:36: 3 of 9 calls were heard, and none of the 6 after it.`},
	} {
		found := c.lesson.Find(plans)
		if len(found) == 0 || found[0].Abandoned == nil {
			t.Errorf("%s: %q", c.says, told(found))
			continue
		}
		a := found[0]
		if a.Abandoned.Reason != c.want {
			t.Errorf("%s: %q, want %q", c.says, a.Abandoned.Reason, c.want)
		}
		if len(a.Findings) > 0 {
			t.Errorf("%s: told %+v", c.says, a.Findings)
		}
		for i, s := range a.Steps {
			switch {
			case i < 8 && s.Call == nil && s.Verdict != rules.NotApplicable:
				t.Errorf("%s: %+v", c.says, s)
			case i >= 8 && (s.Verdict != rules.NotApplicable || s.Waived != rules.NotReached && s.ID != "nose-down"):
				t.Errorf("%s: %s is %s, %q", c.says, s.ID, s.Verdict, s.Waived)
			}
		}
	}
}

// What was called wrongly before an attempt was given up is told.
func TestAFaultOfAnAttemptGivenUpIsTold(t *testing.T) {
	plans := wholeLibrary(t)["trainer"]
	clean := planOf(t, plans, "slow-flight-clean")
	l := begun(clean, 0, 5) // as far as trim
	at := l[len(l)-1].End + 3
	l = append(l, rulestest.Call("stall-warning", at))
	found := timeline.Lesson{Calls: lesson(l, uttered("discontinue", at+4, callouts.Done))}.Find(plans)
	if len(found) != 1 || found[0].Abandoned == nil {
		t.Fatalf("%q", told(found))
	}
	for _, f := range found[0].Findings {
		t.Logf("%s %s %s", f.Step, f.Kind, f.Message)
	}
	if f := found[0].Findings; len(f) != 1 || f[0].Step != "no-stall-warning" {
		t.Errorf("%+v", f)
	}
}

// However words that give an attempt up, a name, or a new attempt fall beside it, a
// complete attempt stays one.
func TestACompleteAttemptIsNeverGivenUp(t *testing.T) {
	fleet := wholeLibrary(t)
	rapid.Check(t, func(t *rapid.T) {
		plans := fleet[rapid.SampledFrom([]string{"trainer", "complex"}).Draw(t, "aircraft")]
		p := rapid.SampledFrom(plans).Draw(t, "plan")
		l, _ := rulestest.Perfect(p, 300)
		last := l[len(l)-1].End
		for range rapid.IntRange(0, 3).Draw(t, "words") {
			at := rapid.Float64Range(280, last+40).Draw(t, "at")
			stance := rapid.SampledFrom([]callouts.Stance{callouts.Done, callouts.Ordered, callouts.Announced}).Draw(t, "stance")
			l = lesson(l, uttered(rapid.SampledFrom([]string{"discontinue", "do-again"}).Draw(t, "word"), at, stance))
		}
		want := []string{p.Procedure.ID}
		if rapid.Bool().Draw(t, "again") {
			more, _ := rulestest.Perfect(p, last+60)
			l = lesson(l, more)
			want = append(want, p.Procedure.ID)
		}
		named := timeline.Lesson{Calls: l}
		if rapid.Bool().Draw(t, "named") {
			named.Names = []timeline.Naming{{Procedures: []string{p.Procedure.ID}, At: 290}}
		}
		if got := told(named.Find(plans)); !slices.Equal(got, want) {
			t.Fatalf("%s, %s: told %q", p.Aircraft.ID, p.Procedure.ID, got)
		}
		if got := told(named.Attempts(p)); !slices.Equal(got, want) {
			t.Fatalf("%s, %s asked for: told %q", p.Aircraft.ID, p.Procedure.ID, got)
		}
	})
}

// same are callouts of which steps take the one for the other.
var same = map[string]string{"clear-left": "clear-right", "clear-right": "clear-left"}

// An attempt whose last calls or whose middle are missing is never told as given up,
// whatever is said after it.
func TestAnIncompleteAttemptIsNotGivenUp(t *testing.T) {
	fleet := wholeLibrary(t)
	rapid.Check(t, func(t *rapid.T) {
		plans := fleet[rapid.SampledFrom([]string{"trainer", "complex"}).Draw(t, "aircraft")]
		p := rapid.SampledFrom(plans).Draw(t, "plan")
		l, steps := rulestest.Perfect(p, 300)
		var required []int
		for i, id := range steps {
			if !optional(p, id) {
				required = append(required, i)
			}
		}
		n := len(required)
		from, to := n-rapid.IntRange(1, min(2, n-1)).Draw(t, "last"), n
		if rapid.Bool().Draw(t, "middle") {
			from = rapid.IntRange(1, n-1).Draw(t, "from")
			to = rapid.IntRange(from, max(from, n-2)).Draw(t, "to")
		}
		var gap rulestest.Lesson
		before := map[string]bool{} // the calls of the steps up to the end of the gap
		for i, c := range l {
			k := slices.Index(required, i)
			if k < from || k >= to {
				gap = append(gap, c)
			}
			if k < to {
				before[c.ID] = true
			}
		}
		// Where what comes after the gap could be of those steps, but for a call, nobody
		// could tell: one steep turn of two.
		telling := 0
		for _, i := range required[to:] {
			if !before[l[i].ID] && !before[same[l[i].ID]] {
				telling++
			}
		}
		if to < n && telling < 2 {
			t.Skip("nobody could tell")
		}
		if rapid.Bool().Draw(t, "words") {
			gap = lesson(gap, uttered("discontinue", l[len(l)-1].End+5, callouts.Done))
		}
		named := timeline.Lesson{Calls: gap}
		if rapid.Bool().Draw(t, "named") {
			named.Names = []timeline.Naming{{Procedures: []string{p.Procedure.ID}, At: 290}}
		}
		for _, got := range [][]string{told(named.Find(plans)), told(named.Attempts(p))} {
			if strings.Contains(strings.Join(got, " "), " - ") {
				t.Fatalf("%s, %s without required steps %d to %d of %d: told %q", p.Aircraft.ID, p.Procedure.ID, from+1, to, n, got)
			}
		}
	})
}
