package rules_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/rulestest"
)

// The prices and rules of COSTS.md written down a second time, over procedures
// and calls instead of the problems the solver sees, and every explanation tried.

// sketch is a small procedure that may use all of the language that bears on the
// alignment.
type sketch struct {
	steps []sketchStep
}

type sketchStep struct {
	call, by          string
	phase, group      int
	optional, figure  bool
	asAt              int // the step whose figure this one should have, -1 for none
	within, wait      float64
	withinOf, waitFor int // -1 for none
	cue               float64
	anytime, free     bool
}

func (k sketch) yaml() string {
	var b strings.Builder
	b.WriteString("id: sketch\ntitle: Sketch\nphases:\n")
	for i, s := range k.steps {
		if i == 0 || s.phase != k.steps[i-1].phase {
			fmt.Fprintf(&b, "  - title: P%d\n    steps:\n", s.phase)
		}
		in := "      "
		if s.group > 0 {
			if i == 0 || k.steps[i-1].group != s.group {
				b.WriteString("      - one_of:\n")
			}
			in = "          "
		}
		fmt.Fprintf(&b, "%s- {id: s%d, title: S%d, call: %s, reference: r", in, i, i, s.call)
		if s.by != "" {
			fmt.Fprintf(&b, ", by: %s", s.by)
		}
		if s.optional {
			b.WriteString(", optional: true")
		}
		switch {
		case s.asAt >= 0:
			fmt.Fprintf(&b, ", value: {of: altitude, as_called_at: s%d, tolerance: 100}", s.asAt)
		case s.figure:
			b.WriteString(", value: {of: altitude, target: 1000, tolerance: 100}")
		}
		if s.withinOf >= 0 {
			fmt.Fprintf(&b, ", within: {seconds: %v, of: s%d}", s.within, s.withinOf)
		} else if s.cue > 0 {
			fmt.Fprintf(&b, ", within: {seconds: %v, cue: now}", s.cue)
		}
		if s.waitFor >= 0 {
			fmt.Fprintf(&b, ", not_before: {seconds: %v, of: s%d}", s.wait, s.waitFor)
		}
		if s.anytime {
			b.WriteString(", anytime: true")
		} else if s.free {
			b.WriteString(", after: []")
		}
		b.WriteString("}\n")
	}
	return b.String()
}

func drawSketch(t *rapid.T) sketch {
	var k sketch
	n := rapid.IntRange(1, 4).Draw(t, "steps")
	chance := func(of int, what string) bool { return rapid.IntRange(1, of).Draw(t, what) == 1 }
	phase, group := 0, 0
	for i := range n {
		s := sketchStep{call: rapid.SampledFrom([]string{"a", "a", "b"}).Draw(t, "call"), asAt: -1, withinOf: -1, waitFor: -1}
		joined := i > 0 && k.steps[i-1].group > 0 && chance(2, "joins")
		if joined {
			s.phase, s.group = phase, group
			k.steps[i-1].optional, s.optional = false, false
		} else {
			if i > 0 && chance(4, "next phase") {
				phase++
			}
			s.phase = phase
			s.optional = chance(5, "optional")
			if !s.optional && i+1 < n && chance(3, "group") {
				group++
				s.group = group
			}
		}
		if chance(4, "by") {
			s.by = "student"
		}
		s.figure = chance(2, "figure")
		if i > 0 && s.figure && k.steps[i-1].figure && chance(2, "as at") {
			s.asAt = i - 1
		}
		s.anytime, s.free = chance(6, "anytime"), chance(4, "free")
		if i > 0 && chance(4, "within") {
			s.within, s.withinOf = float64(rapid.IntRange(1, 20).Draw(t, "seconds")), rapid.IntRange(0, i-1).Draw(t, "of")
		} else if chance(4, "cue") {
			s.cue = float64(rapid.IntRange(1, 20).Draw(t, "cue seconds"))
		}
		if i > 0 && !s.anytime && chance(4, "wait") {
			s.wait, s.waitFor = float64(rapid.IntRange(1, 20).Draw(t, "wait seconds")), i-1
		}
		k.steps = append(k.steps, s)
	}
	// A group of one is none.
	for i := range k.steps {
		g := k.steps[i].group
		if g > 0 && (i == 0 || k.steps[i-1].group != g) && (i+1 == n || k.steps[i+1].group != g) {
			k.steps[i].group = 0
		}
	}
	return k
}

