package rules

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"sidetone/callouts"
)

const (
	// answerWithin is how long before a call an order for it makes it prompted, in seconds.
	answerWithin = 8
	// repeatWithin is how soon the same call again is a repetition, in seconds.
	repeatWithin = 30
)

// Judge holds calls against a procedure as made out for an aircraft. Indices in
// the result refer to calls. It fails when the procedure does not fit the
// aircraft: see Bind, which is also the way to judge many stretches quickly.
func Judge(p *Procedure, ac *Aircraft, calls []callouts.Call) (Assessment, error) {
	plan, err := Bind(p, ac)
	if err != nil {
		return Assessment{}, err
	}
	return plan.Judge(calls, 0, len(calls)), nil
}

// Judge holds calls[lo:hi] against the plan. Indices in the result refer to
// calls, so that a stretch of a lesson is judged in terms of the whole lesson.
// Calls are taken in the order of their Start, and in the order given where
// that is the same. The result is the cheapest explanation by the prices in
// COSTS.md, found exactly.
func (pl *Plan) Judge(calls []callouts.Call, lo, hi int) Assessment {
	j := newJudging(pl, calls, lo, hi)
	j.choices, j.total = j.solver.solve(&j.problem)
	cheapest := j.total
	j.leftOver()
	a := j.assess()
	a.Cost = float64(cheapest) / float64(nat)
	return a
}

// judging is one stretch of calls being held against a plan.
type judging struct {
	*Plan
	all    []callouts.Call
	lo, hi int
	// usable are indices into all: the calls that can satisfy a step, by time.
	usable  []int
	orders  []int            // likewise, the orders for such calls
	cues    map[string][]cue // of the callouts that are cues
	problem problem
	solver  solver
	choices []choice
	total   cost
	spared  map[int]bool // indices into all: the calls shown at optional steps that chose none
	found   []Finding
	givenUp *GivenUp // nil for an attempt that was flown to its end; else the steps are only those up to there
}

func newJudging(pl *Plan, calls []callouts.Call, lo, hi int) *judging {
	j := &judging{Plan: pl, all: calls, lo: lo, hi: hi, spared: map[int]bool{}}
	j.listenForCues()
	for i := lo; i < hi; i++ {
		if len(pl.calls[calls[i].ID]) == 0 {
			continue
		}
		switch calls[i].Stance {
		case callouts.Done:
			j.usable = append(j.usable, i)
		case callouts.Ordered:
			j.orders = append(j.orders, i)
		}
	}
	// The first call may answer an order given before it.
	for i := lo - 1; i >= 0 && lo < hi && calls[i].Start >= calls[lo].Start-answerWithin; i-- {
		if calls[i].Stance == callouts.Ordered && len(pl.calls[calls[i].ID]) > 0 {
			j.orders = append(j.orders, i)
		}
	}
	byStart := func(a, b int) int { return cmp.Compare(calls[a].Start, calls[b].Start) }
	slices.SortStableFunc(j.usable, byStart)
	slices.SortStableFunc(j.orders, byStart)
	j.pose()
	return j
}

