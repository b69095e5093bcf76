package timeline_test

import (
	"cmp"
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/rulestest"
	"sidetone/timeline"
)

// plans are the procedures of fleet made out for the aircraft, by their ids.
func plans(t testing.TB) map[string]*rules.Plan {
	t.Helper()
	out := map[string]*rules.Plan{}
	for _, p := range wholeLibrary(t)["trainer"] {
		if p.Procedure.ID == "slow-flight-clean" || p.Procedure.ID == "slow-flight-landing" {
			out[p.Procedure.ID] = p
		}
	}
	return out
}

// fleet is the two slow flights, which are hard to tell apart; library_test.go has
// the whole library.
func fleet(t testing.TB) (*rules.Aircraft, []*rules.Procedure) {
	t.Helper()
	two := plans(t)
	clean, landing := two["slow-flight-clean"], two["slow-flight-landing"]
	return clean.Aircraft, []*rules.Procedure{clean.Procedure, landing.Procedure}
}

// lesson puts calls in order of time.
func lesson(parts ...rulestest.Lesson) rulestest.Lesson {
	var l rulestest.Lesson
	for _, p := range parts {
		l = append(l, p...)
	}
	slices.SortStableFunc(l, func(a, b callouts.Call) int { return cmp.Compare(a.Start, b.Start) })
	return l
}

// flown is a perfect lesson of a procedure without the named steps.
func flown(t testing.TB, id string, start float64, without ...string) rulestest.Lesson {
	l, steps := rulestest.Perfect(plans(t)[id], start)
	var out rulestest.Lesson
	for i, c := range l {
		if !slices.Contains(without, steps[i]) {
			out = append(out, c)
		}
	}
	return out
}

// chatter is what is called on any flight, with no maneuver in it.
func chatter(start float64) rulestest.Lesson {
	with := rulestest.With
	call := rulestest.Call
	return rulestest.Lesson{
		call("lights-on", start), call("full-power", start+10), call("gauges-green", start+13),
		call("airspeed-alive", start+15), with(call("airspeed", start+20), callouts.Airspeed, 55),
		call("positive-rate", start+26), call("flaps-up", start+40),
		with(call("altitude", start+70), callouts.Altitude, 1500), with(call("heading", start+90), callouts.Heading, 270),
		call("trim-set", start+120), call("controls-yours", start+130), call("controls-mine", start+132),
		with(call("altitude", start+150), callouts.Altitude, 3500), call("cruise-power", start+155), call("straight-and-level", start+160),
	}
}

// approach is an approach to land with full flap.
func approach(start float64) rulestest.Lesson {
	l := rulestest.Lesson{rulestest.Call("gauges-green", start), rulestest.Call("carb-heat-on", start+4), rulestest.Call("power-back", start+8)}
	for i, f := range []float64{10, 20, 30} {
		l = append(l, rulestest.With(rulestest.Call("flaps", start+15+10*float64(i)), callouts.Flaps, f))
	}
	return append(l, rulestest.With(rulestest.Call("airspeed", start+40), callouts.Airspeed, 65), rulestest.Call("trim-set", start+44))
}

func find(t testing.TB, l rulestest.Lesson) []rules.Assessment {
	t.Helper()
	ac, procs := fleet(t)
	found, err := timeline.Find(&timeline.Lesson{Calls: l}, procs, ac)
	if err != nil {
		t.Fatal(err)
	}
	return found
}

func names(found []rules.Assessment) []string {
	out := []string{}
	for _, a := range found {
		out = append(out, a.Procedure)
	}
	return out
}

func TestWhatIsFoundInALesson(t *testing.T) {
	const clean, landing = "slow-flight-clean", "slow-flight-landing"
	for _, c := range []struct {
		says   string
		lesson rulestest.Lesson
		want   []string
	}{
		{"nothing in a lesson without calls", nil, nil},
		{"nothing in a take-off, a climb and a cruise", chatter(0), nil},
		{"nothing in three flights one after another", lesson(chatter(0), chatter(300), chatter(600)), nil},
		{"the clean one", flown(t, clean, 60), []string{clean}},
		{"the one in landing configuration", flown(t, landing, 60), []string{landing}},
		{"both, in a flight", lesson(chatter(0), flown(t, clean, 300), chatter(600), flown(t, landing, 900)), []string{clean, landing}},
		{"both, with hardly a pause between", lesson(flown(t, landing, 0), flown(t, clean, 140)), []string{landing, clean}},
		{"the same one three times", lesson(flown(t, clean, 0), flown(t, clean, 150), flown(t, clean, 300)), []string{clean, clean, clean}},
		{"one without its carb heat cold and its last trim", flown(t, clean, 0, "carb-heat-cold", "trim-cruise"), []string{clean}},
		{"one begun without carb heat", flown(t, clean, 0, "carb-heat-on"), []string{clean}},
		{"one in landing configuration of which a third is not heard",
			flown(t, landing, 0, "power-back", "flaps-second", "trim", "positive-rate", "carb-heat-cold"), []string{landing}},
		{"one in landing configuration of which three flap calls are heard",
			flown(t, landing, 0, "flaps-second", "flaps-third", "flaps-to-second", "positive-rate"), []string{landing}},
		{"nothing where only the recovery is heard",
			flown(t, clean, 0, "carb-heat-on", "power-back", "nose-up", "airspeed", "trim"), nil},
		{"nothing in an approach to land", approach(0), nil},
		{"nothing in a touch-and-go", lesson(approach(0), chatter(120)), nil},
		{"nothing in a go-around", lesson(approach(0), rulestest.Lesson{rulestest.Call("going-around", 60)}, flown(t, landing, 0)[12:]), nil},
		{"the one before the approach that ends the lesson", lesson(flown(t, clean, 0), approach(200)), []string{clean}},
		{"nothing in two calls of a procedure", flown(t, clean, 0, "power-back", "airspeed", "trim", "full-power", "carb-heat-cold", "cruise-power", "trim-cruise"), nil},
	} {
		t.Run(c.says, func(t *testing.T) {
			if got := names(find(t, c.lesson)); !slices.Equal(got, append([]string{}, c.want...)) {
				t.Errorf("found %q, want %q", got, c.want)
			}
		})
	}
}