func drawCalls(t *rapid.T) []callouts.Call {
	var out []callouts.Call
	at := 0.0
	for range rapid.IntRange(0, 5).Draw(t, "calls") {
		at += float64(rapid.IntRange(0, 25).Draw(t, "gap"))
		c := callouts.Call{
			ID: rapid.SampledFrom([]string{"a", "a", "b", "now"}).Draw(t, "id"), Start: at, End: at + 1, Stance: callouts.Done,
			Speaker:    rapid.SampledFrom([]string{"", "Student", "instructor"}).Draw(t, "speaker"),
			Confidence: rapid.SampledFrom([]float64{0.99, 0.9, 0.7, 0.3}).Draw(t, "confidence"),
		}
		if v := rapid.SampledFrom([]float64{0, 1000, 1050, 1101, 1400, 3000}).Draw(t, "value"); v > 0 && c.ID != "now" {
			c.Value = &v
		}
		if rapid.IntRange(1, 5).Draw(t, "ordered") == 1 {
			c.Stance = callouts.Ordered
		}
		out = append(out, c)
	}
	return out
}

// told by COSTS.md: what a figure costs against a target.
func figurePrice(v *float64, target float64) float64 {
	if v == nil {
		return 0.25
	}
	miss := math.Abs(*v-target) - 100
	if miss <= 0 {
		return 0
	}
	return 1 + 1.5*min(1, miss/500)
}

func cheapest(k sketch, p *rules.Procedure, calls []callouts.Call) float64 {
	type saying struct {
		id string
		v  float64
	}
	listened := map[string]bool{}
	for _, s := range k.steps {
		listened[s.call] = true
	}
	var use []callouts.Call
	var cues []float64 // each with all that is said again within half a minute
	var runs []float64
	for _, c := range calls {
		if c.Stance == callouts.Done && listened[c.ID] {
			use = append(use, c)
		}
		if c.ID == "now" && c.Confidence >= 0.5 {
			if n := len(cues); n > 0 && c.Start-runs[n-1] <= 30 {
				runs[n-1] = c.Start
			} else {
				cues, runs = append(cues, c.Start), append(runs, c.Start)
			}
		}
	}
	says := func(c callouts.Call) saying {
		if c.Value == nil {
			return saying{c.ID, 0}
		}
		return saying{c.ID, *c.Value}
	}
	before := func(a, b int) bool { return p.Before(fmt.Sprint("s", a), fmt.Sprint("s", b)) }
	type pick struct{ call, kind int } // kind 0 none, 1 in place, 2 moved
	pickOf := make([]pick, len(k.steps))
	price := func() float64 {
		total := 0.0
		groups := map[int]int{}
		for i, s := range k.steps {
			x := pickOf[i]
			part := 1.0
			if s.optional {
				part = 50
			}
			if x.kind == 0 {
				if s.group == 0 {
					total += 3 / part
				} else {
					groups[s.group] += 0
				}
				continue
			}
			groups[s.group]++
			c := use[x.call]
			own := 0.0
			if c.Confidence < 0.9 {
				own += 0.5 * (math.Log(9) - math.Log(c.Confidence/(1-c.Confidence)))
			}
			switch {
			case !s.figure:
			case s.asAt < 0:
				own += figurePrice(c.Value, 1000)
			case c.Value == nil:
				own += 0.25
			default:
				if o := pickOf[s.asAt]; o.kind != 0 && use[o.call].Value != nil {
					more := figurePrice(c.Value, *use[o.call].Value)
					if !s.optional && k.steps[s.asAt].optional {
						more /= 50
					}
					own += more
				}
			}
			total += own/part + 1e-9*float64(x.call)
			if x.kind == 2 {
				total += 2 + 1e-4*float64(len(k.steps)-1-i)
				continue
			}
			if s.optional {
				continue
			}
			if s.withinOf >= 0 {
				if o := pickOf[s.withinOf]; o.kind == 1 && c.Start-use[o.call].Start > s.within {
					total++
				}
			} else if s.cue > 0 {
				for q := len(cues) - 1; q >= 0; q-- {
					if cues[q] <= c.Start {
						if c.Start-runs[q] <= 60 && c.Start-cues[q] > s.cue {
							total++
						}
						break
					}
				}
			}
			if s.waitFor >= 0 {
				if o := pickOf[s.waitFor]; o.kind == 1 && c.Start-use[o.call].Start < s.wait {
					total++
				}
			}
		}
		for g, n := range groups {
			if g > 0 && n == 0 {
				total += 3
			}
		}
		return total
	}
	slip := func(s int) float64 { // of a callout no other step asks for more
		for o := range k.steps {
			if o != s && k.steps[o].call == k.steps[s].call {
				return 15
			}
		}
		return 60
	}
	lawful := func() bool {
		for a := range pickOf {
			for b := range pickOf {
				x, y := pickOf[a], pickOf[b]
				if a == b || x.kind == 0 || y.kind == 0 {
					continue
				}
				switch {
				case x.call == y.call,
					k.steps[a].group > 0 && k.steps[a].group == k.steps[b].group,
					before(a, b) && x.kind == 1 && y.kind == 1 && x.call > y.call,
					before(a, b) && x.call > y.call && says(use[x.call]) == says(use[y.call]),
					!k.steps[a].anytime && !k.steps[b].anytime && k.steps[a].phase < k.steps[b].phase && use[y.call].Start < use[x.call].Start-max(slip(a), slip(b)):
					return false
				}
			}
		}
		return true
	}
	best := math.Inf(1)
	var try func(i int)
	try = func(i int) {
		if i == len(pickOf) {
			if lawful() {
				best = min(best, price())
			}
			return
		}
		pickOf[i] = pick{}
		try(i + 1)
		s := k.steps[i]
		for c := range use {
			if use[c].ID != s.call || s.by != "" && strings.EqualFold(use[c].Speaker, "instructor") {
				continue
			}
			pickOf[i] = pick{c, 1}
			try(i + 1)
			again := c > 0 && says(use[c]) == says(use[c-1]) && use[c].Start-use[c-1].Start <= 30
			if !s.optional && !again {
				pickOf[i] = pick{c, 2}
				try(i + 1)
			}
		}
		pickOf[i] = pick{}
	}
	try(0)
	return best
}