// pose states the alignment problem.
func (j *judging) pose() {
	n := len(j.steps)
	p := &j.problem
	p.options, p.none, p.phase, p.slip = make([][]option, n), make([]cost, n), make([]int, n), make([]float64, n)
	p.before, p.late, p.group = j.before, costLate, make([]int, n)
	for s := range j.steps {
		st := &j.steps[s]
		p.none[s], p.phase[s], p.slip[s] = costNotHeard, st.phase, ownSlip
		if slices.ContainsFunc(st.Calls, func(id string) bool { return len(j.calls[id]) > 1 }) {
			p.slip[s] = phaseSlip
		}
		if st.Optional {
			p.none[s] /= optionalPart
		}
		if st.Anytime {
			p.phase[s] = -1
		}
		if st.Group > 0 {
			if slices.Contains(p.group[:s], st.Group) {
				p.offset -= costNotHeard // one of them is needed, so all of them missing costs once
			}
			p.group[s] = st.Group
		}
		if st.Optional {
			continue
		}
		if of := j.indexOf(st.Within); of >= 0 {
			p.delays = append(p.delays, delay{s, of, st.Within.Seconds, false})
		}
		if of := j.indexOf(st.NotBefore); of >= 0 {
			p.delays = append(p.delays, delay{s, of, st.NotBefore.Seconds, true})
		}
	}
	for s := range j.steps {
		if of := j.comparedWith(s); of >= 0 {
			p.like = append(p.like, likeness{s, of, func(call, of_ int) cost { return j.unlike(s, of, call, of_) }})
		}
	}
	type said struct {
		id    string
		value float64
	}
	says := map[said]int{}
	for at, i := range j.usable {
		c := &j.all[i]
		what := said{id: c.ID}
		if c.Value != nil {
			what.value = *c.Value
		}
		if _, ok := says[what]; !ok {
			says[what] = len(says)
		}
		p.says = append(p.says, says[what])
		p.start = append(p.start, c.Start)
		for _, s := range j.calls[c.ID] {
			if !j.steps[s].mayBe(c) || c.Perhaps && j.steps[s].Optional {
				continue // of an optional step nobody would miss what was perhaps not said
			}
			if o := j.option(s, at, c); o.place < p.none[s] || o.move < p.none[s] {
				p.options[s] = append(p.options[s], o)
			}
		}
	}
}

func (j *judging) option(s, at int, c *callouts.Call) option {
	st := &j.steps[s]
	k := st.costHearing(c) + st.costValue(c)
	first := cost(at) * costLaterCall
	if st.Optional {
		return option{at, k/optionalPart + first, unlimited}
	}
	place := k + first
	if _, late := j.afterCue(st, c); late {
		place += costLate
	}
	if j.repeats(at) {
		return option{at, place, unlimited}
	}
	earlier := cost(len(j.steps)-1-j.rank[s]) * costLaterStep
	return option{at, place, k + first + costMoved + earlier}
}

// mayBe tells whether a call is by one of whom the step is required. A call by
// nobody known is given the benefit of the doubt.
func (s *planStep) mayBe(c *callouts.Call) bool {
	seat := seatOf(c.Speaker)
	return s.By == "" || seat == "" || seat == s.By
}

// repeats tells whether a call only says again what was said just before it.
// That is normal, and no sign of another step gone astray.
func (j *judging) repeats(at int) bool {
	if at == 0 {
		return false
	}
	p := &j.problem
	return p.says[at] == p.says[at-1] && p.start[at]-p.start[at-1] <= repeatWithin+clockSlack
}

// indexOf is the place of the step a time is counted from, -1 for none.
func (j *judging) indexOf(w *Within) int {
	if w == nil || w.Of == "" {
		return -1
	}
	return j.index(w.Of)
}

// index is the place of a step among those that apply, -1 when it does not.
func (j *judging) index(id string) int {
	return slices.IndexFunc(j.steps, func(s planStep) bool { return s.ID == id })
}

// call is the call a step has chosen, nil when none.
func (j *judging) call(s int) *callouts.Call {
	return j.callOf(j.choices[s])
}

func (j *judging) callOf(ch choice) *callouts.Call {
	if ch.kind == none {
		return nil
	}
	return &j.all[j.usable[ch.call]]
}

