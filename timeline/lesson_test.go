package timeline_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/rulestest"
	"sidetone/timeline"
)

// radioed is a lesson in which the calls at some seconds were made on the radio.
func radioed(l rulestest.Lesson, at ...float64) timeline.Lesson {
	out := timeline.Lesson{Calls: l, Radio: make([]bool, len(l))}
	for i, c := range l {
		out.Radio[i] = slices.Contains(at, c.Start)
	}
	return out
}

func TestAnotherAirplaneGoingAroundEndsNoManeuver(t *testing.T) {
	plans := wholeLibrary(t)["trainer"]
	for _, id := range []string{"slow-flight-clean", "steep-turns", "power-off-stall", "climb-cruise", "lost"} {
		p := planOf(t, plans, id)
		l, _ := rulestest.Perfect(p, 100)
		for i := 1; i < len(l); i++ {
			at := l[i-1].End + 1
			heard := lesson(l, rulestest.Lesson{rulestest.Call("going-around", at)})
			// Just before or behind the calls of a recovery it might be our own.
			if slices.ContainsFunc(l, func(c callouts.Call) bool { return c.ID == "full-power" && at-c.Start < 45 && at-c.Start > -12 }) {
				continue
			}
			if got := names(radioed(heard, at).Find(plans)); !slices.Equal(got, []string{id}) {
				t.Errorf("on the radio after call %d of %s: found %q", i, id, got)
			}
		}
		// Who named it is believed to fly it.
		for i := 1; i < len(l); i++ {
			at := l[i-1].End + 1
			heard := radioed(lesson(l, rulestest.Lesson{rulestest.Call("going-around", at)}), at)
			heard.Names = []timeline.Naming{{Procedures: []string{id}, At: 90}}
			if got := names(heard.Find(plans)); !slices.Equal(got, []string{id}) {
				t.Errorf("named, and on the radio after call %d of %s: found %q", i, id, got)
			}
		}
	}
}

func TestGoingAroundOurselvesIsNoSlowFlight(t *testing.T) {
	ps := wholeLibrary(t)["trainer"]
	recovery := flown(t, "slow-flight-landing", 0)[12:]
	start := recovery[0].Start
	for says, at := range map[string]float64{"before the power": start - 3, "after the power and the flaps": start + 14} {
		l := lesson(approach(0), rulestest.Lesson{rulestest.Call("going-around", at)}, recovery)
		if got := names(radioed(l, at).Find(ps)); slices.Contains(got, "slow-flight-landing") {
			t.Errorf("said on the radio %s: found %q", says, got)
		}
		l = lesson(approach(0), rulestest.Lesson{rulestest.Call("going-around", at)}, recovery)
		if got := names(timeline.FindPlans(l, ps)); slices.Contains(got, "slow-flight-landing") {
			t.Errorf("said in the airplane %s: found %q", says, got)
		}
		own := radioed(l, at)
		for i := range own.Calls {
			own.Calls[i].Speaker = "Student"
		}
		if got := names(own.Find(ps)); slices.Contains(got, "slow-flight-landing") {
			t.Errorf("said on the radio by the student %s: found %q", says, got)
		}
	}
}

