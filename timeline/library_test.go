package timeline_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/library"
	"sidetone/rules/rulestest"
	"sidetone/timeline"
)

// wholeLibrary is every procedure made out for every aircraft, by the aircraft.
func wholeLibrary(t testing.TB) map[string][]*rules.Plan {
	t.Helper()
	all, err := boundLibrary()
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 2 {
		t.Fatalf("%d aircraft", len(all))
	}
	return all
}

var boundLibrary = sync.OnceValues(func() (map[string][]*rules.Plan, error) {
	fleet, err := library.AllAircraft()
	if err != nil {
		return nil, err
	}
	procs, err := library.Procedures()
	if err != nil {
		return nil, err
	}
	out := map[string][]*rules.Plan{}
	for _, ac := range fleet {
		for _, p := range procs {
			plan, err := rules.Bind(p, ac)
			if errors.Is(err, rules.ErrOtherAircraft) {
				continue
			}
			if err != nil {
				return nil, err
			}
			out[ac.ID] = append(out[ac.ID], plan)
		}
	}
	return out, nil
})

func planOf(t testing.TB, plans []*rules.Plan, id string) *rules.Plan {
	t.Helper()
	i := slices.IndexFunc(plans, func(p *rules.Plan) bool { return p.Procedure.ID == id })
	if i < 0 {
		t.Fatalf("no procedure %q", id)
	}
	return plans[i]
}

func TestEachProcedureOfTheLibraryIsFoundAsItselfAndNothingElse(t *testing.T) {
	for ac, plans := range wholeLibrary(t) {
		for _, p := range plans {
			t.Run(ac+"/"+p.Procedure.ID, func(t *testing.T) {
				l, _ := rulestest.Perfect(p, 100)
				found := timeline.FindPlans(l, plans)
				if got := names(found); !slices.Equal(got, []string{p.Procedure.ID}) {
					t.Fatalf("found %q", got)
				}
				if a := found[0]; a.Start != l[0].Start || a.End != l[len(l)-1].End {
					t.Errorf("found from %v to %v, flown from %v to %v", a.Start, a.End, l[0].Start, l[len(l)-1].End)
				}
				for _, f := range found[0].Findings {
					if f.Severity != rules.Note {
						t.Errorf("told %s: %s", f.Step, f.Message)
					}
				}
			})
		}
	}
}

// Where a call is not heard the maneuver is found all the same, but where it is
// the one that tells the maneuver: without "going around" a go-around is a climb.
func TestAProcedureWithACallNotHeardIsStillFoundAsItself(t *testing.T) {
	telling := []string{
		"clear-of-runway", "going-around", "diverting", "lost", "emergency-descent", "full-power of rejected-takeoff",
	}
	for ac, plans := range wholeLibrary(t) {
		for _, p := range plans {
			l, steps := rulestest.Perfect(p, 100)
			for i, id := range steps {
				got := names(timeline.FindPlans(l.Without(i), plans))
				tells := slices.Contains(telling, l[i].ID) || slices.Contains(telling, l[i].ID+" of "+p.Procedure.ID)
				switch {
				case slices.Equal(got, []string{p.Procedure.ID}):
				case tells && len(got) == 0:
				default:
					t.Errorf("%s/%s without %s: found %q", ac, p.Procedure.ID, id, got)
				}
			}
		}
	}
}

// A maneuver may be flown at leisure, with half a minute from call to call.
func TestAProcedureFlownSlowlyIsStillFoundAsItself(t *testing.T) {
	for ac, plans := range wholeLibrary(t) {
		for _, p := range plans {
			l, _ := rulestest.Perfect(p, 100)
			for i := range l {
				l[i].Start = 100 + 30*float64(i)
				l[i].End = l[i].Start + rulestest.Length
			}
			if got := names(timeline.FindPlans(l, plans)); !slices.Equal(got, []string{p.Procedure.ID}) {
				t.Errorf("%s/%s: found %q", ac, p.Procedure.ID, got)
			}
		}
	}
}

