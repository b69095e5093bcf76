package timeline

import (
	"cmp"
	"slices"

	"sidetone/callouts"
	"sidetone/rules"
)

// Where a maneuver begins and ends, once it is known which it is.
const (
	leastPart    = 0.4  // the part of the required steps to be heard at least
	leastInPhase = 2    // and how many in the first and in the last phase that has so many
	mostPart     = 0.7  // the part from which it is plain which maneuver it is, and one is enough
	leastNamed   = 1    // of a maneuver that was named, or mostly heard
	fairHint     = 0.1  // the probability from which a hint counts beside what was heard
	padBefore    = 60.0 // seconds before a stretch in which a call may have been made early
	padAfter     = 30.0 // and after it, late
	padWorth     = 0.5  // what such calls must save in the judging for the stretch to take them in
	padNear      = 3.0  // seconds from a stretch to a call that belongs to it and has no place in the order
	ruledAfter   = 15.0 // seconds after a stretch without its last step in which a call still rules it out
	mostSetUp    = 3    // the most required calls that are no more than how the next maneuver begins
	setUpGap     = 30.0 // seconds between two calls of the set-up, or from it to the first required step
)

// judge judges each stretch with what lies around it, and keeps those that
// bear out.
func (s *search) judge(list []stretch) []rules.Assessment {
	list = s.withoutSetUps(list)
	var out []rules.Assessment
	for i := len(list) - 1; i >= 0; i-- {
		st := list[i]
		lo, hi := 0, len(s.calls)
		if i > 0 {
			lo = s.divide(list[i-1].end, st.start)
		}
		var next *stretch
		if i+1 < len(list) {
			next = &list[i+1]
			hi = s.divide(st.end, next.start)
		}
		var a rules.Assessment
		ok := false
		if st.givenUp != nil {
			a, ok = s.abandoned(st, lo, hi, next)
		} else {
			a = s.verdict(st, lo, hi)
			st.plan.Hint(&a, s.hints)
			ok = stands(st.plan, &a, st.named) && !s.cutShort(st, &a)
		}
		if ok {
			out = append(out, a)
			continue
		}
		// Nor is it the new attempt at one given up before.
		if i > 0 && list[i-1].givenUp != nil && list[i-1].givenUp.after == nil && !list[i-1].named {
			i--
		}
	}
	slices.SortStableFunc(out, func(a, b rules.Assessment) int { return cmp.Compare(a.Start, b.Start) })
	return out
}

// withoutSetUps takes out the stretches that are no more than how the next maneuver
// begins.
func (s *search) withoutSetUps(list []stretch) (out []stretch) {
	for i, st := range list {
		if i+1 == len(list) || !s.setsUp(st, list[i+1]) {
			out = append(out, st)
		}
	}
	return out
}

// setsUp tells whether a short stretch nobody named lacks a call of its own that the
// maneuver right after it may begin with: who looks left and right before a stall
// misses no "clearing turns complete".
func (s *search) setsUp(st, next stretch) bool {
	if st.named || s.calls[next.start].Start-s.calls[st.end].End > setUpGap {
		return false
	}
	links, steps := next.plan.Links(), st.plan.Procedure.Steps()
	begins := func(id string) bool {
		return slices.ContainsFunc(next.plan.Listens(id), func(k int) bool { return links[k].Optional && links[k].Phase == 0 })
	}
	lacks, heard := false, 0
	for i, r := range st.plan.Judge(s.calls, st.start, next.start).Steps {
		if r.Call != nil && !steps[i].Optional {
			heard++
		}
		lacks = lacks || r.Verdict == rules.NotHeard && slices.ContainsFunc(steps[i].Calls, begins)
	}
	return lacks && heard <= mostSetUp
}

// cutShort tells whether a stretch that lacks its last step ends where a call shows
// that something else is flown: a go-around of which only half was said before
// "going around".
func (s *search) cutShort(st stretch, a *rules.Assessment) bool {
	links := st.plan.Links()
	last := len(links) - 1
	for last >= 0 && (links[last].Optional || links[last].Anytime) {
		last--
	}
	if _, heard := heardOf(st.plan, a); heard == last {
		return false
	}
	for i := st.end + 1; i < len(s.calls) && s.calls[i].Start-s.calls[st.end].End <= ruledAfter; i++ {
		if s.rulesOut(st.plan, i) {
			return true
		}
	}
	return false
}