func TestTheSetUpBelongsToTheManeuver(t *testing.T) {
	plans := wholeLibrary(t)["trainer"]
	clean := planOf(t, plans, "slow-flight-clean")
	heading := rulestest.With(rulestest.Call("heading", 60), callouts.Heading, 270)
	checks := rulestest.Call("pre-maneuver-check", 80)
	bare := flown(t, "slow-flight-clean", 100, "clearing-turns", "pre-maneuver-check", "altitude", "heading", "nose-down")
	first := bare[0].Start
	for _, c := range []struct {
		says   string
		before rulestest.Lesson
		heard  []string // of the optional steps
		start  float64
	}{
		{"heading and checks", rulestest.Lesson{heading, checks}, []string{"pre-maneuver-check", "heading"}, 60},
		{"checks twenty seconds before", rulestest.Lesson{rulestest.Call("pre-maneuver-check", first-22)}, []string{"pre-maneuver-check"}, first - 22},
		{"checks three minutes before", rulestest.Lesson{rulestest.Call("pre-maneuver-check", first-180)}, nil, first},
		{"the nearer of two headings", rulestest.Lesson{heading, rulestest.With(rulestest.Call("heading", first-10), callouts.Heading, 90)}, []string{"heading"}, first - 10},
		{"checks that are asked about", uttered("pre-maneuver-check", first-12, callouts.Asked), nil, first},
		{"checks before a take-off", rulestest.Lesson{rulestest.Call("pre-maneuver-check", first-25), rulestest.Call("airspeed-alive", first-20)}, nil, first},
		{"calls of an entry that was broken off", rulestest.Lesson{rulestest.Call("pre-maneuver-check", first-25), rulestest.Call("full-power", first-20)}, nil, first},
	} {
		t.Run(c.says, func(t *testing.T) {
			found := timeline.FindPlans(lesson(c.before, bare), plans)
			if got := names(found); !slices.Equal(got, []string{"slow-flight-clean"}) {
				t.Fatalf("found %q", got)
			}
			var heard []string
			for i, s := range found[0].Steps {
				if clean.Procedure.Steps()[i].Optional && s.Verdict == rules.Heard {
					heard = append(heard, s.ID)
				}
			}
			if !slices.Equal(heard, c.heard) || math.Abs(found[0].Start-c.start) > 0.01 {
				t.Errorf("heard %q from %v on, want %q from %v", heard, found[0].Start, c.heard, c.start)
			}
			for _, f := range found[0].Findings {
				t.Errorf("told %s: %s", f.Step, f.Message)
			}
		})
	}
}

// A name shortly before speaks for a maneuver of which little is heard, and for no
// other; by itself it is none.
func TestANameHelpsAndIsNotNeeded(t *testing.T) {
	plans := wholeLibrary(t)["trainer"]
	one := flown(t, "slow-flight-clean", 100, "carb-heat-cold", "cruise-power", "trim-cruise", "clearing-turns", "pre-maneuver-check", "altitude", "heading", "nose-down")
	for _, c := range []struct {
		says   string
		lesson rulestest.Lesson
		name   string
		at     float64
		want   []string
	}{
		{"all but the last three calls", one, "", 0, nil},
		{"all but the last three calls, of one that was named", one, "slow-flight-clean", 80, []string{"slow-flight-clean"}},
		{"all but the last three calls, named five minutes before", one.Shifted(300), "slow-flight-clean", 80, nil},
		{"all but the last three calls, named afterwards", one, "slow-flight-clean", 200, nil},
		{"all but the last three calls, with another name", one, "steep-turns", 80, nil},
		{"a whole one with another name", flown(t, "slow-flight-clean", 100), "steep-turns", 80, []string{"slow-flight-clean"}},
		{"nothing but a name", nil, "slow-flight-clean", 80, nil},
		{"a name and talk", ordinary(rand.New(rand.NewPCG(1, 1)), 80, 600), "slow-flight-clean", 80, nil},
	} {
		t.Run(c.says, func(t *testing.T) {
			l := timeline.Lesson{Calls: c.lesson}
			if c.name != "" {
				l.Names = []timeline.Naming{{Procedures: []string{c.name}, At: c.at}}
			}
			if got := names(l.Find(plans)); !slices.Equal(got, append([]string{}, c.want...)) {
				t.Errorf("found %q, want %q", got, c.want)
			}
		})
	}
}

func TestOnlyAStretchIsLookedAt(t *testing.T) {
	ps := plans(t)
	l := lesson(flown(t, "slow-flight-clean", 60), chatter(300), flown(t, "slow-flight-landing", 600), flown(t, "slow-flight-clean", 1200))
	var bound []*rules.Plan
	for _, p := range ps {
		bound = append(bound, p)
	}
	for _, c := range []struct {
		from, to float64
		want     []string
	}{
		{0, 2000, []string{"slow-flight-clean", "slow-flight-landing", "slow-flight-clean"}},
		{500, 1000, []string{"slow-flight-landing"}},
		{900, 2000, []string{"slow-flight-clean"}},
		{0, 50, []string{}},
		{1900, 2000, []string{}},
		{300, 500, []string{}},
	} {
		part := timeline.Lesson{Calls: l, Radio: make([]bool, len(l)), Within: &timeline.Span{From: c.from, To: c.to}}
		found := part.Find(bound)
		if got := names(found); !slices.Equal(got, c.want) {
			t.Errorf("%v to %v: found %q, want %q", c.from, c.to, got, c.want)
		}
		for _, a := range append(found, part.Attempts(ps["slow-flight-clean"])...) {
			for _, s := range a.Steps {
				if s.Call == nil {
					continue
				}
				if l[*s.Call].Start != *s.At || *s.At < c.from || *s.At >= c.to {
					t.Errorf("%v to %v: %s at %v rests on a call at %v", c.from, c.to, s.ID, *s.At, l[*s.Call].Start)
				}
			}
		}
	}
}

