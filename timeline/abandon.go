package timeline

import (
	"slices"

	"sidetone/callouts"
	"sidetone/rules"
)

// An attempt may be given up: its first steps are called, and then no more. By
// calls alone nobody could tell that from another maneuver that begins alike, or
// from one whose calls were forgotten, so something else must speak for it: words
// that give it up, the same maneuver begun afresh, or its name before it. The
// reasons for the figures are in rules/COSTS.md.
const (
	quitAloud     = 2.0   // the price of an attempt given up with words, in place of all that is not heard of it
	quitSilently  = 3.0   // and of one given up without
	onAfterWords  = 2.0   // the price of a maneuver that goes on after such words
	saidWithin    = 30.0  // seconds after the last call in which the words come
	quietAfter    = 60.0  // seconds after one that was named and given up without words in which no other is begun
	afreshWithin  = 300.0 // seconds after it in which the maneuver is begun again
	gainAfresh    = 3.0   // where the same maneuver is flown after one given up with words or named: as a step heard
	laterWithin   = 120.0 // seconds after it in which calls of its later steps show that it went on
	laterCalls    = 2     // how many such calls
	leftAloud     = 3     // required steps that are left at least where words give it up
	leftSilently  = 4     // and where none do, and at least as many as were reached
	leastCalled   = 3     // required steps heard at least, of one that no words give up
	leastWithWord = 2     // and of one they do
)

// giveUp are the callouts of the words an attempt is given up with.
var giveUp = []string{"discontinue", "do-again"}

// ending is where words give an attempt up.
type ending struct {
	at    float64
	heard string
}

// givenUp is where in the plan a stretch ends that was given up: at a place in
// Links. after is nil where no words gave it up.
type givenUp struct {
	place int
	after *ending
}

// quit is a division that ends in an attempt given up.
type quit struct {
	worth   float64
	end     float64 // seconds
	stretch *stretch
}

// quits are the attempts at one plan that were perhaps given up: with words after the
// call just heard, and earlier ones that count only if the maneuver is begun afresh,
// or, having been named, if no other is begun for a while.
type quits struct {
	now, later, named []quit
}

// best is the best of those that a maneuver begun at a second would be the new
// attempt of.
func (q *quits) best(second float64) (worth float64, st *stretch) {
	worth = never
	q.later = slices.DeleteFunc(q.later, func(l quit) bool { return second-l.end > afreshWithin })
	for _, l := range q.later {
		if l.worth > worth && second > l.end {
			worth, st = l.worth, l.stretch
		}
	}
	return worth, st
}

// givesUp tells whether a call gives an attempt up, whoever says it and how.
func givesUp(c *callouts.Call) bool {
	return slices.Contains(giveUp, c.ID) && c.Confidence >= clearly && c.Stance != callouts.Denied && c.Stance != callouts.TalkedAbout
}

// endings are, per call, the words shortly after it that give an attempt up.
func endings(calls []callouts.Call) []*ending {
	out := make([]*ending, len(calls))
	var next *ending
	for i := len(calls) - 1; i >= 0; i-- {
		c := &calls[i]
		if givesUp(c) {
			next = &ending{c.Start, c.Heard}
		} else if next != nil && next.at-c.End <= saidWithin {
			out[i] = next
		}
	}
	return out
}

// endOf is where words give an attempt at a plan up after call i, nil for nowhere. A
// take-off in which "discontinue" is said, and then "reject" or "going around", was
// none that was given up but the other maneuver.
func (s *search) endOf(p *rules.Plan, i int) *ending {
	e := s.ends[i]
	if e == nil {
		return nil
	}
	for j := i + 1; j < len(s.calls) && s.calls[j].Start <= e.at+saidWithin; j++ {
		if s.rulesOut(p, j) {
			return nil
		}
	}
	return e
}

// interrupt is told of words that give an attempt up: what goes on after them pays
// for that.
func (t *track) interrupt() {
	for k := range t.states {
		if t.states[k].start >= 0 {
			t.states[k].worth -= onAfterWords
		}
	}
}

// quit takes it that the attempt ends with call i, heard for link k. A complete
// attempt is never one given up, nor is one of which only the last steps are missing.
func (t *track) quit(st state, k, i int, c *callouts.Call, after *ending) {
	if !t.mayEnd(k, st.heard, after != nil) {
		return
	}
	q := quit{st.worth - evidence - quitSilently, c.End,
		&stretch{plan: t.plan, start: st.start, end: i, prev: st.prev, named: st.named, givenUp: &givenUp{t.place[k], after}}}
	if after != nil {
		q.worth += quitSilently - quitAloud
	}
	switch {
	case after != nil:
		t.quits.now = append(t.quits.now, q)
		q.worth += gainAfresh
	case st.named:
		t.quits.named = append(t.quits.named, q)
		q.worth += gainAfresh
	}
	t.quits.later = append(t.quits.later, q)
}

