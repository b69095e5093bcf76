package timeline

import (
	"math"
	"slices"

	"sidetone/callouts"
	"sidetone/rules"
)

// Maneuvers are found by reading the lesson once, call by call, as if it were
// produced by chatter in which whole procedures are flown now and then. A step
// heard speaks for a procedure, a step left out and a call it does not explain
// speak against it, and so does time passing without a call. The best division
// of the lesson into stretches follows by dynamic programming; each stretch is
// then judged exactly by rules.
//
// The figures are log-odds in nats, of the same scale as the costs of rules.
// They are our own estimates: common practice, no source.
const (
	gainStep     = 3.0       // a required step was heard
	gainOptional = 0.3       // an optional one was
	gainOwn      = 1.25      // an optional one of a call no other procedure has
	gainNamed    = 2.0       // the maneuver was named shortly before
	missStep     = 2.0       // a required step was not heard
	strayCall    = 0.3       // a call of the procedure that fits no step here
	gainMoved    = 2.3       // or one that fits a required step which is not called in its place: it was called out of order
	foreignCall  = 1.25      // a call only other procedures have
	clearly      = 0.5       // the confidence from which a call ends a maneuver or names it
	certainly    = 0.85      // and from which it rules one out
	waitInPhase  = 1.2 / 60  // per second between the steps of a phase
	lingers      = 45.0      // seconds between two calls of a phase after which
	waitLonger   = 2.0 / 60  // each second costs so much more
	waitBetween  = 0.15 / 60 // per second between phases: slow flight is held a while
	atOnce       = 45.0      // seconds after the last step in which a call out of order is told from a stray one
	evidence     = 5.0       // what a stretch must be worth to be told of
	namedBefore  = 180.0     // seconds before its first call in which a maneuver may be named
	never        = -math.MaxFloat64 / 4
	ruledOut     = math.MaxFloat64 / 8
)

// stretch is a stretch of calls explained by a plan. start and end are the
// first and last call it explains.
type stretch struct {
	plan       *rules.Plan
	start, end int
	prev       *stretch // the stretch before it in the best division
	named      bool
	givenUp    *givenUp // nil when it was flown to its end
}

// state is the best way to have got to a place in a plan.
type state struct {
	worth float64
	base  float64  // what the division before it is worth
	start int      // the first call explained, -1 when none was yet
	end   int      // the last one
	prev  *stretch // what came before
	named bool     // the maneuver was named before it began
	again bool     // it would be the new attempt at one given up before
	heard int      // required steps
	link  int      // the last one heard
	met   uint64   // the links heard in their place
	moved uint64   // those heard out of it
	at    float64  // when, in seconds
}

// track follows one plan through the lesson. states[k] has the first k links
// behind it.
type track struct {
	plan    *rules.Plan
	links   []rules.Link
	place   []int // of the links, in those of the plan
	listens map[string][]int
	anytime map[string]bool // callouts of steps that have no place in the order
	own     map[string]bool // callouts no other procedure has
	names   []float64       // when the maneuver was named
	due     []int           // due[k] is how many required links there are among the first k
	final   int             // the phase of the last required link, -1 where there is no other
	states  []state
	next    []state
	clock   float64
	quits   quits
	fresh   state // the division before the call that is heard
}

type search struct {
	calls  []callouts.Call
	ends   []*ending // per call: the words after it that give an attempt up, nil for none
	tracks []*track
	known  map[string]bool // callouts of any required step
	radio  []bool          // per call: it was made on the radio; nil when that is not known
	hints  []callouts.Call // calls that were perhaps made
	others []bool          // per call: it was made on the radio, and by others as it seems
	worth  float64         // of the best division up to now
	last   *stretch        // its last stretch
	best   stretch         // the best single stretch, whatever it is worth
	top    float64         // what that is worth
}

func newSearch(l Lesson, plans []*rules.Plan) *search {
	s := &search{calls: l.Calls, ends: endings(l.Calls), known: map[string]bool{}, radio: l.Radio, hints: l.Hints, best: stretch{start: -1}, top: never}
	for _, p := range plans {
		t := newTrack(p)
		for id, at := range t.listens {
			if slices.ContainsFunc(at, func(k int) bool { return !t.links[k].Optional }) {
				s.known[id] = true
			}
		}
		for _, n := range l.Names {
			if slices.Contains(n.Procedures, p.Procedure.ID) {
				t.names = append(t.names, n.At)
			}
		}
		s.tracks = append(s.tracks, t)
	}
	for _, t := range s.tracks {
		for id := range t.listens {
			t.own[id] = !slices.ContainsFunc(s.tracks, func(o *track) bool { return o != t && len(o.listens[id]) > 0 })
		}
	}
	s.others = s.elsewhere(l.Radio)
	return s
}