// assess turns choices into verdicts, reasons and findings.
func (j *judging) assess() Assessment {
	a := Assessment{
		Procedure: j.Procedure.ID, Title: j.Procedure.Title,
		Steps: []StepResult{}, Findings: []Finding{}, Remarks: []string{},
		Cost: float64(j.total) / float64(nat),
	}
	a.Start, a.End = j.extent()
	if j.givenUp != nil && j.givenUp.At != nil {
		a.End = max(a.End, *j.givenUp.At)
	}
	for _, s := range j.Procedure.steps {
		r := StepResult{ID: s.ID, Title: s.Title, Verdict: NotApplicable, Waived: OtherAircraft,
			Reason: "Does not apply to this aircraft."}
		if at := j.index(s.ID); at >= 0 {
			r = j.step(at)
		}
		a.Steps = append(a.Steps, r)
		a.Phases = append(a.Phases, j.Procedure.Phase(s))
	}
	j.react(&a)
	j.watchHolds(a.Start, a.End)
	j.watchNevers(a.Start, a.End)
	a.Findings = append(a.Findings, j.found...)
	if r := j.unseated(); r != "" {
		a.Remarks = append(a.Remarks, r)
	}
	if j.solver.short {
		a.Remarks = append(a.Remarks, inexact)
	}
	return a
}

// unseated says of how many steps it could not be applied whose they are to say, ""
// when of none.
func (j *judging) unseated() string {
	n := 0
	for s := range j.steps {
		if c := j.call(s); c != nil && j.steps[s].By != "" && seatOf(c.Speaker) == "" {
			n++
		}
	}
	switch n {
	case 0:
		return ""
	case 1:
		return "Whose a step is to say could not be applied to 1 step: which seat said it is not known. It counts, whoever said it."
	}
	return fmt.Sprintf("Whose a step is to say could not be applied to %d steps: which seat said them is not known. They count, whoever said them.", n)
}

// inexact is said of an attempt whose explanations could not all be tried.
const inexact = "So many calls could be so many steps that not every explanation was tried: this is the best one found. Listen before you believe it."

// extent is from the first matched call's start to the last one's end, or that
// of the whole stretch when nothing matched.
func (j *judging) extent() (start, end float64) {
	start, end = math.Inf(1), math.Inf(-1)
	for s := range j.steps {
		if c := j.call(s); c != nil {
			start, end = min(start, c.Start), max(end, c.End)
		}
	}
	if start <= end {
		return start, end
	}
	return j.stretch()
}

// stretch is the time the judged calls cover.
func (j *judging) stretch() (start, end float64) {
	if j.lo >= j.hi {
		return 0, 0
	}
	start, end = math.Inf(1), math.Inf(-1)
	for _, c := range j.all[j.lo:j.hi] {
		start, end = min(start, c.Start), max(end, c.End)
	}
	return start, end
}

// step gives the verdict on one step and notes what is found wrong with it.
func (j *judging) step(s int) StepResult {
	st := j.aimed(s, j.choices)
	r := StepResult{ID: st.ID, Title: st.Title}
	ch := j.choices[s]
	if ch.kind == none {
		j.notHeard(s, &r)
		return r
	}
	i := j.usable[ch.call]
	c := &j.all[i]
	r.take(c, i)
	r.Prompted = j.order(st, c) != nil
	off := false
	said := ""
	if st.Value != nil {
		if v, miss, _, ok := st.reading(c); ok {
			r.Value = &v
			said = figure(v, st.Value.Of)
			off = miss > 0
		}
	}
	timing := j.timing(s)
	fault := ch.kind == moved || off || timing.fault != ""
	switch {
	case st.Optional:
		r.Verdict, r.Reason = Heard, j.heard(st, c, said)
		return r
	case c.Confidence < fairlyHeard:
		r.Verdict, r.inPlace = Unsure, !fault
		r.Reason = fmt.Sprintf("Perhaps %s at %s, heard as %q, but not clearly; listen there.", inSentence(st.Title), Clock(c.Start), c.Heard)
	case ch.kind == moved && timing.fault == "":
		r.Verdict, r.Reason = OutOfOrder, j.outOfOrder(s, c)
	case off && ch.kind != moved:
		r.Verdict = OffValue
		r.Reason = fmt.Sprintf("%s at %s: %s was heard, %s.", st.Title, Clock(c.Start), said, st.wanted())
	case timing.fault != "":
		r.Verdict = timing.fault
		r.Reason = fmt.Sprintf("%s at %s came %.0f seconds after %s at %s; %s.", st.Title, Clock(c.Start),
			c.Start-timing.from, timing.what, Clock(timing.from), timing.due)
	default:
		r.Verdict, r.Reason = Heard, j.heard(st, c, said)
	}
	if fault && r.Verdict != Unsure {
		j.doubt(s, &r)
	}
	if st.By != "" && seatOf(c.Speaker) == "" {
		r.Reason = sentences(r.Reason, fmt.Sprintf("It is the %s's to say; which seat said it is not known, so that could not be applied, and the call counts.", st.By))
	}
	if r.Verdict != Heard {
		j.find(st, r, r.At)
	} else {
		j.twice(s)
	}
	if c.Corrected != nil && (r.Verdict == Heard || r.Verdict == Late) {
		j.corrected(st, r, *c.Corrected, said)
	}
	return r
}

