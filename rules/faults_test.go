package rules_test

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/library"
	"sidetone/rules/rulestest"
)

// Every step of every procedure of the library: a lesson without fault is
// clean, and a lesson with one fault shows exactly that one.

// plans are all procedures made out for all aircraft they are for.
func plans(t testing.TB) []*rules.Plan {
	t.Helper()
	all, err := everyPlan()
	if err != nil {
		t.Fatal(err)
	}
	return all
}

var everyPlan = sync.OnceValues(func() (out []*rules.Plan, err error) {
	fleet, err := library.AllAircraft()
	if err != nil {
		return nil, err
	}
	procs, err := library.Procedures()
	if err != nil {
		return nil, err
	}
	for _, p := range procs {
		for _, ac := range fleet {
			plan, err := rules.Bind(p, ac)
			if errors.Is(err, rules.ErrOtherAircraft) {
				continue
			}
			if err != nil {
				return nil, err
			}
			out = append(out, plan)
		}
	}
	return out, nil
})

// each runs f for every required step of every procedure. i is the step's call.
func each(t *testing.T, f func(t *testing.T, plan *rules.Plan, lesson rulestest.Lesson, ids []string, i int, s *rules.Step)) {
	for _, plan := range plans(t) {
		for _, s := range plan.Procedure.Steps() {
			if s.Optional || !plan.Applies(s.ID) {
				continue
			}
			lesson, ids := rulestest.Perfect(plan, 30, s.ID)
			t.Run(plan.Procedure.ID+"/"+plan.Aircraft.ID+"/"+s.ID, func(t *testing.T) {
				f(t, plan, lesson, ids, slices.Index(ids, s.ID), s)
			})
		}
	}
}

func judge(plan *rules.Plan, lesson rulestest.Lesson) rules.Assessment {
	return plan.Judge(lesson, 0, len(lesson))
}

// told lists findings as "step kind".
func told(a rules.Assessment) []string {
	out := []string{}
	for _, f := range a.Findings {
		out = append(out, f.Step+" "+f.Kind)
	}
	return out
}

func wantTold(t *testing.T, a rules.Assessment, want ...string) {
	t.Helper()
	if got := told(a); !slices.Equal(got, want) {
		t.Errorf("told %q, want %q", got, want)
		for _, f := range a.Findings {
			t.Logf("%s: %s", f.Step, f.Message)
		}
	}
	for _, f := range a.Findings {
		if f.At == nil || f.Message == "" || f.Reference == "" || f.Severity == "" {
			t.Errorf("finding is incomplete: %+v", f)
		}
	}
}

func result(t *testing.T, a rules.Assessment, step string) rules.StepResult {
	t.Helper()
	for _, r := range a.Steps {
		if r.ID == step {
			return r
		}
	}
	t.Fatalf("no step %q", step)
	return rules.StepResult{}
}

func TestALessonWithoutFaultIsClean(t *testing.T) {
	for _, plan := range plans(t) {
		lesson, ids := rulestest.Perfect(plan, 30)
		a := judge(plan, lesson)
		wantTold(t, a)
		for i, id := range ids {
			r := result(t, a, id)
			if r.Verdict != rules.Heard || r.Call == nil || *r.Call != i || *r.At != lesson[i].Start {
				t.Errorf("%s/%s: %+v", plan.Procedure.ID, id, r)
			}
		}
		if a.Start != lesson[0].Start || a.End != lesson[len(lesson)-1].End {
			t.Errorf("%s lasts from %v to %v", plan.Procedure.ID, a.Start, a.End)
		}
		if len(a.Phases) != len(a.Steps) {
			t.Errorf("%d phases for %d steps", len(a.Phases), len(a.Steps))
		}
	}
}