func newTrack(p *rules.Plan) *track {
	t := &track{plan: p, listens: map[string][]int{}, anytime: map[string]bool{}, own: map[string]bool{}, due: []int{0}}
	place := map[int]int{} // from places in Links to places in t.links
	for i, l := range p.Links() {
		if l.Anytime {
			continue
		}
		place[i] = len(t.links)
		t.links, t.place = append(t.links, l), append(t.place, i)
		n := t.due[len(t.due)-1]
		if !l.Optional {
			n++
			t.final = l.Phase
		}
		t.due = append(t.due, n)
	}
	for _, id := range p.Procedure.Callouts() {
		for _, i := range p.Listens(id) {
			if k, ok := place[i]; ok {
				t.listens[id] = append(t.listens[id], k)
			} else {
				t.anytime[id] = true
			}
		}
	}
	if !slices.ContainsFunc(t.links, func(l rules.Link) bool { return !l.Optional && l.Phase != t.final }) {
		t.final = -1
	}
	t.states = make([]state, len(t.links)+1)
	for k := range t.states {
		t.states[k] = state{worth: never, start: -1}
	}
	t.next = make([]state, len(t.states))
	return t
}

func (s *search) run() {
	hints := s.hints
	hint := func(before float64) {
		for ; len(hints) > 0 && hints[0].Start < before; hints = hints[1:] {
			for _, t := range s.tracks {
				if t.hint(&hints[0]) {
					s.end(t)
				}
			}
		}
	}
	for i := range s.calls {
		c := &s.calls[i]
		hint(c.Start)
		s.settle(c.Start)
		if givesUp(c) {
			for _, t := range s.tracks {
				t.interrupt()
			}
		}
		if c.Stance != callouts.Done || s.others[i] {
			continue
		}
		radio := i < len(s.radio) && s.radio[i]
		worth, last := s.worth, s.last // a stretch that starts here follows what ended before
		for _, t := range s.tracks {
			t.quits.now = t.quits.now[:0]
			t.hear(i, c, s.known[c.ID], s.rulesOut(t.plan, i), radio, worth, last, s.endOf(t.plan, i))
			for _, q := range t.quits.now {
				s.take(q)
			}
			s.end(t)
		}
	}
	hint(math.Inf(1))
	s.settle(math.Inf(1))
}

// end takes what a track has explained for a stretch that ends here, where that divides
// the lesson better.
func (s *search) end(t *track) {
	end := &t.states[len(t.links)]
	if end.start < 0 {
		return
	}
	done := stretch{plan: t.plan, start: end.start, end: end.end, prev: end.prev, named: end.named}
	if own := end.worth - end.base; own > s.top {
		s.top, s.best = own, done
	}
	if end.worth-evidence > s.worth {
		s.worth, s.last = end.worth-evidence, &done
	}
}

// hear takes call i into account. known tells whether any procedure requires it,
// out whether it rules this one out, radio whether it was made on the radio. worth and last are the best division before it,
// after are the words after it that give an attempt up.
func (t *track) hear(i int, c *callouts.Call, known, out, radio bool, worth float64, last *stretch, after *ending) {
	fits := t.listens[c.ID]
	if len(fits) == 0 && !known && !out {
		return
	}
	n := len(t.links)
	wait := c.Start - t.clock
	t.clock = c.Start
	stray := strayCall
	switch {
	case out:
		stray = ruledOut
		t.quits.later = nil
	case t.anytime[c.ID]:
		stray = 0
	case len(fits) == 0 && !reports(c):
		stray = foreignCall * c.Confidence // it may have been none
	}
	t.fresh = state{worth: worth, base: worth, start: -1, prev: last}
	t.states[0] = t.fresh
	if w, q := t.quits.best(c.Start); w > worth {
		t.states[0] = state{worth: w, base: w, start: -1, prev: q, again: true}
	}
	// Time passes.
	for k := 1; k <= n; k++ {
		st := &t.states[k]
		if k < n && t.links[k].Phase != t.links[k-1].Phase {
			st.worth -= wait * waitBetween
		} else {
			st.worth -= wait * waitInPhase
		}
	}
	t.skip()
	// The call is a stray one, or one of the steps it fits.
	for k := range t.states {
		t.next[k] = t.states[k]
		switch st := &t.states[k]; {
		case st.start < 0:
		case out && radio && st.named: // who named it flies it, whatever is said on the radio
			t.next[k].worth -= foreignCall
		default:
			t.next[k].worth -= stray
			t.move(&t.next[k], k, fits, i, c.Start)
		}
	}
	for _, k := range fits {
		from := t.explain(t.states[k], k, i, c)
		if !t.links[k].Optional {
			t.quit(from, k, i, c, after)
		}
		if from.worth > t.next[k+1].worth {
			t.next[k+1] = from
		}
	}
	t.states, t.next = t.next, t.states
	t.skip()
}