// verdict judges a stretch. Calls around it, but within lo and hi, are taken in
// only when they put something right that would else be missing, or belong to the
// set-up: talk just before a maneuver holds calls like its own, which are no part
// of it.
func (s *search) verdict(st stretch, lo, hi int) rules.Assessment {
	from, to := s.near(st, lo, hi)
	a := st.plan.Judge(s.calls, from, to)
	if l, h := s.around(st, lo, hi); l < from || h > to {
		l, h = min(l, from), max(h, to)
		if wide := st.plan.Judge(s.calls, l, h); wide.Cost < a.Cost-padWorth {
			a, from, to = wide, l, h
		}
	}
	if from := s.setUp(st.plan, &a, from, lo); from >= 0 {
		if wide := st.plan.Judge(s.calls, from, to); (wide.Cost <= a.Cost || st.plan.Cues(s.calls[from].ID)) && sameRequired(st.plan, &a, &wide) {
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

// setUp finds how far back the set-up of a maneuver goes that is judged from a call
// on: over calls for optional steps of its beginning that are not heard yet, each
// shortly before the next, or what steps are the reaction to, long before them. It gives
// the first of them, -1 where there is none.
func (s *search) setUp(p *rules.Plan, a *rules.Assessment, from, lo int) int {
	links := p.Links()
	open, missing, first := map[int]bool{}, map[int]bool{}, len(links)
	for _, r := range a.Steps {
		at := p.Place(r.ID)
		switch {
		case at < 0:
		case r.Call != nil && !links[at].Optional && !links[at].Anytime:
			first = min(first, at)
		case r.Waived == rules.NotRequired:
			open[at] = true
		case r.Verdict == rules.NotHeard:
			missing[at] = true
		}
	}
	found, last := -1, from
	for i := from - 1; i >= lo; i-- {
		c := &s.calls[i]
		away := s.calls[last].Start - c.End
		if away > rules.CueReach || s.rulesOut(p, i) || givesUp(c) {
			break
		}
		if away > setUpGap && !p.Cues(c.ID) || c.Stance != callouts.Done || c.Confidence < clearly {
			continue
		}
		fits := p.Listens(c.ID)
		if slices.ContainsFunc(fits, func(k int) bool { return !links[k].Optional && !missing[k] }) {
			break // of another attempt, or of something else
		}
		for _, k := range fits {
			if open[k] && (links[k].Anytime || k < first) && p.Fit(links[k], c) < 1 {
				open[k] = false
				found, last = i, i
				break
			}
		}
	}
	return found
}

// sameRequired tells whether two judgements rest on the same calls but for optional
// steps. What is late by a cue only b knows of is the same, and what only b heard is none
// the worse.
func sameRequired(p *rules.Plan, a, b *rules.Assessment) bool {
	links := p.Links()
	for i, r := range a.Steps {
		at := p.Place(r.ID)
		o := b.Steps[i]
		if at < 0 || links[at].Optional || r.Verdict == rules.NotHeard && o.Call != nil {
			continue
		}
		if r.Verdict != o.Verdict && o.Verdict != rules.Late || (r.Call == nil) != (o.Call == nil) || r.Call != nil && *r.Call != *o.Call {
			return false
		}
	}
	return true
}

// around widens a stretch to the calls shortly before and after it, within lo
// and hi, but not past one that rules the plan out.
func (s *search) around(st stretch, lo, hi int) (int, int) {
	from, to := st.start, st.end+1
	for from > lo && s.calls[from-1].Start >= s.calls[st.start].Start-padBefore && !s.rulesOut(st.plan, from-1) {
		from--
	}
	for to < hi && s.calls[to].Start <= s.calls[st.end].End+padAfter && !s.rulesOut(st.plan, to) {
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
func stands(plan *rules.Plan, a *rules.Assessment, named bool) bool {
	steps := plan.Procedure.Steps()
	heard, hinted, required := map[string]int{}, map[string]int{}, map[string]int{} // per phase
	allHeard, allHinted, allRequired := 0, 0, 0
	var phases []string
	for i, r := range a.Steps {
		phase := a.Phases[i]
		if steps[i].Optional && !steps[i].Anytime && r.Call != nil && r.Verdict == rules.Heard {
			heard[phase]++ // nobody misses it, but where it was called it tells
		}
		if steps[i].Optional || r.Verdict == rules.NotApplicable {
			continue
		}
		if required[phase] == 0 {
			phases = append(phases, phase)
		}
		required[phase]++
		allRequired++
		if r.Call != nil && r.Verdict != rules.Unsure {
			heard[phase]++
			allHeard++
		} else if r.Hinted() >= fairHint {
			hinted[phase]++
			allHinted++
		}
	}
	if allHeard == 0 || float64(allHeard+allHinted) < leastPart*float64(allRequired) {
		return false
	}
	least := leastInPhase
	if named || float64(allHeard+allHinted) >= mostPart*float64(allRequired) {
		least = leastNamed
	}
	for _, phase := range []string{phases[0], phases[len(phases)-1]} {
		if heard[phase]+hinted[phase] < min(least, required[phase]) {
			return false
		}
	}
	return true
}
