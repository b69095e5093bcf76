package rules

import (
	"container/heap"
	"slices"
)

// The alignment chooses for each step one of: a call in place, a call that is
// out of order ("moved"), or none, at the least total cost, such that
//
//   - no call serves two steps;
//   - of two steps in order, both in place, the earlier has the earlier call;
//   - a step of an earlier phase has an earlier call than one of a later phase,
//     in place or moved, but for a slip of a few seconds: a call moves within
//     its phase or just out of it, not to another part of the maneuver;
//   - of two steps in order whose calls say the same, the earlier has the
//     earlier call, moved or not, since nobody could tell them apart;
//   - a step that is called later than it was due pays for it.
//
// Keeping of these only the second makes it a cheapest-cut problem: each step has one place in the order of calls, and the
// places only bind one another by "before". That relaxation is solved exactly,
// and where its answer breaks a rule left out, the problem is split in two or
// three in each of which that cannot happen again (branch and bound). The
// result is the optimum, not an approximation, unless the work that takes goes
// beyond a limit that lessons do not come near: then it is the best found so far.

// choiceKind is what a step has chosen.
type choiceKind uint8

const (
	none choiceKind = iota
	inPlace
	moved
)

// choice is what a step has chosen. call is a place in the order of calls.
type choice struct {
	kind choiceKind
	call int
}

// option is a call a step may choose, in place or moved.
type option struct {
	call        int
	place, move cost // unlimited when not to be had
}

// delay says that a step's call is late when it starts more than seconds after
// the call of step of.
type delay struct {
	step, of int
	seconds  float64
}

// problem is an alignment to be solved. Calls are numbered in order of time.
type problem struct {
	options [][]option // per step, by call
	none    []cost     // per step
	before  [][]bool
	phase   []int     // per step, -1 for steps that belong to none
	start   []float64 // per call, in seconds, ascending
	says    []int     // per call: the same number for calls that say the same
	delays  []delay
	late    cost
}

// limits narrow the options of one step: calls of either kind to lo..hi, calls
// in place to placeLo..placeHi as well; forbidden are single calls.
type limits struct {
	lo, hi, placeLo, placeHi int
	forbidden                []int
}

func (l *limits) allows(call int) bool {
	return call >= l.lo && call <= l.hi && !slices.Contains(l.forbidden, call)
}

func (l *limits) allowsPlace(call int) bool {
	return call >= l.placeLo && call <= l.placeHi && l.allows(call)
}

// node is a part of the search space: its limits per step, the delays already
// paid for, and the relaxation's answer.
type node struct {
	limits  []limits
	paid    []bool // per delay
	extra   cost
	bound   cost
	choices []choice
	serial  int
}

type frontier []*node

func (f frontier) Len() int { return len(f) }
func (f frontier) Less(i, j int) bool {
	if f[i].bound != f[j].bound {
		return f[i].bound < f[j].bound
	}
	return f[i].serial > f[j].serial
}
func (f frontier) Swap(i, j int) { f[i], f[j] = f[j], f[i] }
func (f *frontier) Push(x any)   { *f = append(*f, x.(*node)) }
func (f *frontier) Pop() any {
	old := *f
	n := old[len(old)-1]
	*f = old[:len(old)-1]
	return n
}

// solver keeps its working space between problems. One is for one stretch of
// calls, whose problems share its workLimit.
type solver struct {
	g     network
	nodes int // parts of the search space looked at, for the benchmarks
}

const (
	// clockSlack keeps verdicts from hanging on less than a clock can tell, in seconds.
	clockSlack = 1e-6
	// workLimit is how many arcs of networks one solver may look at, some tenths
	// of a second of work.
	workLimit = 50_000_000
	// phaseSlip is how far a moved call may stray out of its phase, in seconds.
	phaseSlip = 15
)