// explain is a state with call i taken for link k.
func (t *track) explain(from state, k, i int, c *callouts.Call) state {
	if from.start < 0 && from.again && t.due[k] > 1 { // what does not begin at the beginning is not begun afresh
		skipped := from.worth - from.base
		from = t.fresh
		from.worth += skipped
	}
	l := t.links[k]
	gain := gainStep - t.plan.Fit(l, c)
	if l.Optional {
		most := gainOptional
		if t.own[c.ID] {
			most = gainOwn
		}
		gain *= most / gainStep
	} else {
		from.heard++
	}
	if from.start < 0 {
		from.start = i
		if t.named(c.Start) {
			from.named = true
			gain += gainNamed
		}
	} else if gap := c.Start - from.at; gap > lingers && t.links[from.link].Phase == l.Phase {
		gain -= (gap - lingers) * waitLonger
	}
	from.met |= 1 << k
	from.end = i
	from.worth += gain
	from.link, from.at = k, c.Start
	return from
}

// hint takes a hint for a required step that is still to come: one that was perhaps
// heard. Where it fits nothing it says nothing, and what is told of a maneuver begins and
// ends with calls all the same. It tells whether it made anything better.
func (t *track) hint(h *callouts.Call) (better bool) {
	for _, k := range slices.Backward(t.listens[h.ID]) {
		from := t.states[k]
		if t.links[k].Optional || from.start >= 0 && h.Start-from.at > lingers {
			continue
		}
		p := t.plan.Likely(t.links[k], h)
		from.worth += math.Log(p*math.Exp(gainStep) + (1-p)*math.Exp(-missStep))
		from.met |= 1 << k
		from.link, from.at = k, h.Start
		if from.worth > t.states[k+1].worth {
			t.states[k+1], better = from, true
		}
	}
	if better {
		t.skip()
	}
	return better
}

// move takes a call for a required step that is out of its place here: the state has
// the first links links behind it. One that is still to come may yet be called in its
// place; whether the call speaks for it is seen when it is not (skip).
func (t *track) move(st *state, links int, fits []int, call int, at float64) {
	if at-st.at > atOnce {
		return
	}
	for _, k := range fits {
		bit := uint64(1) << k
		if t.links[k].Optional || k >= 64 || (st.met|st.moved)&bit != 0 {
			continue
		}
		st.moved |= bit
		st.end = call
		if k < links {
			st.worth += gainMoved
		}
		return
	}
}

// named tells whether the maneuver was named shortly before a second.
func (t *track) named(second float64) bool {
	return slices.ContainsFunc(t.names, func(at float64) bool { return at <= second && second-at <= namedBefore })
}

// reports tells whether a call only says how the airplane flies. Such calls are
// made in every maneuver, whether its procedure asks for them or not.
func reports(c *callouts.Call) bool {
	if len(c.Readings) == 0 {
		return false
	}
	switch c.Readings[0].Quantity {
	case callouts.Altitude, callouts.Heading, callouts.Airspeed:
		return true
	}
	return false
}

// skip lets every link be left out.
func (t *track) skip() {
	for k, l := range t.links {
		from := t.states[k]
		if !l.Optional {
			from.worth -= missStep
			if from.moved&(1<<k) != 0 {
				from.worth += gainMoved
			}
		}
		if from.worth > t.states[k+1].worth {
			t.states[k+1] = from
		}
	}
}

// stretches are those of the best division, in order.
func (s *search) stretches() []stretch {
	var out []stretch
	for at := s.last; at != nil; at = at.prev {
		out = append(out, *at)
	}
	slices.Reverse(out)
	return out
}