// twice notes a call that was made too early, but made again in its place: no
// fault in the step, and worth a word all the same. Calls with figures are
// repeated as the figure changes, and what is said before the phase has begun
// is about something else, so neither is noted.
func (j *judging) twice(s int) {
	st := &j.steps[s]
	if st.Value != nil || st.Repeats {
		return
	}
	begun, after := math.MaxInt, -1
	for o, ch := range j.choices {
		if ch.kind != inPlace || j.steps[o].phase != st.phase || j.steps[o].Optional {
			continue
		}
		begun = min(begun, ch.call)
		if j.before[o][s] && j.direct(s, o) && (after < 0 || ch.call < j.choices[after].call) {
			after = o
		}
	}
	if after < 0 {
		return
	}
	for at := begun + 1; at < j.choices[after].call; at++ {
		c := &j.all[j.usable[at]]
		if c.Confidence < fairlyHeard || !slices.Contains(st.Calls, c.ID) || j.serves(at) {
			continue
		}
		start := c.Start
		j.found = append(j.found, Finding{Step: st.ID, Kind: string(OutOfOrder), Severity: Note, At: &start, Reference: j.source(st.Reference, st.facts),
			Message: sentences(fmt.Sprintf("%s at %s came before %s at %s, and again in its place at %s.", st.Title, Clock(c.Start),
				inSentence(j.steps[after].Title), Clock(j.call(after).Start), Clock(j.call(s).Start)), st.Teach)})
		return
	}
}

// serves tells whether a usable call was chosen for a step.
func (j *judging) serves(at int) bool {
	return slices.ContainsFunc(j.choices, func(ch choice) bool { return ch.kind != none && ch.call == at })
}

// take notes the call a result rests on.
func (r *StepResult) take(c *callouts.Call, index int) {
	start := c.Start
	r.At, r.Call, r.Confidence = &start, &index, c.Confidence
}

// find records what is found wrong with a step.
func (j *judging) find(st *planStep, r StepResult, at *float64) {
	if j.givenUp != nil && r.Call == nil {
		return // what is not heard of an abandoned attempt is no fault
	}
	message := r.Reason
	if r.Call == nil {
		message = st.Title + ": " + inSentence(message) // the reason alone does not name the step
	}
	f := Finding{Step: st.ID, Kind: string(r.Verdict), Severity: st.Severity, At: at,
		Message: sentences(message, st.Teach), Reference: j.source(st.Reference, st.facts)}
	if r.Verdict == Unsure {
		f.Severity, f.Message = Note, message
	}
	j.found = append(j.found, f)
}

func (j *judging) corrected(st *planStep, r StepResult, old float64, said string) {
	was := figure(old, st.quantity())
	if said == "" {
		said = "another figure"
	}
	j.found = append(j.found, Finding{Step: st.ID, Kind: "corrected", Severity: Note, At: r.At, Reference: j.source(st.Reference, st.facts),
		Message: fmt.Sprintf("%s at %s: %s was put right to %s in the same breath, which is as it should be.", st.Title, Clock(*r.At), was, said)})
}

