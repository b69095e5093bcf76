package rules

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// drawProblem makes a small alignment problem of every kind there is: any
// partial order, phases, calls at the same time, calls that say the same, steps
// due soon after others, options of any price.
func drawProblem(t *rapid.T) *problem {
	steps := rapid.IntRange(1, 4).Draw(t, "steps")
	calls := rapid.IntRange(0, 5).Draw(t, "calls")
	price := rapid.Custom(func(t *rapid.T) cost { return cost(rapid.IntRange(0, 40).Draw(t, "tenths")) * nat / 10 })
	p := &problem{
		options: make([][]option, steps), none: make([]cost, steps), phase: make([]int, steps), slip: make([]float64, steps),
		before: make([][]bool, steps), group: make([]int, steps), late: price.Draw(t, "late"),
		offset: cost(rapid.IntRange(-5, 0).Draw(t, "offset")) * nat,
	}
	at := 0.0
	for range calls {
		at += float64(rapid.IntRange(0, 12).Draw(t, "gap"))
		p.start = append(p.start, at)
		p.says = append(p.says, rapid.IntRange(0, 3).Draw(t, "says"))
	}
	phase := 0
	for s := range steps {
		p.before[s] = make([]bool, steps)
		p.none[s] = price.Draw(t, "none")
		phase += rapid.IntRange(0, 1).Draw(t, "next phase")
		p.phase[s] = phase
		p.slip[s] = float64(rapid.IntRange(5, 40).Draw(t, "slip"))
		if rapid.IntRange(0, 4).Draw(t, "anytime") == 0 {
			p.phase[s] = -1
		}
		for c := range calls {
			o := option{c, price.Draw(t, "place"), price.Draw(t, "move")}
			if rapid.Bool().Draw(t, "fits") {
				p.options[s] = append(p.options[s], o)
			}
		}
		if s > 0 && rapid.Bool().Draw(t, "due") {
			p.delays = append(p.delays, delay{s, rapid.IntRange(0, s-1).Draw(t, "after"), float64(rapid.IntRange(1, 20).Draw(t, "within")), rapid.Bool().Draw(t, "sooner")})
		}
		if steps > 1 && rapid.IntRange(0, 3).Draw(t, "compared") == 0 {
			of := rapid.IntRange(0, steps-1).Filter(func(o int) bool { return o != s }).Draw(t, "with")
			table := map[[2]int]cost{}
			for a := range calls {
				for b := range calls {
					table[[2]int{a, b}] = max(0, price.Draw(t, "difference")-2*nat)
				}
			}
			p.like = append(p.like, likeness{s, of, func(a, b int) cost { return table[[2]int{a, b}] }})
		}
		p.group[s] = max(0, rapid.IntRange(-2, 2).Draw(t, "group"))
	}
	for b := range steps {
		for a := range b {
			p.before[a][b] = rapid.Bool().Draw(t, "before") || p.phase[a] >= 0 && p.phase[a] < p.phase[b]
		}
	}
	for m := range steps { // transitive, as the solver is promised
		for a := range steps {
			for b := range steps {
				p.before[a][b] = p.before[a][b] || p.before[a][m] && p.before[m][b]
			}
		}
	}
	return p
}

// lawful is the rules of an alignment, written down a second time.
func lawful(p *problem, c []choice) bool {
	for a := range c {
		for b := range c {
			if a == b || c[a].kind == none || c[b].kind == none {
				continue
			}
			switch {
			case c[a].call == c[b].call:
				return false
			case p.group[a] != 0 && p.group[a] == p.group[b]:
				return false
			case p.before[a][b] && c[a].kind == inPlace && c[b].kind == inPlace && c[a].call > c[b].call:
				return false
			case p.before[a][b] && p.says[c[a].call] == p.says[c[b].call] && c[a].call > c[b].call:
				return false
			case p.phase[a] >= 0 && p.phase[b] >= 0 && p.phase[a] < p.phase[b] && p.start[c[b].call] < p.start[c[a].call]-max(p.slip[a], p.slip[b]):
				return false
			}
		}
	}
	return true
}

