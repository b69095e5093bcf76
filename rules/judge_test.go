package rules_test

import (
	"cmp"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/library"
	"sidetone/rules/rulestest"
)

func trainer(t testing.TB) *rules.Aircraft {
	t.Helper()
	ac, err := library.DefaultAircraft()
	if err != nil {
		t.Fatal(err)
	}
	return ac
}

func plan(t testing.TB, id string) *rules.Plan {
	t.Helper()
	p, err := library.Procedure(id)
	if err != nil {
		t.Fatal(err)
	}
	pl, err := rules.Bind(p, trainer(t))
	if err != nil {
		t.Fatal(err)
	}
	return pl
}

func procedure(t testing.TB, text string) *rules.Plan {
	t.Helper()
	p, err := rules.ParseProcedure("test.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	pl, err := rules.Bind(p, trainer(t))
	if err != nil {
		t.Fatal(err)
	}
	return pl
}

func TestFiguresAtTheEdgeOfTheStandards(t *testing.T) {
	holding := procedure(t, `
id: holding
title: Holding
phases:
  - title: Hold
    steps:
      - {id: altitude, title: Altitude, call: altitude, reference: r, value: {of: altitude, target: 3500, tolerance: 100}}
      - {id: north, title: North, call: heading, reference: r, after: [], value: {of: heading, target: 360, tolerance: 10}}
      - {id: bank, title: Bank, call: bank, reference: r, after: [], value: {of: bank, target: 20, tolerance: 10}}
`)
	clean := plan(t, "slow-flight-clean")
	for _, c := range []struct {
		plan  *rules.Plan
		step  string
		of    callouts.Quantity
		value float64
		good  bool
	}{
		// FAA-S-ACS-6C, VII.A S5: altitude ±100 ft, heading ±10°, airspeed
		// +10/-0 kt, bank ±10°.
		{holding, "altitude", callouts.Altitude, 3400, true},
		{holding, "altitude", callouts.Altitude, 3600, true},
		{holding, "altitude", callouts.Altitude, 3399, false},
		{holding, "altitude", callouts.Altitude, 3601, false},
		{holding, "north", callouts.Heading, 360, true},
		{holding, "north", callouts.Heading, 350, true},
		{holding, "north", callouts.Heading, 10, true},
		{holding, "north", callouts.Heading, 355, true},
		{holding, "north", callouts.Heading, 5, true},
		{holding, "north", callouts.Heading, 349, false},
		{holding, "north", callouts.Heading, 11, false},
		{holding, "bank", callouts.Bank, 30, true},
		{holding, "bank", callouts.Bank, 31, false},
		{holding, "bank", callouts.Bank, 9, false},
		{clean, "airspeed", callouts.Airspeed, 65, true},
		{clean, "airspeed", callouts.Airspeed, 75, true},
		{clean, "airspeed", callouts.Airspeed, 76, false},
		{clean, "airspeed", callouts.Airspeed, 64, false},
	} {
		lesson, ids := rulestest.Perfect(c.plan, 10)
		i := slices.Index(ids, c.step)
		r := result(t, judge(c.plan, lesson.Replaced(i, rulestest.With(lesson[i], c.of, c.value))), c.step)
		want := rules.Heard
		if !c.good {
			want = rules.OffValue
		}
		if r.Verdict != want {
			t.Errorf("%s at %v is %s, want %s", c.step, c.value, r.Verdict, want)
		}
	}
}

// lesson is a lesson of slow-flight-clean changed by a function.
func cleanLesson(t *testing.T, change func(l rulestest.Lesson, at func(step string) int) rulestest.Lesson) rules.Assessment {
	t.Helper()
	pl := plan(t, "slow-flight-clean")
	lesson, ids := rulestest.Perfect(pl, 30)
	l := change(lesson, func(step string) int { return slices.Index(ids, step) })
	slices.SortStableFunc(l, func(a, b callouts.Call) int {
		switch {
		case a.Start < b.Start:
			return -1
		case a.Start > b.Start:
			return 1
		}
		return 0
	})
	return judge(pl, l)
}

func TestVerdictsInSentences(t *testing.T) {
	for _, c := range []struct {
		says   string
		change func(l rulestest.Lesson, at func(string) int) rulestest.Lesson
		told   []string
		step   string
		reason string
	}{
		{
			"carb heat cold is left out of the recovery",
			func(l rulestest.Lesson, at func(string) int) rulestest.Lesson { return l.Without(at("carb-heat-cold")) },
			[]string{"carb-heat-cold not-heard"}, "carb-heat-cold", "Not heard between 1:25 and 1:42; listen there.",
		},
		{
			"the last call of the maneuver is left out",
			func(l rulestest.Lesson, at func(string) int) rulestest.Lesson { return l.Without(at("trim-cruise")) },
			[]string{"trim-cruise not-heard"}, "trim-cruise", "Not heard after 1:43; listen there.",
		},
		{
			"trim is called before the power is back",
			func(l rulestest.Lesson, at func(string) int) rulestest.Lesson {
				return l.Moved(at("trim"), at("power-back"))
			},
			[]string{"trim out-of-order"}, "trim", "Trim set at 1:00 came before power back at 1:06.",
		},
		{
			"trim is called before the power is back, and once more after it",
			func(l rulestest.Lesson, at func(string) int) rulestest.Lesson {
				return append(l, rulestest.Call("trim-set", l[at("power-back")].Start-2))
			},
			[]string{"trim out-of-order"}, "trim", "Heard at 1:18.",
		},
		{
			"trimming in cruise before the maneuver begins is nothing to talk about",
			func(l rulestest.Lesson, at func(string) int) rulestest.Lesson {
				return append(l, rulestest.Call("trim-set", l[at("carb-heat-on")].Start-20))
			},
			nil, "trim", "Heard at 1:18.",
		},
		{
			"carb heat cold comes half a minute after full power",
			func(l rulestest.Lesson, at func(string) int) rulestest.Lesson {
				for i := at("carb-heat-cold"); i < len(l); i++ {
					l[i].Start += 24
					l[i].End += 24
				}
				return l
			},
			[]string{"carb-heat-cold late"}, "carb-heat-cold",
			"Carb heat cold at 1:54 came 30 seconds after full power at 1:24; it is due within 20.",
		},
		{
			"an airspeed is taken back in the same breath",
			func(l rulestest.Lesson, at func(string) int) rulestest.Lesson {
				old := 55.0
				l[at("airspeed")].Corrected = &old
				return l
			},
			[]string{"airspeed corrected"}, "airspeed", "Heard at 1:12: 65 kt.",
		},
		{
			"the speeds on the way down are called, and the last is good",
			func(l rulestest.Lesson, at func(string) int) rulestest.Lesson {
				c := l[at("airspeed")]
				for i, v := range []float64{90, 80} {
					d := rulestest.With(c, callouts.Airspeed, v)
					d.Start, d.End = c.Start-4+2*float64(i), c.Start-3+2*float64(i)
					l = append(l, d)
				}
				return l
			},
			nil, "airspeed", "Heard at 1:12: 65 kt.",
		},
		{
			"a figure could be heard as 60 or 65, and 65 is what is flown",
			func(l rulestest.Lesson, at func(string) int) rulestest.Lesson {
				i := at("airspeed")
				v := 60.0
				l[i].Value = &v
				l[i].Readings = []callouts.Reading{{Quantity: callouts.Airspeed, Value: 60}, {Quantity: callouts.Airspeed, Value: 65}}
				return l
			},
			nil, "airspeed", "Heard at 1:12: 65 kt.",
		},
		{
			"power back comes without its figure",
			func(l rulestest.Lesson, at func(string) int) rulestest.Lesson {
				return l.Replaced(at("power-back"), rulestest.Call("power-back", 0))
			},
			nil, "power-back", "Heard at 1:00.",
		},
		{
			"an airspeed comes without its figure",
			func(l rulestest.Lesson, at func(string) int) rulestest.Lesson {
				return l.Replaced(at("airspeed"), rulestest.Call("airspeed", 0))
			},
			nil, "airspeed", "Heard at 1:12, without a figure.",
		},
		{
			"trim is clear before the power is back, and perhaps again after it",
			func(l rulestest.Lesson, at func(string) int) rulestest.Lesson {
				l[at("trim")].Confidence = 0.13
				return append(l, rulestest.Call("trim-set", l[at("power-back")].Start-2))
			},
			[]string{"trim unsure"}, "trim", "",
		},
		{
			"trim is clear before the power is back, and next to nothing is heard after it",
			func(l rulestest.Lesson, at func(string) int) rulestest.Lesson {
				l[at("trim")].Confidence = 0.05
				return append(l, rulestest.Call("trim-set", l[at("power-back")].Start-2))
			},
			[]string{"trim out-of-order"}, "trim", "Trim set at 0:58 came before power back at 1:00.",
		},
		{
			"the power comes back to a wrong figure, and after the trim",
			func(l rulestest.Lesson, at func(string) int) rulestest.Lesson {
				l[at("power-back")] = rulestest.With(l[at("power-back")], callouts.RPM, 1900)
				return l.Moved(at("trim"), at("power-back"))
			},
			[]string{"power-back off-value", "trim out-of-order"}, "power-back",
			"Power back at 1:06: 1,900 rpm was heard, 1,700 rpm expected, 1,550 rpm to 1,850 rpm is within limits.",
		},
		{
			"airspeed and trim may come in either order",
			func(l rulestest.Lesson, at func(string) int) rulestest.Lesson {
				return l.Moved(at("trim"), at("airspeed"))
			},
			nil, "trim", "Heard at 1:12.",
		},
	} {
		t.Run(c.says, func(t *testing.T) {
			a := cleanLesson(t, c.change)
			wantTold(t, a, append([]string{}, c.told...)...)
			if r := result(t, a, c.step); c.reason != "" && r.Reason != c.reason {
				t.Errorf("reason is %q, want %q", r.Reason, c.reason)
			}
		})
	}
}

// Trimming after each stage of flap is good practice (common practice, no source).
func TestTrimmingAfterEachStageOfFlapIsNothingToTalkAbout(t *testing.T) {
	pl := plan(t, "slow-flight-landing")
	lesson, ids := rulestest.Perfect(pl, 0)
	var l rulestest.Lesson
	for i, c := range lesson {
		l = append(l, c)
		if strings.HasPrefix(ids[i], "flaps-") {
			l = append(l, rulestest.Call("trim-set", c.Start+3))
		}
	}
	wantTold(t, judge(pl, l))
}

func TestFlapsUpBeforeAPositiveRateIsTheFlapsFault(t *testing.T) {
	pl := plan(t, "slow-flight-landing")
	lesson, ids := rulestest.Perfect(pl, 0)
	a := judge(pl, lesson.Moved(slices.Index(ids, "flaps-up"), slices.Index(ids, "positive-rate")))
	wantTold(t, a, "flaps-up out-of-order")
	if f := a.Findings[0]; f.Severity != rules.Safety || !strings.HasPrefix(f.Message, "Flaps up at 1:36 came before positive rate at 1:42.") {
		t.Errorf("%+v", f)
	}
}

// In an early hand on the lever, and a late one, the lever is heard of.
func TestCallsFarFromTheirPlaceThatCanBeNoOthers(t *testing.T) {
	for _, c := range []struct {
		says, procedure string
		step            string // whose call is made
		second          float64
		told            string
	}{
		{"the flaps come up long before the runway is left", "after-landing", "flaps-up", -19, "flaps-up out-of-order"},
		{"the flaps come up in the air", "after-landing", "flaps-up", -70, "flaps-up unsure"},
		{"the heat goes off when the flaps are up already", "go-around", "carb-heat-cold", 52, "carb-heat-cold late"},
		{"the heat goes off in the next pattern", "go-around", "carb-heat-cold", 120, "carb-heat-cold not-heard"},
	} {
		t.Run(c.says, func(t *testing.T) {
			pl := plan(t, c.procedure)
			l, ids := rulestest.Perfect(pl, 100)
			i := slices.Index(ids, c.step)
			from := l[i-1].Start // of the runway, of the power
			if c.procedure == "go-around" {
				from = l[slices.Index(ids, "full-power")].Start
			}
			l[i].Start, l[i].End = from+c.second, from+c.second+1
			slices.SortStableFunc(l, func(a, b callouts.Call) int { return cmp.Compare(a.Start, b.Start) })
			wantTold(t, judge(pl, l), c.told)
		})
	}
}

func TestACallTooLateNamesWhatItCameAfter(t *testing.T) {
	pl := plan(t, "slow-flight-clean")
	lesson, ids := rulestest.Perfect(pl, 0)
	from, to := slices.Index(ids, "carb-heat-on"), slices.Index(ids, "trim")
	l := lesson.Moved(from, to) // after power back, nose up and airspeed
	a := judge(pl, l)
	wantTold(t, a, "carb-heat-on out-of-order")
	if r := result(t, a, "carb-heat-on"); !strings.Contains(r.Reason, " came after power back at ") {
		t.Error(r.Reason)
	}
}

func TestAnAircraftWithoutCarburettorNeedsNoHeat(t *testing.T) {
	p, err := library.Procedure("slow-flight-clean")
	if err != nil {
		t.Fatal(err)
	}
	ac := trainer(t)
	ac.Facts["carburettor"] = rules.Fact{Value: false}
	pl, err := rules.Bind(p, ac)
	if err != nil {
		t.Fatal(err)
	}
	lesson, _ := rulestest.Perfect(pl, 0)
	a := judge(pl, lesson)
	wantTold(t, a)
	for _, id := range []string{"carb-heat-on", "carb-heat-cold"} {
		if r := result(t, a, id); r.Verdict != rules.NotApplicable || r.Call != nil {
			t.Errorf("%+v", r)
		}
	}
}

func TestNothingHeardIsAllNotHeard(t *testing.T) {
	pl := plan(t, "slow-flight-clean")
	a := pl.Judge(nil, 0, 0)
	for _, r := range a.Steps {
		if r.Verdict != rules.NotHeard && r.Verdict != rules.NotApplicable {
			t.Errorf("%+v", r)
		}
	}
	if a.Findings == nil || a.Steps == nil {
		t.Error("lists must not be nil")
	}
}

// A stretch of a lesson is judged as if it stood alone, with the lesson's indices.
func TestAStretchOfALesson(t *testing.T) {
	pl := plan(t, "slow-flight-landing")
	lesson, ids := rulestest.Perfect(pl, 100)
	before, _ := rulestest.Perfect(pl, 0)
	all := append(append(rulestest.Lesson{}, before[:4]...), lesson...)
	a := pl.Judge(all, 4, len(all))
	wantTold(t, a)
	for i, id := range ids {
		if r := result(t, a, id); *r.Call != i+4 {
			t.Errorf("%s is call %d, want %d", id, *r.Call, i+4)
		}
	}
}

// drawLesson is a perfect lesson with calls lost, moved, doubled, misheard and
// faint.
func drawLesson(t *rapid.T, pl *rules.Plan) rulestest.Lesson {
	l, _ := rulestest.Perfect(pl, 60)
	for range rapid.IntRange(0, 5).Draw(t, "changes") {
		i := rapid.IntRange(0, len(l)-1).Draw(t, "call")
		switch rapid.IntRange(0, 4).Draw(t, "change") {
		case 0:
			l = l.Without(i)
		case 1:
			l = l.Moved(i, rapid.IntRange(0, len(l)-1).Draw(t, "to"))
		case 2:
			l[i].Confidence = rapid.Float64Range(0, 1).Draw(t, "confidence")
		case 3:
			l = slices.Insert(l, i, l[i])
		case 4:
			l[i].Stance = callouts.Ordered
		}
		if len(l) == 0 {
			break
		}
	}
	return l
}

func TestTheSameLessonLaterIsJudgedTheSame(t *testing.T) {
	pls := plans(t)
	rapid.Check(t, func(t *rapid.T) {
		pl := rapid.SampledFrom(pls).Draw(t, "plan")
		l := drawLesson(t, pl)
		shift := float64(rapid.IntRange(0, 7200).Draw(t, "shift"))
		a, b := judge(pl, l), judge(pl, l.Shifted(shift))
		if a.Cost != b.Cost || !slices.Equal(told(a), told(b)) {
			t.Fatalf("%v at %v, but %v at %v when %v s later", told(a), a.Cost, told(b), b.Cost, shift)
		}
		for i := range a.Steps {
			x, y := a.Steps[i], b.Steps[i]
			if x.Verdict != y.Verdict || (x.At == nil) != (y.At == nil) || x.At != nil && *y.At != *x.At+shift {
				t.Fatalf("%+v, later %+v", x, y)
			}
		}
	})
}

func TestWhatAJudgementAlwaysHolds(t *testing.T) {
	pls := plans(t)
	rapid.Check(t, func(t *rapid.T) {
		pl := rapid.SampledFrom(pls).Draw(t, "plan")
		l := drawLesson(t, pl)
		a := judge(pl, l)
		used := map[int]string{}
		for i, r := range a.Steps {
			if r.Reason == "" || r.ID != pl.Procedure.Steps()[i].ID {
				t.Fatalf("%+v", r)
			}
			if (r.Call == nil) != (r.At == nil) {
				t.Fatalf("%+v: a call and its time go together", r)
			}
			if r.Call == nil {
				continue
			}
			c := l[*r.Call]
			if other, twice := used[*r.Call]; twice {
				t.Fatalf("%s and %s rest on one call", other, r.ID)
			}
			used[*r.Call] = r.ID
			if c.Stance != callouts.Done || !slices.Contains(pl.Procedure.Steps()[i].Calls, c.ID) || c.Start != *r.At || c.Confidence != r.Confidence {
				t.Fatalf("%+v rests on %+v", r, c)
			}
		}
		for _, f := range a.Findings {
			i := slices.IndexFunc(a.Steps, func(r rules.StepResult) bool { return r.ID == f.Step })
			if i < 0 && pl.Applies(f.Step) {
				i = slices.IndexFunc(a.Findings, func(o rules.Finding) bool {
					return o.Kind == f.Kind && *o.At == *f.At && slices.ContainsFunc(a.Steps, func(r rules.StepResult) bool { return r.ID == o.Step })
				})
				if i >= 0 {
					t.Fatalf("told twice: %+v and %+v", a.Findings[i], f)
				}
				continue // a hold or never
			}
			if pl.Procedure.Steps()[i].Optional {
				t.Fatalf("an optional step is accused: %+v", f)
			}
		}
	})
}

// An airspeed called in the stall is neither the one before it nor the one after:
// it is shown once.
func TestACallOutsideItsPlaceIsShownAtOneOptionalStep(t *testing.T) {
	pl := plan(t, "power-off-stall")
	full, steps := rulestest.Perfect(pl, 0)
	var l rulestest.Lesson
	for i, c := range full {
		switch steps[i] {
		case "airspeed", "climb-speed":
		case "stall-warning":
			l = append(l, rulestest.With(rulestest.Call("airspeed", c.Start-2), callouts.Airspeed, 70), c)
		default:
			l = append(l, c)
		}
	}
	a := judge(pl, l)
	wantTold(t, a)
	if first, second := result(t, a, "airspeed"), result(t, a, "climb-speed"); first.Verdict != rules.Heard || second.Verdict != rules.NotApplicable {
		t.Errorf("%+v and %+v", first, second)
	}
}

// Where the aircraft decides, a finding says which of its facts to look up.
func TestAFindingSaysWhatToVerify(t *testing.T) {
	pl := plan(t, "slow-flight-clean")
	lesson, ids := rulestest.Perfect(pl, 0)
	at := func(id string) int { return slices.Index(ids, id) }
	for _, c := range []struct {
		says   string
		lesson rulestest.Lesson
		want   string
	}{
		{"a speed of the aircraft", lesson.Replaced(at("airspeed"), rulestest.With(lesson[at("airspeed")], callouts.Airspeed, 40)),
			"FAA-S-ACS-6C, VII.A S3 (just above the stall warning) and S5 (+10/-0 kt); VERIFY: POH (slow flight speed 65 kt)"},
		{"a step only some have", lesson.Without(at("carb-heat-cold")), "; VERIFY: POH (carburettor yes)"},
		{"a step all have", lesson.Without(at("full-power")), "common practice, no source"},
	} {
		a := judge(pl, c.lesson)
		if len(a.Findings) != 1 || !strings.HasSuffix(a.Findings[0].Reference, c.want) || !strings.Contains(c.want, "VERIFY") && strings.Contains(a.Findings[0].Reference, "VERIFY") {
			t.Errorf("%s: %+v", c.says, a.Findings)
		}
	}
}
