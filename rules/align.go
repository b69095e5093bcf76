package rules

import (
	"cmp"
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
//   - of several steps of which one is needed, one has a call at most;
//   - a step that is called later than it was due, or sooner, pays for it;
//   - a step whose figure is held against that of another step's call pays for
//     the difference.
//
// Keeping of these only the second makes it a cheapest-cut problem: each step
// has one place in the order of calls, and the places only bind one another by
// "before". That relaxation is solved exactly,
// and where its answer breaks a rule left out, the problem is split in two or
// three in each of which that cannot happen again (branch and bound). The
// result is the optimum, not an approximation, unless the work that takes goes
// beyond a limit that lessons do not come near: then it is the best found so far,
// and the assessment says so.

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
// the call of step of or, where sooner is set, early when it starts less than
// that after it.
type delay struct {
	step, of int
	seconds  float64
	sooner   bool
}

// likeness says that the figure of a step is held against that of another: where
// both have a call, price is what the difference costs.
type likeness struct {
	step, of int
	price    func(call, of int) cost
}

// problem is an alignment to be solved. Calls are numbered in order of time.
type problem struct {
	options [][]option // per step, by call
	none    []cost     // per step
	before  [][]bool
	phase   []int     // per step, -1 for steps that belong to none
	slip    []float64 // per step, how far it or its call may stray out of its phase, in seconds
	start   []float64 // per call, in seconds, ascending
	says    []int     // per call: the same number for calls that say the same
	group   []int     // per step: the same number for steps of which one is needed, 0 for none
	delays  []delay
	late    cost
	like    []likeness
	offset  cost // paid in any case; less than nothing gives back what groups pay too often
}

// limits narrow the options of one step: calls of either kind to lo..hi, calls
// in place to placeLo..placeHi as well; forbidden are single calls; must asks
// for one of those left.
type limits struct {
	lo, hi, placeLo, placeHi int
	forbidden                []int
	must                     bool
}

func (l *limits) allows(call int) bool {
	return call >= l.lo && call <= l.hi && !slices.Contains(l.forbidden, call)
}

func (l *limits) allowsPlace(call int) bool {
	return call >= l.placeLo && call <= l.placeHi && l.allows(call)
}

// node is a part of the search space: its limits per step, the delays already
// paid for, the calls figures are held against, and the relaxation's answer.
type node struct {
	limits  []limits
	paid    []bool // per delay
	against []int  // per likeness, 1 more than the call of its step of; 0 while open
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
	nodes int  // parts of the search space looked at, for the benchmarks
	limit int  // of the work, workLimit when 0
	short bool // of time: what was found may not be the optimum
}

const (
	// clockSlack keeps verdicts from hanging on less than a clock can tell, in seconds.
	clockSlack = 1e-6
	// workLimit is how many arcs of networks one solver may look at, some tenths
	// of a second of work.
	workLimit = 50_000_000
	// phaseSlip is how far a moved call may stray out of its phase, in seconds, and
	// ownSlip that of a callout no other step asks for.
	phaseSlip = 15
	ownSlip   = 60
)

// solve returns a cheapest choice per step and what it costs.
func (s *solver) solve(p *problem) ([]choice, cost) { return s.solveBelow(p, unlimited) }

// solveBelow is solve for when only what costs less than a limit is of interest;
// it returns nil when there is nothing.
func (s *solver) solveBelow(p *problem, limit cost) ([]choice, cost) {
	s.nodes = 0
	root := &node{limits: make([]limits, len(p.options)), paid: make([]bool, len(p.delays)), against: make([]int, len(p.like)), extra: p.offset}
	for i := range root.limits {
		root.limits[i] = limits{hi: len(p.start), placeHi: len(p.start)}
	}
	s.relax(p, root)
	best, bestCost := p.mend(root.choices)
	if bestCost >= limit {
		best, bestCost = nil, limit
	}
	for open := (frontier{root}); len(open) > 0; {
		n := heap.Pop(&open).(*node)
		if n.bound >= bestCost {
			break // nor is any other part better
		}
		if s.g.work > cmp.Or(s.limit, workLimit) {
			s.short = true
			break
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
		if n.limits[i].must {
			away[i] = unlimited
		}
		for _, o := range opts {
			o = p.compared(n, i, o)
			if o.move < away[i] && n.limits[i].allows(o.call) {
				away[i], n.choices[i] = o.move, choice{moved, o.call}
			}
		}
		for _, o := range opts {
			o = p.compared(n, i, o)
			if o.place < away[i] && n.limits[i].allowsPlace(o.call) {
				places[i] = append(places[i], o)
			}
		}
		if away[i] == unlimited {
			if len(places[i]) == 0 {
				n.bound = unlimited // nothing is left for a step that must have something
				return
			}
			away[i] = forbidding
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
	for i := range n.limits {
		if n.limits[i].must && n.choices[i].kind == none {
			n.bound = unlimited
		}
	}
}

// compared adds to an option what its figure costs against those that are settled.
func (p *problem) compared(n *node, step int, o option) option {
	for i, l := range p.like {
		if l.step != step || n.against[i] == 0 {
			continue
		}
		k := l.price(o.call, n.against[i]-1)
		o.place = min(unlimited, o.place+k)
		o.move = min(unlimited, o.move+k)
	}
	return o
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
			if a < b && p.grouped(a, b) {
				left, right := n.part(), n.part()
				left.limits[a].hi, right.limits[b].hi = -1, -1
				return []*node{left, right}
			}
			if p.phaseBroken(c, a, b) {
				left, right := n.part(), n.part()
				left.limits[b].lo = max(left.limits[b].lo, p.firstFrom(p.start[c[a].call]-p.strays(a, b)))
				right.limits[a].hi = min(right.limits[a].hi, c[a].call-1)
				return []*node{left, right}
			}
		}
	}
	for i, d := range p.delays {
		if n.paid[i] || !p.mistimed(c, d) {
			continue
		}
		pay, of, step := n.part(), n.part(), n.part()
		pay.paid[i], pay.extra = true, pay.extra+p.late
		at := c[d.of].call
		if d.sooner {
			of.limits[d.of].placeHi = min(of.limits[d.of].placeHi, at-1)
			step.limits[d.step].placeLo = max(step.limits[d.step].placeLo, p.firstFrom(p.start[at]+d.seconds))
		} else {
			of.limits[d.of].placeLo = max(of.limits[d.of].placeLo, at+1)
			last := at
			for last+1 < len(p.start) && p.start[last+1] <= p.start[at]+d.seconds+clockSlack {
				last++
			}
			step.limits[d.step].placeHi = min(step.limits[d.step].placeHi, last)
		}
		return []*node{pay, of, step}
	}
	for i, l := range p.like {
		if n.against[i] != 0 || p.unlike(c, l) == 0 {
			continue
		}
		at := c[l.of].call
		other, this := n.part(), n.part()
		other.limits[l.of].forbidden = append(slices.Clip(other.limits[l.of].forbidden), at)
		this.against[i] = at + 1
		this.limits[l.of].lo, this.limits[l.of].hi, this.limits[l.of].must = max(this.limits[l.of].lo, at), min(this.limits[l.of].hi, at), true
		return []*node{other, this}
	}
	return nil
}

func (n *node) part() *node {
	return &node{limits: slices.Clone(n.limits), paid: slices.Clone(n.paid), against: slices.Clone(n.against), extra: n.extra}
}

// grouped tells whether one of two steps is enough.
func (p *problem) grouped(a, b int) bool { return p.group[a] > 0 && p.group[a] == p.group[b] }

// unlike is what the figures of two steps cost for being unlike.
func (p *problem) unlike(c []choice, l likeness) cost {
	if c[l.step].kind == none || c[l.of].kind == none {
		return 0
	}
	return l.price(c[l.step].call, c[l.of].call)
}

// swapped tells whether the earlier step a has the later of two like calls.
func (p *problem) swapped(c []choice, a, b int) bool {
	return p.before[a][b] && c[a].call > c[b].call && p.says[c[a].call] == p.says[c[b].call]
}

// phaseBroken tells whether step a of an earlier phase has its call later than
// step b, by more than a slip.
func (p *problem) phaseBroken(c []choice, a, b int) bool {
	return p.phase[a] >= 0 && p.phase[b] >= 0 && p.phase[a] < p.phase[b] &&
		c[b].call < p.firstFrom(p.start[c[a].call]-p.strays(a, b))
}

// strays is how much later than the call of a step of a later phase one of an earlier
// may have its own, in seconds.
func (p *problem) strays(a, b int) float64 { return max(p.slip[a], p.slip[b]) }

// firstFrom is the first call that starts at a second or later.
func (p *problem) firstFrom(second float64) int {
	at, _ := slices.BinarySearch(p.start, second-clockSlack)
	return at
}

// mistimed tells whether both steps are in place and the one comes too long
// after the other, or too soon.
func (p *problem) mistimed(c []choice, d delay) bool {
	if c[d.step].kind != inPlace || c[d.of].kind != inPlace {
		return false
	}
	gap := p.start[c[d.step].call] - p.start[c[d.of].call]
	if d.sooner {
		return gap < d.seconds-clockSlack
	}
	return gap > d.seconds+clockSlack
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
			if c[a].call == c[b].call || p.swapped(c, a, b) || p.phaseBroken(c, a, b) || p.grouped(a, b) {
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
func (p *problem) price(c []choice) cost {
	total := p.offset
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
		if p.mistimed(c, d) {
			total += p.late
		}
	}
	for _, l := range p.like {
		total += p.unlike(c, l)
	}
	return total
}
