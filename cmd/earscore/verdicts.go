package main

import (
	"cmp"
	"fmt"
	"slices"

	"sidetone/cmd/internal/lesson"
	"sidetone/rules"
)

// stepScore is one step of a maneuver flown, and what was said of it. Said is
// "" when the maneuver was not found; Sheet is "" when it was not flown.
type stepScore struct {
	Procedure string        `json:"procedure"`
	Step      string        `json:"step"`
	Sheet     rules.Verdict `json:"sheet"`
	Said      rules.Verdict `json:"said"`
	Reason    string        `json:"reason"`
	voice     string
	maneuver  int // of those flown, in order
}

// key names a step of one maneuver of the lesson.
func (s stepScore) key() string { return fmt.Sprintf("%d %s", s.maneuver, s.Step) }

func (s stepScore) right() bool { return s.Sheet == s.Said }

// made tells whether the sheet has a call for the step.
func (s stepScore) made() bool {
	return accuses(s.Sheet) && s.Sheet != rules.NotHeard || s.Sheet == rules.Heard
}

// falselyAccused tells whether the step is accused of what it is not guilty of:
// a call was made, and it is said to be missing, late, out of order or off value
// when the sheet does not say so. So is every accusation of what was not flown.
func (s stepScore) falselyAccused() bool {
	return accuses(s.Said) && s.Said != s.Sheet && (s.made() || s.Sheet == "")
}

func accuses(v rules.Verdict) bool {
	return v == rules.NotHeard || v == rules.Late || v == rules.OutOfOrder || v == rules.OffValue
}

// judged holds the maneuvers found against those flown. Optional steps that
// nobody called are left out: there is nothing to get right. partner gives for a
// maneuver flown the one found for it.
func judged(flown []lesson.FlownProcedure, found []rules.Assessment) (steps []stepScore, partner map[int]int) {
	type overlap struct {
		flown, found int
		seconds      float64
	}
	var all []overlap
	for i, f := range flown {
		for j, a := range found {
			if s := min(f.End, a.End) - max(f.Start, a.Start); a.Procedure == f.Procedure && s > 0 {
				all = append(all, overlap{i, j, s})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b overlap) int { return cmp.Compare(b.seconds, a.seconds) })
	partner = map[int]int{}
	taken := map[int]bool{}
	for _, o := range all {
		if _, has := partner[o.flown]; !has && !taken[o.found] {
			partner[o.flown], taken[o.found] = o.found, true
		}
	}
	for i, f := range flown {
		said := map[string]rules.StepResult{}
		if j, ok := partner[i]; ok {
			for _, s := range found[j].Steps {
				said[s.ID] = s
			}
		}
		for _, id := range sortedKeys(f.Verdicts) {
			sheet := f.Verdicts[id]
			if s, ok := said[id]; sheet != rules.NotApplicable || ok && accuses(s.Verdict) {
				steps = append(steps, stepScore{f.Procedure, id, sheet, s.Verdict, s.Reason, f.Voice, i})
			}
		}
	}
	for j, a := range found {
		if taken[j] {
			continue
		}
		for _, s := range a.Steps {
			if s.Verdict != rules.NotApplicable {
				steps = append(steps, stepScore{a.Procedure, s.ID, "", s.Verdict, s.Reason, "", -1})
			}
		}
	}
	return steps, partner
}

func sortedKeys[K ~string, V any](m map[K]V) []K {
	var keys []K
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