func (s *Step) quantity() callouts.Quantity {
	if s.Value == nil {
		return ""
	}
	return s.Value.Of
}

// heard is the reason of a step that is all right.
func (j *judging) heard(st *planStep, c *callouts.Call, said string) string {
	out := "Heard at " + Clock(c.Start)
	if c.AddedBy != "" {
		out = "Added by " + c.AddedBy + " at " + Clock(c.Start)
	}
	if c.Expected {
		out += fmt.Sprintf(", as it seems, in %q", c.Heard)
	}
	if said != "" {
		out += ": " + said
	} else if st.Value != nil && !st.Value.Optional {
		out += ", without a figure"
	}
	if o := j.order(st, c); o != nil {
		out += ", answering the order at " + Clock(o.Start)
		if seatOf(o.Speaker) == "" || seatOf(c.Speaker) == "" {
			out += ", as it seems: which seat spoke is not known"
		}
	}
	return out + "."
}

// order is the last order a call answers, nil when it came of itself. An order
// by the same known speaker is that speaker's own announcement, and neither orders
// the student nor answers the instructor, where it is known who spoke.
func (j *judging) order(st *planStep, c *callouts.Call) *callouts.Call {
	for k := len(j.orders) - 1; k >= 0; k-- {
		o := &j.all[j.orders[k]]
		same := o.Speaker != "" && o.Speaker == c.Speaker || seatOf(o.Speaker) == Student || seatOf(c.Speaker) == Instructor
		if o.Start <= c.Start && o.Start >= c.Start-answerWithin && o.ID == c.ID && !same {
			return o
		}
	}
	return nil
}

// outOfOrder names the pair of calls that are out of order. Of several calls a
// moved one jumps, it names one the procedure puts directly before or after it
// if there is such, and of those the first.
func (j *judging) outOfOrder(s int, c *callouts.Call) string {
	st := &j.steps[s]
	other, early := -1, true
	better := func(o int) bool {
		if other < 0 {
			return true
		}
		if d, e := j.direct(s, o), j.direct(s, other); d != e {
			return d
		}
		return j.choices[o].call < j.choices[other].call
	}
	for o := range j.steps {
		if j.choices[o].kind == inPlace && j.before[o][s] && j.choices[o].call > j.choices[s].call && better(o) {
			other = o
		}
	}
	if other < 0 {
		early = false
		for o := range j.steps {
			if j.choices[o].kind == inPlace && j.before[s][o] && j.choices[o].call < j.choices[s].call && better(o) {
				other = o
			}
		}
	}
	if other < 0 {
		return fmt.Sprintf("%s at %s was out of order.", st.Title, Clock(c.Start))
	}
	came := "came before"
	if !early {
		came = "came after"
	}
	return fmt.Sprintf("%s at %s %s %s at %s.", st.Title, Clock(c.Start), came, inSentence(j.steps[other].Title), Clock(j.call(other).Start))
}

// direct tells whether no other step that applies lies between two in order.
func (j *judging) direct(s, o int) bool {
	if j.before[s][o] {
		s, o = o, s
	}
	for m := range j.steps {
		if j.before[o][m] && j.before[m][s] {
			return false
		}
	}
	return j.before[o][s]
}

// due is the time in which a step that has no call should have had one, from
// the end of the last call before it to the start of the first one after it, and
// how to say that.
func (j *judging) due(s int) (from, to float64, words string) {
	from, to = j.stretch()
	preceded, followed := false, false
	for o := range j.steps {
		c := j.call(o)
		if c == nil || j.choices[o].kind != inPlace {
			continue
		}
		if j.before[o][s] {
			from, preceded = max(from, c.End), true
		}
		if j.before[s][o] {
			to, followed = min(to, c.Start), true
		}
	}
	switch {
	case preceded && !followed:
		words = "after " + Clock(from)
	case followed && !preceded:
		words = "before " + Clock(to)
		from = min(from, to)
	case Clock(from) == Clock(to) || from > to:
		words = "around " + Clock(to)
		from = min(from, to)
	default:
		words = fmt.Sprintf("between %s and %s", Clock(from), Clock(to))
	}
	return from, to, words
}