// solve returns a cheapest choice per step and what it costs.
func (s *solver) solve(p *problem) ([]choice, cost) {
	s.nodes = 0
	root := &node{limits: make([]limits, len(p.options)), paid: make([]bool, len(p.delays))}
	for i := range root.limits {
		root.limits[i] = limits{hi: len(p.start), placeHi: len(p.start)}
	}
	s.relax(p, root)
	best, bestCost := p.mend(root.choices)
	for open := (frontier{root}); len(open) > 0; {
		n := heap.Pop(&open).(*node)
		if n.bound >= bestCost || s.g.work > workLimit {
			break // nor is any other part better, or there is no time to find out
		}
		parts := p.split(n)
		if parts == nil {
			best, bestCost = n.choices, n.bound
			break
		}
		for _, part := range parts {
			s.relax(p, part)
			if part.bound >= bestCost {
				continue
			}
			part.serial = s.nodes
			if c, k := p.mend(part.choices); k < bestCost {
				best, bestCost = c, k
			}
			heap.Push(&open, part)
		}
	}
	return best, bestCost
}

// relax solves the cheapest-cut relaxation of a node.
func (s *solver) relax(p *problem, n *node) {
	s.nodes++
	steps := len(p.options)
	n.choices = make([]choice, steps)
	n.bound = n.extra
	// Away from its own calls a step pays the same wherever it is: for none,
	// or for its cheapest moved call.
	away := make([]cost, steps)
	places := make([][]option, steps)
	nodes := 2
	first := make([]int32, steps)
	for i, opts := range p.options {
		away[i] = p.none[i]
		for _, o := range opts {
			if o.move < away[i] && n.limits[i].allows(o.call) {
				away[i], n.choices[i] = o.move, choice{moved, o.call}
			}
		}
		for _, o := range opts {
			if o.place < away[i] && n.limits[i].allowsPlace(o.call) {
				places[i] = append(places[i], o)
			}
		}
		first[i] = int32(nodes)
		nodes += 2 * len(places[i])
	}
	// A step with m calls has 2m+1 places: before, at and after each of them.
	// Its chain of arcs from source to sink has one arc per place; the one cut
	// is the place taken. Node 2k of the chain stands for "at call k or later",
	// node 2k+1 for "after call k".
	g := &s.g
	g.reset(nodes)
	for i, opts := range places {
		if len(opts) == 0 {
			n.bound += away[i]
			continue
		}
		from, chain, least := int32(0), len(g.arcs), away[i]
		for k, o := range opts {
			least = min(least, o.place)
			at, after := first[i]+int32(2*k), first[i]+int32(2*k+1)
			back := unlimited
			if from == 0 {
				back = 0
			}
			g.connect(from, at, away[i], back)
			g.connect(at, after, o.place, unlimited)
			from = after
		}
		g.connect(from, 1, away[i], 0)
		// The cheapest place is paid for whatever the others do.
		for e := chain; e < len(g.arcs); e += 2 {
			g.fill(e, least)
		}
		n.bound += least
	}
	for a := range steps {
		for b := range steps {
			if !p.before[a][b] || len(places[a]) == 0 || len(places[b]) == 0 {
				continue
			}
			// Where a is at a call or later, b is after that call.
			k := -1
			for j, o := range places[a] {
				for k+1 < len(places[b]) && places[b][k+1].call <= o.call {
					k++
				}
				if k >= 0 {
					g.connect(first[a]+int32(2*j), first[b]+int32(2*k+1), unlimited, 0)
				}
			}
		}
	}
	n.bound += g.cut()
	for i, opts := range places {
		for k, o := range opts {
			if g.level[first[i]+int32(2*k)] >= 0 && g.level[first[i]+int32(2*k+1)] < 0 {
				n.choices[i] = choice{inPlace, o.call}
			}
		}
	}
}

