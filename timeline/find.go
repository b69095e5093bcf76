package timeline

import (
	"cmp"
	"errors"
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
	missStep     = 2.0       // a required step was not heard
	strayCall    = 0.3       // a call of the procedure that fits no step here
	foreignCall  = 1.25      // a call only other procedures have
	neverSure    = 0.5       // the confidence above which a call that is never made in a maneuver ends it
	waitInPhase  = 1.2 / 60  // per second between the steps of a phase
	waitBetween  = 0.15 / 60 // per second between phases: slow flight is held a while
	evidence     = 5.0       // what a stretch must be worth to be told of
	leastPart    = 0.4       // the part of the required steps to be heard at least
	leastInPhase = 2         // and how many in the first and in the last phase that has so many
	padBefore    = 60.0      // seconds before a stretch in which a call may have been made early
	padAfter     = 30.0      // and after it, late
	padWorth     = 0.5       // what such calls must save in the judging for the stretch to take them in
	padNear      = 3.0       // seconds from a stretch to a call that belongs to it and has no place in the order
	never        = -math.MaxFloat64 / 4
	ruledOut     = math.MaxFloat64 / 8
)

// Find finds which of the procedures were flown in a lesson, and when, and
// judges each. Calls must be in order of Start. Procedures that are not for the
// aircraft are passed over. Nothing is found in talk that does not hold several
// required steps of a procedure, in order, of its beginning and of its end.
func Find(calls []callouts.Call, procs []*rules.Procedure, ac *rules.Aircraft) ([]rules.Assessment, error) {
	var plans []*rules.Plan
	for _, p := range procs {
		plan, err := rules.Bind(p, ac)
		if errors.Is(err, rules.ErrOtherAircraft) {
			continue
		}
		if err != nil {
			return nil, err
		}
		plans = append(plans, plan)
	}
	return FindPlans(calls, plans), nil
}

// FindPlans is Find for procedures already made out for the aircraft.
func FindPlans(calls []callouts.Call, plans []*rules.Plan) []rules.Assessment {
	s := newSearch(calls, plans)
	s.run()
	return s.judge(s.stretches())
}

// FindAttempts judges the attempts at one procedure the user says was flown.
// Where none stands out, the stretch that fits best is judged, however little
// was heard. The result is empty only when nothing was heard of the steps that
// have a place in its order.
func FindAttempts(calls []callouts.Call, p *rules.Procedure, ac *rules.Aircraft) ([]rules.Assessment, error) {
	plan, err := rules.Bind(p, ac)
	if err != nil {
		return nil, err
	}
	s := newSearch(calls, []*rules.Plan{plan})
	s.run()
	if found := s.judge(s.stretches()); len(found) > 0 {
		return found, nil
	}
	if s.best.start < 0 {
		return nil, nil
	}
	lo, hi := s.around(s.best, 0, len(calls))
	return []rules.Assessment{plan.Judge(calls, lo, hi)}, nil
}

// stretch is a stretch of calls explained by a plan. start and end are the
// first and last call it explains.
type stretch struct {
	plan       *rules.Plan
	start, end int
	prev       *stretch // the stretch before it in the best division
}

// state is the best way to have got to a place in a plan.
type state struct {
	worth float64
	base  float64  // what the division before it is worth
	start int      // the first call explained, -1 when none was yet
	prev  *stretch // what came before
}

// track follows one plan through the lesson. states[k] has the first k links
// behind it.
type track struct {
	plan    *rules.Plan
	links   []rules.Link
	listens map[string][]int
	anytime map[string]bool // callouts of steps that have no place in the order
	states  []state
	next    []state
	clock   float64
}

type search struct {
	calls  []callouts.Call
	tracks []*track
	known  map[string]bool // callouts of any required step
	worth  float64         // of the best division up to now
	last   *stretch        // its last stretch
	best   stretch         // the best single stretch, whatever it is worth
	top    float64         // what that is worth
}

func newSearch(calls []callouts.Call, plans []*rules.Plan) *search {
	s := &search{calls: calls, known: map[string]bool{}, best: stretch{start: -1}, top: never}
	for _, p := range plans {
		t := &track{plan: p, listens: map[string][]int{}, anytime: map[string]bool{}}
		place := map[int]int{} // from places in Links to places in t.links
		for i, l := range p.Links() {
			if !l.Anytime {
				place[i] = len(t.links)
				t.links = append(t.links, l)
			}
		}
		for _, id := range p.Procedure.Callouts() {
			for _, i := range p.Listens(id) {
				k, ok := place[i]
				if !ok {
					t.anytime[id] = true
					continue
				}
				t.listens[id] = append(t.listens[id], k)
				if !t.links[k].Optional {
					s.known[id] = true
				}
			}
		}
		t.states = make([]state, len(t.links)+1)
		for k := range t.states {
			t.states[k] = state{worth: never, start: -1}
		}
		t.next = make([]state, len(t.states))
		s.tracks = append(s.tracks, t)
	}
	return s
}

func (s *search) run() {
	for i := range s.calls {
		c := &s.calls[i]
		if c.Stance != callouts.Done {
			continue
		}
		worth, last := s.worth, s.last // a stretch that starts here follows what ended before
		for _, t := range s.tracks {
			t.hear(i, c, s.known[c.ID], worth, last)
			end := &t.states[len(t.links)]
			if end.start < 0 {
				continue
			}
			if own := end.worth - end.base; own > s.top {
				s.top, s.best = own, stretch{t.plan, end.start, i, nil}
			}
			if end.worth-evidence > s.worth {
				s.worth = end.worth - evidence
				s.last = &stretch{t.plan, end.start, i, end.prev}
			}
		}
	}
}