// Whatever is named, given up and said on the radio in half an hour of ordinary
// calls, next to nothing is made of it.
func TestWordsAboutManeuversInventNone(t *testing.T) {
	const lessons, byChance = 200, 1
	for ac, plans := range wholeLibrary(t) {
		var invented []string
		for seed := range uint64(lessons) {
			rng := rand.New(rand.NewPCG(seed, 13))
			l := timeline.Lesson{Calls: ordinary(rng, 0, 1800)}
			for range 4 {
				id := plans[rng.IntN(len(plans))].Procedure.ID
				l.Names = append(l.Names, timeline.Naming{Procedures: []string{id}, At: 1800 * rng.Float64()})
				l.Calls = lesson(l.Calls, uttered("do-again", 1800*rng.Float64(), callouts.Ordered))
			}
			for _, s := range told(l.Find(plans)) {
				invented = append(invented, fmt.Sprintf("%s in lesson %d", s, seed))
			}
		}
		if len(invented) > byChance {
			t.Errorf("%s: found %q in %d half hours", ac, invented, lessons)
		}
		t.Logf("%s: found %q in %d half hours", ac, invented, lessons)
	}
}

// However calls, names and radio calls are strewn, what is found does not overlap,
// lies where its calls do, and is told with calls of its own.
func TestFindingKeepsItsWord(t *testing.T) {
	fleet := wholeLibrary(t)
	rapid.Check(t, func(t *rapid.T) {
		plans := fleet[rapid.SampledFrom([]string{"trainer", "complex"}).Draw(t, "aircraft")]
		a, b := rapid.SampledFrom(plans).Draw(t, "plan"), rapid.SampledFrom(plans).Draw(t, "other")
		ids := slices.Concat(a.Procedure.Callouts(), b.Procedure.Callouts(), []string{"discontinue", "do-again", "going-around"})
		var l timeline.Lesson
		at := 0.0
		for range rapid.IntRange(0, 50).Draw(t, "calls") {
			at += float64(rapid.IntRange(1, 20).Draw(t, "gap"))
			c := rulestest.Call(rapid.SampledFrom(ids).Draw(t, "id"), at)
			l.Calls, l.Radio = append(l.Calls, c), append(l.Radio, rapid.Bool().Draw(t, "radio"))
			if rapid.IntRange(0, 9).Draw(t, "named") == 0 {
				l.Names = append(l.Names, timeline.Naming{Procedures: []string{a.Procedure.ID}, At: at})
			}
		}
		found := l.Find(plans)
		later := l // exact in binary, so that nothing hangs on rounding
		later.Calls = rulestest.Lesson(l.Calls).Shifted(4096)
		later.Names = slices.Clone(l.Names)
		for i := range later.Names {
			later.Names[i].At += 4096
		}
		for i, m := range later.Find(plans) {
			if i >= len(found) || m.Procedure != found[i].Procedure || (m.Abandoned == nil) != (found[i].Abandoned == nil) || m.Start != found[i].Start+4096 || m.End != found[i].End+4096 {
				t.Fatalf("an hour later: %q, not %q", told(later.Find(plans)), told(found))
			}
		}
		last := -1
		for _, m := range found {
			before := last
			for _, s := range m.Steps {
				switch {
				case s.Call == nil:
				case *s.Call <= before:
					t.Fatalf("%s uses call %d, but the maneuver before it goes to %d", m.Procedure, *s.Call, before)
				case *s.At < m.Start || *s.At > m.End:
					t.Fatalf("%s of %s lies outside of it", s.ID, m.Procedure)
				default:
					last = max(last, *s.Call)
				}
			}
			if m.Abandoned != nil && (m.Abandoned.At < m.Start || m.Abandoned.At > m.End || m.Abandoned.Reason == "") {
				t.Fatalf("%s from %v to %v is given up at %v", m.Procedure, m.Start, m.End, m.Abandoned.At)
			}
			for _, f := range m.Findings {
				if m.Abandoned != nil && f.Kind == string(rules.NotHeard) {
					t.Fatalf("%s was given up, and yet %s is missed", m.Procedure, f.Step)
				}
			}
		}
	})
}