func TestAJudgementIsTheCheapestByTheBook(t *testing.T) {
	ac := &rules.Aircraft{ID: "any", Title: "Any", Facts: map[string]rules.Fact{}}
	for range 20 { // a hundred cases each
		rapid.Check(t, func(t *rapid.T) {
			k := drawSketch(t)
			p, err := rules.ParseProcedure("sketch.yaml", []byte(k.yaml()))
			if err != nil {
				t.Fatalf("%v\n%s", rules.Problems(err), k.yaml())
			}
			pl, err := rules.Bind(p, ac)
			if err != nil {
				t.Fatal(err)
			}
			calls := drawCalls(t)
			a := pl.Judge(calls, 0, len(calls))
			if want := cheapest(k, p, calls); math.Abs(a.Cost-want) > 1e-7 {
				t.Fatalf("costs %.9f, by the book %.9f\n%s%+v", a.Cost, want, k.yaml(), calls)
			}
		})
	}
}

// A call that was left out, made in its place after all, makes no lesson worse.
func TestACorrectCallNeverMakesALessonWorse(t *testing.T) {
	pls := plans(t)
	rapid.Check(t, func(t *rapid.T) {
		pl := rapid.SampledFrom(pls).Draw(t, "plan")
		full := drawLesson(t, pl)
		if len(full) == 0 {
			return
		}
		i := rapid.IntRange(0, len(full)-1).Draw(t, "left out")
		if full[i].Stance != callouts.Done {
			return
		}
		without, with := judge(pl, full.Without(i)), judge(pl, full)
		if with.Cost > without.Cost+1e-6 {
			t.Fatalf("costs %v with %s at %v, %v without", with.Cost, full[i].ID, full[i].Start, without.Cost)
		}
	})
}

// Nor does it bring a fault with it: of what is told with it, nothing serious is
// told of a step nothing was told of without it.
func TestACorrectCallBringsNoFault(t *testing.T) {
	pls := plans(t)
	rapid.Check(t, func(t *rapid.T) {
		pl := rapid.SampledFrom(pls).Draw(t, "plan")
		lesson, ids := rulestest.Perfect(pl, 30)
		i := rapid.IntRange(0, len(ids)-1).Draw(t, "left out")
		o := rapid.IntRange(0, len(ids)-1).Draw(t, "also left out")
		if o == i {
			return
		}
		with, without := judge(pl, lesson.Without(o)), judge(pl, lesson.Without(max(i, o)).Without(min(i, o)))
		if grave(with) > grave(without) {
			t.Fatalf("%v without %s, %v with it", told(without), ids[i], told(with))
		}
	})
}

func grave(a rules.Assessment) (n int) {
	for _, f := range a.Findings {
		if f.Severity != rules.Note || f.Kind == string(rules.NotHeard) {
			n++
		}
	}
	return n
}