// held is a lesson in which the slow flight is held for some minutes between
// entry and recovery.
func held(t *testing.T, id string, minutes float64) rulestest.Lesson {
	l, steps := rulestest.Perfect(plans(t)[id], 60)
	at := slices.Index(steps, "full-power")
	for i := at; i < len(l); i++ {
		l[i].Start += 60 * minutes
		l[i].End += 60 * minutes
	}
	return l
}

func TestSlowFlightIsHeldForMinutes(t *testing.T) {
	for _, minutes := range []float64{1, 5, 10} {
		for _, id := range []string{"slow-flight-clean", "slow-flight-landing"} {
			found := find(t, held(t, id, minutes))
			if got := names(found); !slices.Equal(got, []string{id}) {
				t.Errorf("held %v minutes: found %q", minutes, got)
			} else if len(found[0].Findings) > 0 {
				t.Errorf("held %v minutes: told %+v", minutes, found[0].Findings)
			}
		}
	}
}

// Every single call left out, or moved to before any other: the maneuver is
// still found, and as the one it is.
func TestAManeuverWithAFaultIsStillFound(t *testing.T) {
	var bound []*rules.Plan
	for _, pl := range plans(t) {
		bound = append(bound, pl)
	}
	find := func(_ testing.TB, l rulestest.Lesson) []rules.Assessment { return timeline.FindPlans(l, bound) }
	for id, pl := range plans(t) {
		l, steps := rulestest.Perfect(pl, 200)
		around := func(m rulestest.Lesson) rulestest.Lesson { return lesson(chatter(0), m, chatter(600)) }
		for i := range l {
			if got := names(find(t, around(l.Without(i)))); !slices.Equal(got, []string{id}) {
				t.Errorf("without %s: found %q, want %q", steps[i], got, id)
			}
			for k := range i {
				if got := names(find(t, around(l.Moved(i, k)))); !slices.Equal(got, []string{id}) {
					t.Errorf("%s before %s: found %q, want %q", steps[i], steps[k], got, id)
				}
			}
		}
	}
}

func TestFaultsAreToldWithTheCallsOfTheLesson(t *testing.T) {
	clean, landing := flown(t, "slow-flight-clean", 200, "carb-heat-cold"), flown(t, "slow-flight-landing", 400)
	up := slices.IndexFunc(landing, func(c callouts.Call) bool { return c.ID == "flaps-up" })
	rate := slices.IndexFunc(landing, func(c callouts.Call) bool { return c.ID == "positive-rate" })
	l := lesson(chatter(0), clean, landing.Moved(up, rate), chatter(700))
	found := find(t, l)
	if len(found) != 2 {
		t.Fatalf("found %q", names(found))
	}
	var told []string
	for _, a := range found {
		for _, f := range a.Findings {
			told = append(told, fmt.Sprintf("%s: %s %s", a.Procedure, f.Step, f.Kind))
		}
		for _, s := range a.Steps {
			if s.Call != nil && l[*s.Call].Start != *s.At {
				t.Errorf("%s rests on call %d, which is at another time", s.ID, *s.Call)
			}
			if s.Call != nil && (*s.At < a.Start || *s.At > a.End) {
				t.Errorf("%s lies outside of its maneuver", s.ID)
			}
		}
	}
	want := []string{"slow-flight-clean: carb-heat-cold not-heard", "slow-flight-landing: flaps-up out-of-order"}
	if !slices.Equal(told, want) {
		t.Errorf("told %q, want %q", told, want)
	}
}