// mayEnd tells whether an attempt may have been given up at link k, with so many
// required steps heard.
func (t *track) mayEnd(k, heard int, aloud bool) bool {
	reached := t.due[k+1]
	left := t.due[len(t.links)] - reached
	if t.links[k].Phase == t.final || heard <= reached-heard {
		return false
	}
	if aloud {
		return heard >= leastWithWord && left >= leftAloud
	}
	return heard >= leastCalled && left >= leftSilently && left >= reached
}

// settle takes into account the attempts at named maneuvers after which no other was
// begun up to a second.
func (s *search) settle(second float64) {
	for _, t := range s.tracks {
		t.quits.named = slices.DeleteFunc(t.quits.named, func(q quit) bool {
			over := second-q.end > quietAfter
			if over {
				s.take(q)
			}
			return over
		})
	}
}

// take takes a division that ends in an attempt given up for the best, if it is.
func (s *search) take(q quit) {
	if q.worth > s.worth {
		s.worth, s.last = q.worth, q.stretch
	}
}

// abandoned judges a stretch that was given up. next is the stretch after it, nil
// for none. ok is false where nothing bears it out.
func (s *search) abandoned(st stretch, lo, hi int, next *stretch) (a rules.Assessment, ok bool) {
	how := rules.GivenUp{}
	until := s.calls[st.end].Start + laterWithin
	if e := st.givenUp.after; e != nil {
		how.Said, how.At = e.heard, &e.at
		until = e.at
	}
	if end, n := s.later(st, hi, until); n >= laterCalls {
		st.end, st.givenUp = end, nil // it went on, with its middle missing
		a = s.verdict(st, lo, hi)
		return a, stands(st.plan, &a, st.named)
	}
	if next != nil && next.plan == st.plan && s.calls[next.start].Start-s.calls[st.end].End <= afreshWithin {
		how.Again = &s.calls[next.start].Start
	}
	from, to := s.near(st, lo, hi)
	for how.At != nil && to < hi && s.calls[to].Start < *how.At {
		to++ // what is called up to the words belongs to the attempt
	}
	a = st.plan.JudgeAbandoned(s.calls, from, to, st.givenUp.place, how)
	if from := s.setUp(st.plan, &a, from, lo); from >= 0 {
		a = st.plan.JudgeAbandoned(s.calls, from, to, st.givenUp.place, how)
	}
	least := leastCalled
	if how.At != nil {
		least = leastWithWord
	}
	heard, _ := heardOf(st.plan, &a)
	return a, heard >= least
}

// later counts the calls of later steps, in order, before another stretch and up to
// a second, and gives the last call that counts. Within the stretch only those count
// that can be of no step up to its end.
func (s *search) later(st stretch, hi int, until float64) (end, n int) {
	links := st.plan.Links()
	last := st.givenUp.place
	end = st.end
	for i := st.start + 1; i < hi && s.calls[i].Start <= until; i++ {
		if s.calls[i].Stance != callouts.Done || s.calls[i].Confidence < clearly {
			continue
		}
		fits := st.plan.Listens(s.calls[i].ID)
		if i <= st.end && slices.ContainsFunc(fits, func(at int) bool { return at <= st.givenUp.place }) {
			continue
		}
		for _, at := range fits {
			if at > last && !links[at].Optional && !links[at].Anytime {
				last, end, n = at, max(end, i), n+1
				break
			}
		}
	}
	return end, n
}

// heardOf counts the required steps that were clearly heard, and gives the last
// place of Links among them.
func heardOf(p *rules.Plan, a *rules.Assessment) (n, last int) {
	last = -1
	links := p.Links()
	for _, r := range a.Steps {
		if at := p.Place(r.ID); at >= 0 && !links[at].Optional && r.Call != nil && r.Verdict != rules.Unsure {
			n++
			if !links[at].Anytime {
				last = max(last, at)
			}
		}
	}
	return n, last
}

// faded judges a stretch anew as one given up, where it is the beginning of the one
// procedure that was asked for and nothing is heard of the rest.
func (s *search) faded(p *rules.Plan, a *rules.Assessment, lo, hi int) (rules.Assessment, bool) {
	heard, last := heardOf(p, a)
	t := newTrack(p)
	k := slices.Index(t.place, last)
	if k < 0 {
		return rules.Assessment{}, false
	}
	how := rules.GivenUp{}
	for i := hi - 1; i >= lo; i-- {
		if e := s.ends[i]; e != nil && slices.Contains(p.Listens(s.calls[i].ID), last) {
			how.Said, how.At = e.heard, &e.at
			break
		}
	}
	if !t.mayEnd(k, heard, how.At != nil) {
		return rules.Assessment{}, false
	}
	return p.JudgeAbandoned(s.calls, lo, hi, last, how), true
}