// split finds a rule the choices of a node break and returns the parts of the
// node in each of which that cannot happen again, nil when no rule is broken.
// Every choice that keeps the rules is in one of the parts.
func (p *problem) split(n *node) []*node {
	c := n.choices
	for a := range c {
		for b := range c {
			if a == b || c[a].kind == none || c[b].kind == none {
				continue
			}
			if a < b && c[a].call == c[b].call || p.swapped(c, a, b) {
				left, right := n.part(), n.part()
				left.limits[a].forbidden = append(slices.Clip(left.limits[a].forbidden), c[a].call)
				right.limits[b].forbidden = append(slices.Clip(right.limits[b].forbidden), c[b].call)
				return []*node{left, right}
			}
			if p.phaseBroken(c, a, b) {
				left, right := n.part(), n.part()
				left.limits[b].lo = max(left.limits[b].lo, p.firstFrom(p.start[c[a].call]-phaseSlip))
				right.limits[a].hi = min(right.limits[a].hi, c[a].call-1)
				return []*node{left, right}
			}
		}
	}
	for i, d := range p.delays {
		if n.paid[i] || !p.isLate(c, d) {
			continue
		}
		pay, later, sooner := n.part(), n.part(), n.part()
		pay.paid[i], pay.extra = true, pay.extra+p.late
		of := c[d.of].call
		later.limits[d.of].placeLo = max(later.limits[d.of].placeLo, of+1)
		last := of
		for last+1 < len(p.start) && p.start[last+1] <= p.start[of]+d.seconds+clockSlack {
			last++
		}
		sooner.limits[d.step].placeHi = min(sooner.limits[d.step].placeHi, last)
		return []*node{pay, later, sooner}
	}
	return nil
}

func (n *node) part() *node {
	return &node{limits: slices.Clone(n.limits), paid: slices.Clone(n.paid), extra: n.extra}
}

// swapped tells whether the earlier step a has the later of two like calls.
func (p *problem) swapped(c []choice, a, b int) bool {
	return p.before[a][b] && c[a].call > c[b].call && p.says[c[a].call] == p.says[c[b].call]
}

// phaseBroken tells whether step a of an earlier phase has its call later than
// step b, by more than a slip.
func (p *problem) phaseBroken(c []choice, a, b int) bool {
	return p.phase[a] >= 0 && p.phase[b] >= 0 && p.phase[a] < p.phase[b] &&
		c[b].call < p.firstFrom(p.start[c[a].call]-phaseSlip)
}

// firstFrom is the first call that starts at a second or later.
func (p *problem) firstFrom(second float64) int {
	at, _ := slices.BinarySearch(p.start, second-clockSlack)
	return at
}

// isLate tells whether both steps are in place and the one comes too long after.
func (p *problem) isLate(c []choice, d delay) bool {
	return c[d.step].kind == inPlace && c[d.of].kind == inPlace &&
		p.start[c[d.step].call] > p.start[c[d.of].call]+d.seconds+clockSlack
}

// mend makes choices keep the rules by leaving steps without a call, and says
// what the result costs.
func (p *problem) mend(choices []choice) ([]choice, cost) {
	c := slices.Clone(choices)
	for a := range c {
		for b := range c {
			if a == b || c[a].kind == none || c[b].kind == none {
				continue
			}
			if c[a].call == c[b].call || p.swapped(c, a, b) || p.phaseBroken(c, a, b) {
				drop := a
				if c[b].kind == moved && c[a].kind != moved {
					drop = b
				}
				c[drop] = choice{}
			}
		}
	}
	return c, p.price(c)
}

// price is what choices that keep the rules cost.
func (p *problem) price(c []choice) (total cost) {
	for i, ch := range c {
		if ch.kind == none {
			total += p.none[i]
			continue
		}
		at, _ := slices.BinarySearchFunc(p.options[i], ch.call, func(o option, call int) int { return o.call - call })
		if ch.kind == inPlace {
			total += p.options[i][at].place
		} else {
			total += p.options[i][at].move
		}
	}
	for _, d := range p.delays {
		if p.isLate(c, d) {
			total += p.late
		}
	}
	return total
}