func TestTheProcedureTheUserNames(t *testing.T) {
	plan := plans(t)["slow-flight-clean"]
	with, call := rulestest.With, rulestest.Call
	for _, c := range []struct {
		says   string
		lesson rulestest.Lesson
		want   int
	}{
		{"is not judged when none of it is heard", rulestest.Lesson{call("flaps-up", 5), call("gear-up", 9)}, 0},
		{"is not judged in a lesson without calls", nil, 0},
		{"is judged on a single call", lesson(rulestest.Lesson{call("carb-heat-on", 50), call("flaps-up", 300)}), 1},
		{"is judged on little", rulestest.Lesson{call("power-back", 50), with(call("airspeed", 60), callouts.Airspeed, 68)}, 1},
		{"is judged once when flown once", lesson(chatter(0), flown(t, "slow-flight-clean", 300)), 1},
		{"is judged twice when flown twice", lesson(flown(t, "slow-flight-clean", 0), chatter(200), flown(t, "slow-flight-clean", 500)), 2},
	} {
		t.Run(c.says, func(t *testing.T) {
			found := timeline.Lesson{Calls: c.lesson}.Attempts(plan)
			if len(found) != c.want {
				t.Fatalf("found %d, want %d", len(found), c.want)
			}
			for _, a := range found {
				if !slices.ContainsFunc(a.Steps, func(s rules.StepResult) bool { return s.Call != nil }) {
					t.Error("judged on nothing")
				}
			}
		})
	}
}

// However calls are strewn, what is found does not overlap, is in order, and
// every call of it is its own.
func TestWhatIsFoundNeverOverlaps(t *testing.T) {
	var ids []string
	var bound []*rules.Plan
	_, procs := fleet(t)
	for _, p := range procs {
		pl := plans(t)[p.ID]
		ids, bound = append(ids, pl.Procedure.Callouts()...), append(bound, pl)
	}
	rapid.Check(t, func(t *rapid.T) {
		var l rulestest.Lesson
		at := 0.0
		for range rapid.IntRange(0, 60).Draw(t, "calls") {
			at += float64(rapid.IntRange(1, 20).Draw(t, "gap"))
			c := rulestest.Call(rapid.SampledFrom(ids).Draw(t, "id"), at)
			if c.ID == "flaps" {
				c = rulestest.With(c, callouts.Flaps, float64(10*rapid.IntRange(1, 3).Draw(t, "flaps")))
			}
			l = append(l, c)
		}
		last := -1
		for _, a := range timeline.FindPlans(l, bound) {
			before := last
			for _, s := range a.Steps {
				if s.Call == nil {
					continue
				}
				if *s.Call <= before {
					t.Fatalf("%s uses call %d, but the maneuver before it goes to %d", a.Procedure, *s.Call, before)
				}
				last = max(last, *s.Call)
			}
		}
	})
}

// BenchmarkFind is a two-hour lesson of 2,000 calls against 20 procedures, some
// maneuvers among chatter.
func BenchmarkFind(b *testing.B) {
	ac, procs := fleet(b)
	for len(procs) < 20 {
		procs = append(procs, procs[len(procs)%2])
	}
	var l rulestest.Lesson
	for i := 0; len(l) < 2000; i++ {
		start := 0.0
		if len(l) > 0 {
			start = l[len(l)-1].End + 20
		}
		switch i % 4 {
		case 0:
			l = append(l, flown(b, "slow-flight-clean", start)...)
		case 2:
			l = append(l, flown(b, "slow-flight-landing", start)...)
		default:
			l = append(l, chatter(start)...)
		}
	}
	b.Run("with binding", func(b *testing.B) {
		for b.Loop() {
			if _, err := timeline.Find(&timeline.Lesson{Calls: l}, procs, ac); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("bound", func(b *testing.B) {
		var bound []*rules.Plan
		for _, p := range procs {
			pl, err := rules.Bind(p, ac)
			if err != nil {
				b.Fatal(err)
			}
			bound = append(bound, pl)
		}
		b.ReportMetric(float64(len(l)), "calls")
		for b.Loop() {
			timeline.FindPlans(l, bound)
		}
	})
}

// Who is told that the engine has failed, and sets the fuel before the speed, is late with
// the speed: the cue counts though nothing that is asked for follows it for long.
func TestACueLongBeforeTheFirstStepBelongsToTheManeuver(t *testing.T) {
	var plan *rules.Plan
	for _, p := range wholeLibrary(t)["trainer"] {
		if p.Procedure.ID == "engine-failure" {
			plan = p
		}
	}
	l, steps := rulestest.Perfect(plan, 200)
	glide := l[slices.Index(steps, "best-glide")].Start
	for _, c := range []struct {
		step   string
		before float64 // seconds before best glide
	}{{"engine-failure", 50}, {"fuel", 25}} {
		i := slices.Index(steps, c.step)
		l[i].Start, l[i].End = glide-c.before, glide-c.before+1
	}
	found := timeline.FindPlans(lesson(l), []*rules.Plan{plan})
	if len(found) != 1 {
		t.Fatalf("found %q", names(found))
	}
	want := map[string]rules.Verdict{"engine-failure": rules.Heard, "best-glide": rules.Late, "fuel": rules.OutOfOrder}
	for _, r := range found[0].Steps {
		if v, ok := want[r.ID]; ok && r.Verdict != v {
			t.Errorf("%s is %s, want %s: %s", r.ID, r.Verdict, v, r.Reason)
		}
	}
}