// A phase that is flown on a cue, with the cue given a second before it begins.
func TestALessonWithItsCuesIsCleanAndMeasured(t *testing.T) {
	for _, plan := range plans(t) {
		for _, ph := range plan.Procedure.Phases {
			lesson, ids := rulestest.Perfect(plan, 30)
			inPhase := func(id string) bool {
				return slices.ContainsFunc(ph.Steps, func(s *rules.Step) bool { return s.ID == id && !s.Optional && !s.Anytime })
			}
			first := slices.IndexFunc(ids, inPhase)
			if ph.Cue == "" || first < 0 {
				continue
			}
			cue := rulestest.Call(ph.Cue, lesson[first].Start-1)
			cue.Stance = callouts.Ordered
			last := first
			for i, id := range ids {
				if inPhase(id) {
					last = i
				}
			}
			a := judge(plan, slices.Insert(append(rulestest.Lesson{}, lesson...), first, cue))
			wantTold(t, a)
			from := cue.Start
			for _, c := range lesson[:first] {
				if c.ID == ph.Cue && cue.Start-c.Start <= 30 {
					from = min(from, c.Start) // the cue is a step as well, and this says it again
				}
			}
			want := rules.Reaction{Phase: ph.Title, Cue: ph.Cue, From: from, To: lesson[last].Start, Last: ids[last]}
			if !slices.Contains(a.Reactions, want) {
				t.Errorf("%s, %s: %+v, want %+v", plan.Procedure.ID, plan.Aircraft.ID, a.Reactions, want)
			}
			if r := result(t, a, ids[last]); !strings.Contains(r.Reason, fmt.Sprintf("%s took %.0f seconds from the cue", ph.Title, want.To-want.From)) {
				t.Errorf("%q", r.Reason)
			}
		}
	}
}

// Each never of the library, with its call made in the middle of its stretch, is
// told, and at most once together with the order.
func TestACallThatMustNotBeMadeIsTold(t *testing.T) {
	for _, plan := range plans(t) {
		for _, n := range plan.Procedure.Nevers {
			if n.From.Cue != "" || n.Until.Cue != "" || !plan.Applies(n.ID) {
				continue // for cues see TestTheLanguageInSentences
			}
			lesson, ids := rulestest.Perfect(plan, 30)
			from, until := 0, len(ids)
			if n.From.Step != "" {
				from = slices.Index(ids, n.From.Step)
			}
			if n.Until.Step != "" {
				until = slices.Index(ids, n.Until.Step)
			}
			if from < 0 || until < 0 || until <= from {
				continue // not for this aircraft
			}
			c := rulestest.Call(n.Calls[0], lesson[from].Start+1)
			l := append(rulestest.Lesson{}, lesson[:from+1]...)
			l = append(append(l, c), lesson[from+1:]...)
			a := judge(plan, l)
			told := slices.ContainsFunc(a.Findings, func(f rules.Finding) bool { return f.At != nil && *f.At == c.Start })
			if !told {
				t.Errorf("%s, %s: %s is not told: %+v", plan.Procedure.ID, plan.Aircraft.ID, n.ID, a.Findings)
			}
		}
	}
}

func TestACallLeftOutIsNotHeard(t *testing.T) {
	each(t, func(t *testing.T, plan *rules.Plan, lesson rulestest.Lesson, _ []string, i int, s *rules.Step) {
		a := judge(plan, lesson.Without(i))
		wantTold(t, a, s.ID+" not-heard")
		// Due somewhere in the gap that the call has left, or later where the
		// order leaves it open, and never before the last call it must follow.
		if at := *a.Findings[0].At; at < lesson[0].Start || at > lesson[len(lesson)-1].End {
			t.Errorf("due at %v, outside the maneuver", at)
		}
	})
}

func TestAnOptionalCallLeftOutIsNoFault(t *testing.T) {
	for _, plan := range plans(t) {
		lesson, ids := rulestest.Perfect(plan, 30)
		for _, s := range plan.Procedure.Steps() {
			if s.Optional && plan.Applies(s.ID) {
				a := judge(plan, lesson.Without(slices.Index(ids, s.ID)))
				wantTold(t, a)
				if r := result(t, a, s.ID); r.Verdict != rules.NotApplicable {
					t.Errorf("%s/%s is %s", plan.Procedure.ID, s.ID, r.Verdict)
				}
			}
		}
	}
}

// Each step called just before each one it must follow, in the same phase.
func TestACallMadeTooEarlyIsOutOfOrder(t *testing.T) {
	each(t, func(t *testing.T, plan *rules.Plan, lesson rulestest.Lesson, ids []string, i int, s *rules.Step) {
		for _, o := range plan.Procedure.Steps() {
			if o.Optional || !plan.Applies(o.ID) || !plan.Procedure.Before(o.ID, s.ID) || plan.Procedure.Phase(o) != plan.Procedure.Phase(s) {
				continue
			}
			k := slices.Index(ids, o.ID)
			if k > 0 && lesson[k-1].ID == lesson[i].ID && lesson[i].Value == nil {
				continue // said right after the same call, nobody could tell it from a repetition
			}
			a := judge(plan, lesson.Moved(i, k))
			want := []string{s.ID + " out-of-order"}
			if got := told(a); !slices.Equal(got, want) {
				t.Errorf("called before %s: told %q, want %q", o.ID, got, want)
			}
			r := result(t, a, s.ID)
			if !strings.Contains(r.Reason, s.Title+" at ") || !strings.Contains(r.Reason, " came before ") {
				t.Errorf("called before %s: %q does not name the pair", o.ID, r.Reason)
			}
		}
	})
}