// dear is the price of an alignment, worked out a second time.
func dear(p *problem, c []choice) cost {
	total := p.offset
	for s, ch := range c {
		for _, o := range p.options[s] {
			if o.call == ch.call && ch.kind == inPlace {
				total += o.place
			}
			if o.call == ch.call && ch.kind == moved {
				total += o.move
			}
		}
		if ch.kind == none {
			total += p.none[s]
		}
	}
	for _, d := range p.delays {
		if c[d.step].kind != inPlace || c[d.of].kind != inPlace {
			continue
		}
		gap := p.start[c[d.step].call] - p.start[c[d.of].call]
		if d.sooner && gap < d.seconds || !d.sooner && gap > d.seconds {
			total += p.late
		}
	}
	for _, l := range p.like {
		if c[l.step].kind != none && c[l.of].kind != none {
			total += l.price(c[l.step].call, c[l.of].call)
		}
	}
	return total
}

// exhaustive tries everything.
func exhaustive(p *problem) cost {
	best := unlimited
	c := make([]choice, len(p.options))
	var try func(s int)
	try = func(s int) {
		if s == len(c) {
			if lawful(p, c) {
				best = min(best, dear(p, c))
			}
			return
		}
		c[s] = choice{}
		try(s + 1)
		for _, o := range p.options[s] {
			c[s] = choice{inPlace, o.call}
			try(s + 1)
			c[s] = choice{moved, o.call}
			try(s + 1)
		}
	}
	try(0)
	return best
}

func TestTheAlignmentIsTheBestThereIs(t *testing.T) {
	for range 20 { // a hundred problems each, since few are hard
		rapid.Check(t, isTheBest)
	}
}

func isTheBest(t *rapid.T) {
	p := drawProblem(t)
	var s solver
	got, total := s.solve(p)
	if !lawful(p, got) {
		t.Fatalf("%+v breaks the rules", got)
	}
	if dear(p, got) != total {
		t.Fatalf("told to cost %d, costs %d", total, dear(p, got))
	}
	want := exhaustive(p)
	if total != want {
		t.Fatalf("costs %d, the best costs %d", total, want)
	}
	if c, _ := s.solveBelow(p, want); c != nil {
		t.Fatalf("%+v is to cost less than the best", c)
	}
	if c, k := s.solveBelow(p, want+1); c == nil || k != want {
		t.Fatalf("the best is not found below %d", want+1)
	}
}

func TestTheSolverCanBeUsedAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var used, fresh solver
		used.solve(drawProblem(t))
		p := drawProblem(t)
		a, ka := used.solve(p)
		b, kb := fresh.solve(p)
		if ka != kb || !slices.Equal(a, b) {
			t.Fatalf("%v at %d, but %v at %d when fresh", a, ka, b, kb)
		}
	})
}

// A network whose cheapest cut is plain to see: 3 and 2 from the source, 2 and
// 3 to the sink, 1 across.
func TestCheapestCut(t *testing.T) {
	var g network
	g.reset(4)
	g.connect(0, 2, 3, 0)
	g.connect(0, 3, 2, 0)
	g.connect(2, 3, 1, 0)
	g.connect(2, 1, 2, 0)
	g.connect(3, 1, 3, 0)
	if got := g.cut(); got != 5 {
		t.Errorf("cut is %d, want 5", got)
	}
}

// Where there is no time to try every explanation, the assessment says so.
func TestAResultThatIsOnlyTheBestFoundIsSaidToBe(t *testing.T) {
	p, err := ParseProcedure("flown.yaml", []byte(flown))
	if err != nil {
		t.Fatal(err)
	}
	pl, err := Bind(p, &Aircraft{ID: "any", Facts: map[string]Fact{}})
	if err != nil {
		t.Fatal(err)
	}
	draw := rapid.Custom(drawFlown)
	said := map[bool]int{}
	for i := range 40 {
		calls := draw.Example(i)
		for _, limit := range []int{1, workLimit} {
			j := newJudging(pl, calls, 0, len(calls))
			j.solver.limit = limit
			j.choices, j.total = j.solver.solve(&j.problem)
			a := j.assess()
			switch {
			case limit == 1 && len(a.Remarks) > 0:
				if a.Remarks[0] != inexact {
					t.Fatalf("%q", a.Remarks)
				}
				said[true]++
			case limit == 1:
				said[false]++ // the first try was right already
			case len(a.Remarks) > 0:
				t.Errorf("%q of a maneuver judged to the end", a.Remarks)
			}
		}
	}
	if said[true] == 0 || said[false] == 0 {
		t.Errorf("said of %d maneuvers, not of %d", said[true], said[false])
	}
}