// hear takes call i into account. worth and last are the best division before it.
func (t *track) hear(i int, c *callouts.Call, known bool, worth float64, last *stretch) {
	fits := t.listens[c.ID]
	if len(fits) == 0 && !known && !rulesOut(t.plan, c) {
		return
	}
	n := len(t.links)
	wait := c.Start - t.clock
	t.clock = c.Start
	stray := strayCall
	switch {
	case rulesOut(t.plan, c):
		stray = ruledOut
	case t.anytime[c.ID]:
		stray = 0
	case len(fits) == 0 && !reports(c):
		stray = foreignCall
	}
	// Time passes.
	t.states[0] = state{worth: worth, base: worth, start: -1, prev: last}
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
		if t.states[k].start >= 0 {
			t.next[k].worth -= stray
		}
	}
	for _, k := range fits {
		from := t.states[k]
		l := t.links[k]
		cost := t.plan.Fit(l, c)
		gain := gainStep - cost
		if l.Optional {
			gain = gainOptional * gain / gainStep
		}
		if from.start < 0 {
			from.start = i
		}
		from.worth += gain
		if from.worth > t.next[k+1].worth {
			t.next[k+1] = from
		}
	}
	t.states, t.next = t.next, t.states
	t.skip()
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

// judge judges each stretch with what lies around it, and keeps those that
// bear out.
func (s *search) judge(list []stretch) []rules.Assessment {
	var out []rules.Assessment
	for i, st := range list {
		lo, hi := 0, len(s.calls)
		if i > 0 {
			lo = s.divide(list[i-1].end, st.start)
		}
		if i+1 < len(list) {
			hi = s.divide(st.end, list[i+1].start)
		}
		if a := s.verdict(st, lo, hi); stands(st.plan, &a) {
			out = append(out, a)
		}
	}
	slices.SortStableFunc(out, func(a, b rules.Assessment) int { return cmp.Compare(a.Start, b.Start) })
	return out
}

// verdict judges a stretch. Calls around it, but within lo and hi, are taken in
// only when they put something right that would else be missing: talk just before
// a maneuver holds calls like its own, which are no part of it.
func (s *search) verdict(st stretch, lo, hi int) rules.Assessment {
	from, to := s.near(st, lo, hi)
	a := st.plan.Judge(s.calls, from, to)
	if lo, hi = s.around(st, lo, hi); lo < from || hi > to {
		if wide := st.plan.Judge(s.calls, min(lo, from), max(hi, to)); wide.Cost < a.Cost-padWorth {
			return wide
		}
	}
	return a
}

// near widens a stretch to the calls right before and after it that may be made
// at any time, such as the altitude.
func (s *search) near(st stretch, lo, hi int) (int, int) {
	links := st.plan.Links()
	anytime := func(i int) bool {
		return slices.ContainsFunc(st.plan.Listens(s.calls[i].ID), func(k int) bool { return links[k].Anytime })
	}
	from, to := st.start, st.end+1
	for from > lo && s.calls[from].Start-s.calls[from-1].End <= padNear && anytime(from-1) {
		from--
	}
	for to < hi && s.calls[to].Start-s.calls[to-1].End <= padNear && anytime(to) {
		to++
	}
	return from, to
}

// rulesOut tells whether a call shows that it is not this plan that is flown.
func rulesOut(p *rules.Plan, c *callouts.Call) bool {
	return c.Stance == callouts.Done && c.Confidence >= neverSure && slices.Contains(p.Procedure.NeverWith, c.ID)
}

// around widens a stretch to the calls shortly before and after it, within lo
// and hi, but not past one that rules the plan out.
func (s *search) around(st stretch, lo, hi int) (int, int) {
	from, to := st.start, st.end+1
	for from > lo && s.calls[from-1].Start >= s.calls[st.start].Start-padBefore && !rulesOut(st.plan, &s.calls[from-1]) {
		from--
	}
	for to < hi && s.calls[to].Start <= s.calls[st.end].End+padAfter && !rulesOut(st.plan, &s.calls[to]) {
		to++
	}
	return from, to
}

// divide finds where one stretch ends and the next begins: at the longest pause
// between the last call of the one and the first of the other.
func (s *search) divide(end, start int) int {
	at, longest := start, -1.0
	for i := end + 1; i <= start; i++ {
		if gap := s.calls[i].Start - s.calls[i-1].End; gap > longest {
			at, longest = i, gap
		}
	}
	return at
}

// stands tells whether enough of a procedure was heard to say that it was flown:
// a good part of it, and of both how it begins and how it ends. An approach to
// land begins like slow flight, and a take-off is like its recovery.
func stands(plan *rules.Plan, a *rules.Assessment) bool {
	steps := plan.Procedure.Steps()
	heard, required := map[string]int{}, map[string]int{} // per phase
	allHeard, allRequired := 0, 0
	var phases []string
	for i, r := range a.Steps {
		if steps[i].Optional || r.Verdict == rules.NotApplicable {
			continue
		}
		phase := a.Phases[i]
		if required[phase] == 0 {
			phases = append(phases, phase)
		}
		required[phase]++
		allRequired++
		if r.Call != nil && r.Verdict != rules.Unsure {
			heard[phase]++
			allHeard++
		}
	}
	if allHeard == 0 || float64(allHeard) < leastPart*float64(allRequired) {
		return false
	}
	for _, phase := range []string{phases[0], phases[len(phases)-1]} {
		if heard[phase] < min(leastInPhase, required[phase]) {
			return false
		}
	}
	return true
}