func TestTwoNeighboursSwappedAreToldOnceAtTheLater(t *testing.T) {
	each(t, func(t *testing.T, plan *rules.Plan, lesson rulestest.Lesson, ids []string, i int, s *rules.Step) {
		if i == 0 || !plan.Procedure.Before(ids[i-1], ids[i]) {
			return
		}
		first := plan.Procedure.Steps()[slices.IndexFunc(plan.Procedure.Steps(), func(o *rules.Step) bool { return o.ID == ids[i-1] })]
		a := judge(plan, lesson.Moved(i, i-1))
		if first.Optional {
			wantTold(t, a)
			return
		}
		wantTold(t, a, s.ID+" out-of-order")
		if at := *a.Findings[0].At; at != lesson[i-1].Start {
			t.Errorf("at %v, but the call is at %v", at, lesson[i-1].Start)
		}
		pair := fmt.Sprintf("%s at %s came before ", s.Title, mss(lesson[i-1].Start))
		other := fmt.Sprintf(" at %s.", mss(lesson[i].Start))
		if m := a.Findings[0].Message; !strings.HasPrefix(m, pair) || !strings.Contains(m, other) {
			t.Errorf("%q does not say %q and %q", m, pair, other)
		}
	})
}

func mss(s float64) string { return fmt.Sprintf("%d:%02d", int(s)/60, int(s)%60) }

func TestAWrongFigureIsOffValueAndNothingElse(t *testing.T) {
	each(t, func(t *testing.T, plan *rules.Plan, lesson rulestest.Lesson, _ []string, i int, s *rules.Step) {
		target, low, high, ok := plan.Target(s.ID)
		if !ok {
			t.Skip("asks for no figure")
		}
		for _, v := range []float64{low - 1, high + 1, high + 4} {
			a := judge(plan, lesson.Replaced(i, rulestest.With(lesson[i], s.Value.Of, v)))
			wantTold(t, a, s.ID+" off-value")
			if r := result(t, a, s.ID); r.Value == nil || *r.Value != v {
				t.Errorf("value %v, want %v", r.Value, v)
			}
		}
		for _, v := range []float64{low, target, high} {
			wantTold(t, judge(plan, lesson.Replaced(i, rulestest.With(lesson[i], s.Value.Of, v))))
		}
	})
}

func TestACallMadeAgainIsNoFault(t *testing.T) {
	each(t, func(t *testing.T, plan *rules.Plan, lesson rulestest.Lesson, _ []string, i int, _ *rules.Step) {
		again := lesson[i]
		again.Start, again.End = again.Start+2, again.End+2
		wantTold(t, judge(plan, slices.Insert(append(rulestest.Lesson{}, lesson...), i+1, again)))
	})
}

// A call said again does not stand in for one of the same kind left out later.
func TestARepeatedCallDoesNotHideOneLeftOut(t *testing.T) {
	each(t, func(t *testing.T, plan *rules.Plan, lesson rulestest.Lesson, ids []string, i int, s *rules.Step) {
		for k := range i {
			if lesson[k].ID != lesson[i].ID || (lesson[k].Value != nil && *lesson[k].Value != *lesson[i].Value) {
				continue
			}
			again := lesson[k]
			again.Start, again.End = again.Start+2, again.End+2
			l := slices.Insert(lesson.Without(i), k+1, again)
			wantTold(t, judge(plan, l), s.ID+" not-heard")
		}
	})
}

func TestWordsThatDoNothingSatisfyNothing(t *testing.T) {
	each(t, func(t *testing.T, plan *rules.Plan, lesson rulestest.Lesson, _ []string, i int, s *rules.Step) {
		for _, stance := range []callouts.Stance{callouts.Asked, callouts.Announced, callouts.Denied, callouts.TalkedAbout} {
			c := lesson[i]
			c.Stance = stance
			a := judge(plan, lesson.Replaced(i, c))
			wantTold(t, a, s.ID+" not-heard")
			if r := result(t, a, s.ID); strings.Contains(r.Reason, "order") {
				t.Errorf("%s: %q", stance, r.Reason)
			}
		}
		c := lesson[i]
		c.Stance = callouts.Ordered
		a := judge(plan, lesson.Replaced(i, c))
		wantTold(t, a, s.ID+" not-heard")
		if r := result(t, a, s.ID); r.Reason != fmt.Sprintf("The order was heard at %s, but not the answer.", mss(c.Start)) {
			t.Errorf("an order without an answer: %q", r.Reason)
		}
	})
}