// ordinary is a call such as is made on any flight, in no order: figures, radio
// calls of others in the pattern, single actions. from to are its seconds.
func ordinary(rng *rand.Rand, from, to float64) rulestest.Lesson {
	var l rulestest.Lesson
	singles := []string{
		"trim-set", "gauges-green", "controls-mine", "controls-yours", "straight-and-level", "wings-level", "cruise-power",
		"nose-down", "nose-up", "clearing-turns", "right-rudder", "rolling-out", "leveling-off", "fuel-check",
		"lights-on", "mixture-rich", "fuel-both", "carb-heat-on", "carb-heat-cold", "runway-clear", "transponder-set", "instruments-set",
		"downwind", "base", "final", "clear-of-runway", "time-noted", "landmark", "abeam",
	}
	for at := from + 8 + 50*rng.Float64(); at < to; at += 8 + 50*rng.Float64() {
		with := func(id string, q callouts.Quantity, lo, hi, step int) rulestest.Lesson {
			return append(l, rulestest.With(rulestest.Call(id, at), q, float64(lo+step*rng.IntN((hi-lo)/step+1))))
		}
		switch n := rng.IntN(len(singles) + 20); {
		case n < 6:
			l = with("altitude", callouts.Altitude, 1500, 5500, 100)
		case n < 12:
			l = with("heading", callouts.Heading, 10, 360, 10)
		case n < 16:
			l = with("airspeed", callouts.Airspeed, 60, 120, 5)
		case n < 18:
			l = with("power-set", callouts.RPM, 1500, 2400, 100)
		case n < 20:
			l = with("bank", callouts.Bank, 15, 45, 15)
		default:
			l = append(l, rulestest.Call(singles[n-20], at))
		}
	}
	return l
}

// By chance such calls fall into the order of a maneuver once in a long while: a
// power setting, nose up, a speed and trim, and cruise power and trim after them.
func TestHalfAnHourOfOrdinaryCallsHoldsNoManeuver(t *testing.T) {
	const lessons = 400
	for ac, plans := range wholeLibrary(t) {
		var invented []string
		for seed := range uint64(lessons) {
			l := ordinary(rand.New(rand.NewPCG(seed, 7)), 0, 1800)
			for _, id := range names(timeline.FindPlans(l, plans)) {
				invented = append(invented, fmt.Sprintf("%s in lesson %d", id, seed))
			}
		}
		if len(invented) > 0 {
			t.Errorf("%s: found %q in %d half hours", ac, invented, lessons)
		}
		t.Logf("%s: found %q in %d half hours", ac, invented, lessons)
	}
}

// An hour with eight maneuvers in random order, and other calls for most of the rest of it.
func TestTheManeuversOfAnHourAreAllFoundAndNoneInvented(t *testing.T) {
	for ac, plans := range wholeLibrary(t) {
		for seed := range uint64(50) {
			rng := rand.New(rand.NewPCG(seed, 11))
			order := rng.Perm(len(plans))[:8]
			var l rulestest.Lesson
			var want []string
			var flown [][2]float64
			at := 0.0
			for i, k := range order {
				talk := max(30, 3600.0/8*(float64(i)+0.5)-at)
				l = append(l, ordinary(rng, at, at+talk)...)
				at += talk + 5
				m, _ := rulestest.Perfect(plans[k], at)
				l = append(l, m...)
				want = append(want, plans[k].Procedure.ID)
				at = m[len(m)-1].End
				flown = append(flown, [2]float64{m[0].Start, at})
			}
			l = append(l, ordinary(rng, at, 3600)...)
			found := timeline.FindPlans(l, plans)
			if got := names(found); !slices.Equal(got, want) {
				t.Errorf("%s, lesson %d: found %q, want %q", ac, seed, got, want)
				continue
			}
			for i, a := range found {
				if math.Abs(a.Start-flown[i][0]) > 5 || math.Abs(a.End-flown[i][1]) > 5 {
					t.Errorf("%s, lesson %d: %s found from %.0f to %.0f, flown from %.0f to %.0f", ac, seed, a.Procedure, a.Start, a.End, flown[i][0], flown[i][1])
				}
			}
		}
	}
}

