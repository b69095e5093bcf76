package rules_test

import (
	"fmt"
	"strings"
	"testing"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/library"
	"sidetone/rules/rulestest"
)

// chain is a procedure of n steps in three phases, with two callouts that occur
// in several of them, as trim and flaps do.
func chain(b *testing.B, n int) *rules.Plan {
	var y strings.Builder
	y.WriteString("id: chain\ntitle: Chain\nphases:\n")
	for i := range n {
		if i%((n+2)/3) == 0 {
			fmt.Fprintf(&y, "  - title: P%d\n    steps:\n", i)
		}
		call := fmt.Sprintf("call-%d", i)
		if i%5 == 4 {
			call = fmt.Sprintf("again-%d", i%2)
		}
		fmt.Fprintf(&y, "      - {id: s%d, title: S%d, call: %s, reference: r}\n", i, i, call)
	}
	p, err := rules.ParseProcedure("chain.yaml", []byte(y.String()))
	if err != nil {
		b.Fatal(err)
	}
	ac, err := library.DefaultAircraft()
	if err != nil {
		b.Fatal(err)
	}
	pl, err := rules.Bind(p, ac)
	if err != nil {
		b.Fatal(err)
	}
	return pl
}

// BenchmarkJudgeLesson is what is judged in earnest: a maneuver as it is flown.
func BenchmarkJudgeLesson(b *testing.B) {
	pl := plan(b, "slow-flight-landing")
	lesson, _ := rulestest.Perfect(pl, 0)
	lesson = lesson.Without(7).Moved(14, 12)
	b.ReportAllocs()
	for b.Loop() {
		pl.Judge(lesson, 0, len(lesson))
	}
}

// BenchmarkJudge strews the calls, of any confidence, without regard to the
// order: the hardest there is to explain, and no lesson.
func BenchmarkJudge(b *testing.B) {
	for _, steps := range []int{10, 20, 40} {
		for _, calls := range []int{20, 200, 2000} {
			b.Run(fmt.Sprintf("%dsteps/%dcalls", steps, calls), func(b *testing.B) {
				pl := chain(b, steps)
				ids := pl.Procedure.Callouts()
				var l []callouts.Call
				for i := range calls {
					c := rulestest.Call(ids[(i*7+i/11)%len(ids)], float64(3*i))
					c.Confidence = 0.3 + float64(i*37%70)/100
					l = append(l, c)
				}
				b.ReportAllocs()
				for b.Loop() {
					pl.Judge(l, 0, len(l))
				}
			})
		}
	}
}

// BenchmarkJudgeFlown flies the procedure over and over, with one call left out
// and one too early each time, and judges all of it as one attempt: how the work
// grows with steps and calls.
func BenchmarkJudgeFlown(b *testing.B) {
	for _, steps := range []int{10, 20, 40} {
		pl := chain(b, steps)
		once, _ := rulestest.Perfect(pl, 0)
		once = once.Without(steps/2).Moved(steps-4, steps-6)
		for _, calls := range []int{20, 200, 2000} {
			var l rulestest.Lesson
			for i := range calls {
				c := once[i%len(once)]
				c.Start = 6 * float64(i)
				c.End = c.Start + 1
				l = append(l, c)
			}
			b.Run(fmt.Sprintf("%dsteps/%dcalls", steps, calls), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					pl.Judge(l, 0, len(l))
				}
			})
		}
	}
}

func BenchmarkBind(b *testing.B) {
	p, err := library.Procedure("slow-flight-landing")
	if err != nil {
		b.Fatal(err)
	}
	ac, err := library.DefaultAircraft()
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := rules.Bind(p, ac); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkParseProcedure(b *testing.B) {
	src, err := library.Source("slow-flight-landing")
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := rules.ParseProcedure("p.yaml", src); err != nil {
			b.Fatal(err)
		}
	}
}