func TestAnOrderThatIsAnsweredIsPrompted(t *testing.T) {
	each(t, func(t *testing.T, plan *rules.Plan, lesson rulestest.Lesson, _ []string, i int, s *rules.Step) {
		for _, c := range []struct {
			says           string
			by, answeredBy string
			before         float64
			wantedPrompted bool
		}{
			{"an order by nobody known, three seconds before", "", "", 3, true},
			{"an order by the instructor", "Instructor", "Student", 3, true},
			{"an order eight seconds before", "", "", 8, true},
			{"an order nine seconds before", "", "", 9, false},
			{"the student's own word", "Student", "Student", 3, false},
			{"the student asks for it, and the instructor does it", "student", "instructor", 3, false},
			{"somebody orders it, and the instructor does it", "", "instructor", 3, false},
			{"the instructor orders it, and somebody does it", "instructor", "", 3, true},
			{"two who are known by name, not by seat", "Anna", "Bert", 3, true},
		} {
			order := lesson[i]
			order.Stance, order.Speaker = callouts.Ordered, c.by
			order.Start -= c.before
			order.End -= c.before
			l := append(rulestest.Lesson{}, lesson...)
			l[i].Speaker = c.answeredBy
			at := slices.IndexFunc(l, func(o callouts.Call) bool { return o.Start >= order.Start })
			a := judge(plan, slices.Insert(l, at, order))
			wantTold(t, a)
			if r := result(t, a, s.ID); r.Prompted != c.wantedPrompted {
				t.Errorf("%s: prompted is %v", c.says, r.Prompted)
			}
		}
	})
}

func TestTheFirstCallMayAnswerAnOrderBeforeIt(t *testing.T) {
	each(t, func(t *testing.T, plan *rules.Plan, lesson rulestest.Lesson, _ []string, i int, s *rules.Step) {
		if i != 0 {
			return
		}
		order := lesson[0]
		order.Stance, order.Start, order.End = callouts.Ordered, order.Start-3, order.End-3
		all := slices.Insert(append(rulestest.Lesson{}, lesson...), 0, order)
		// The stretch judged begins with the call, not with the order.
		a := plan.Judge(all, 1, len(all))
		if r := result(t, a, s.ID); !r.Prompted {
			t.Errorf("%s is not prompted", s.ID)
		}
	})
}

func TestAFaintCallIsUnsure(t *testing.T) {
	each(t, func(t *testing.T, plan *rules.Plan, lesson rulestest.Lesson, _ []string, i int, s *rules.Step) {
		c := lesson[i]
		c.Confidence, c.Heard = 0.3, "mumble"
		a := judge(plan, lesson.Replaced(i, c))
		wantTold(t, a, s.ID+" unsure")
		if f := a.Findings[0]; f.Severity != rules.Note || !strings.Contains(f.Message, "listen there") {
			t.Errorf("%+v", f)
		}
	})
}

// Calls strewn without order, up to a hundred of a procedure's own, are judged to
// the end. (With two hundred, 2 judgements of 340 ran out of their limit.)
func TestEvenStrewnCallsAreJudgedExactly(t *testing.T) {
	for _, pl := range plans(t) {
		ids := pl.Procedure.Callouts()
		for seed := range uint64(3) {
			rng := rand.New(rand.NewPCG(seed, 3))
			var l rulestest.Lesson
			for i := range 100 {
				c := rulestest.Call(ids[rng.IntN(len(ids))], 4*float64(i))
				if c.ID == "flaps" {
					c = rulestest.With(c, callouts.Flaps, float64(10*(1+rng.IntN(3))))
				}
				c.Confidence = 0.3 + 0.7*rng.Float64()
				l = append(l, c)
			}
			if a := judge(pl, l); len(a.Remarks) > 0 {
				t.Errorf("%s, %s, lesson %d: %q", pl.Procedure.ID, pl.Aircraft.ID, seed, a.Remarks)
			}
		}
	}
}