func TestWhatTheWholeLibraryFindsInAFlight(t *testing.T) {
	plans := wholeLibrary(t)["trainer"]
	perfect := func(id string, at float64) rulestest.Lesson {
		l, _ := rulestest.Perfect(planOf(t, plans, id), at)
		return l
	}
	unsaid := func(id string, l rulestest.Lesson) rulestest.Lesson {
		return slices.DeleteFunc(l, func(c callouts.Call) bool { return c.ID == id })
	}
	for _, c := range []struct {
		says   string
		lesson rulestest.Lesson
		want   []string
	}{
		{"the take-off of a flight", chatter(0), []string{"takeoff"}},
		{"nothing in an approach without its calls", approach(0), nil},
		{"a slow flight, not the go-around its recovery is like", perfect("slow-flight-landing", 0), []string{"slow-flight-landing"}},
		{"no go-around in that recovery by itself", perfect("slow-flight-landing", 0)[12:], nil},
		{"clearing turns called out, and the stall after them",
			lesson(perfect("clearing-turns", 0), perfect("power-off-stall", 60)), []string{"clearing-turns", "power-off-stall"}},
		{"no clearing turns in a look left and right and the checks before a stall",
			unsaid("clearing-turns", lesson(perfect("clearing-turns", 0), perfect("power-off-stall", 40))), []string{"power-off-stall"}},
		{"clearing turns without their last call, where nothing follows them",
			unsaid("clearing-turns", perfect("clearing-turns", 0)), []string{"clearing-turns"}},
		{"a pattern given up on final", lesson(perfect("traffic-pattern", 0), perfect("go-around", 110)), []string{"traffic-pattern", "go-around"}},
		{"a practice forced landing given up", lesson(perfect("engine-failure", 0), perfect("go-around", 120)), []string{"engine-failure", "go-around"}},
		{"check, take-off and climb, one after another",
			lesson(perfect("before-takeoff", 0), perfect("takeoff", 200), perfect("climb-cruise", 400)), []string{"before-takeoff", "takeoff", "climb-cruise"}},
		{"a check that lacks a call the rejected take-off right after it may begin with",
			lesson(unsaid("gauges-green", perfect("before-takeoff", 0)), perfect("rejected-takeoff", 130)), []string{"before-takeoff", "rejected-takeoff"}},
		{"a take-off rejected, and another", lesson(perfect("rejected-takeoff", 0), perfect("takeoff", 300)), []string{"rejected-takeoff", "takeoff"}},
		{"three stalls", lesson(perfect("power-off-stall", 0), perfect("power-off-stall", 300), perfect("power-on-stall", 600)),
			[]string{"power-off-stall", "power-off-stall", "power-on-stall"}},
	} {
		t.Run(c.says, func(t *testing.T) {
			if got := names(timeline.FindPlans(c.lesson, plans)); !slices.Equal(got, append([]string{}, c.want...)) {
				t.Errorf("found %q, want %q", got, c.want)
			}
		})
	}
}

// BenchmarkFindInTheLibrary is an hour of 8 maneuvers against the whole library.
func BenchmarkFindInTheLibrary(b *testing.B) {
	plans := wholeLibrary(b)["trainer"]
	rng := rand.New(rand.NewPCG(1, 11))
	var l rulestest.Lesson
	for i, k := range rng.Perm(len(plans))[:8] {
		m, _ := rulestest.Perfect(plans[k], float64(450*i+200))
		l = append(append(l, ordinary(rng, float64(450*i), float64(450*i+190))...), m...)
	}
	b.ReportMetric(float64(len(l)), "calls")
	for b.Loop() {
		if len(timeline.FindPlans(l, plans)) == 0 {
			b.Fatal(fmt.Sprint("nothing found in ", len(l), " calls"))
		}
	}
}