// notHeard deals with a step that no call was found for.
func (j *judging) notHeard(s int, r *StepResult) {
	st := &j.steps[s]
	if st.Optional {
		r.Verdict, r.Waived, r.Reason = NotApplicable, NotRequired, "Optional, and not heard."
		if i := j.spare(s); i >= 0 {
			j.spared[i] = true
			r.take(&j.all[i], i)
			r.Verdict, r.Waived = Heard, ""
			said := ""
			if st.Value != nil {
				if v, _, _, ok := st.reading(&j.all[i]); ok {
					r.Value, said = &v, figure(v, st.Value.Of)
				}
			}
			r.Reason = j.heard(st, &j.all[i], said)
		} else {
			from, to, _ := j.due(s)
			r.due = &due{from, to}
		}
		return
	}
	group := j.unit(s)
	if o := j.chosen(group, j.choices); o >= 0 {
		r.Verdict, r.Waived, r.Reason = NotApplicable, OneIsEnough, fmt.Sprintf("One of several is enough, and %s was heard at %s.", inSentence(j.steps[o].Title), Clock(j.call(o).Start))
		return
	}
	if s != group[0] {
		r.Verdict, r.Waived, r.Reason = NotApplicable, OneIsEnough, fmt.Sprintf("One of several is enough: see %s.", inSentence(j.steps[group[0]].Title))
		return
	}
	from, to, when := j.due(s)
	r.due = &due{from, to}
	r.Verdict, r.Reason = NotHeard, fmt.Sprintf("Not heard %s; listen there.", when)
	if len(group) > 1 {
		var others []string
		for _, o := range group[1:] {
			others = append(others, inSentence(j.steps[o].Title))
		}
		r.Reason = fmt.Sprintf("Not heard %s, nor %s instead; listen there.", when, strings.Join(others, " or "))
	}
	for _, o := range group {
		j.orderedOnly(o, from, to, r)
		j.byAnother(o, from, to, r)
	}
	j.doubt(s, r)
	if r.At == nil {
		j.find(st, *r, &from)
		return
	}
	at := r.At
	r.At = nil
	j.find(st, *r, at)
}

// orderedOnly notes that a call that is missing was ordered.
func (j *judging) orderedOnly(s int, from, to float64, r *StepResult) {
	st := &j.steps[s]
	for _, i := range j.orders {
		if o := &j.all[i]; slices.Contains(st.Calls, o.ID) && o.Start >= from-answerWithin && o.Start <= to && st.costValue(o) < costOff {
			r.Reason = fmt.Sprintf("The order was heard at %s, but not the answer.", Clock(o.Start))
		}
	}
}

// byAnother notes that a call that is missing was made by another than the one
// whose it is.
func (j *judging) byAnother(s int, from, to float64, r *StepResult) {
	st := &j.steps[s]
	for _, i := range j.usable {
		c := &j.all[i]
		if !st.mayBe(c) && c.Confidence >= fairlyHeard && slices.Contains(st.Calls, c.ID) && c.Start >= from && c.Start <= to && st.costValue(c) < costOff {
			r.Reason = fmt.Sprintf("Heard at %s from the %s, but it is the %s's to say.", Clock(c.Start), seatOf(c.Speaker), st.By)
		}
	}
}

// spare is a call within the maneuver that would do for a step and serves no other,
// -1 when there is none.
func (j *judging) spare(s int) int {
	start, end := j.extent()
	for at, i := range j.usable {
		c := &j.all[i]
		if !j.spared[i] && c.Start >= start && c.Start <= end && c.Confidence >= fairlyHeard && j.steps[s].mayBe(c) && slices.Contains(j.steps[s].Calls, c.ID) && j.steps[s].costValue(c) < costOff && !j.serves(at) {
			return i
		}
	}
	return -1
}
