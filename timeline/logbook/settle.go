package logbook

import (
	"fmt"
	"slices"
	"strings"

	"sidetone/rules"
	"sidetone/timeline"
)

// LastHands are the standing hands, of each author the last on a step, in order.
func LastHands(facts []Fact) []Fact {
	var out []Fact
	for i, stands := range Standing(facts) {
		f := facts[i]
		if !stands || f.Kind != KindVerdict {
			continue
		}
		out = slices.DeleteFunc(out, func(o Fact) bool {
			return o.Author == f.Author && o.Step == f.Step && *o.Maneuver == *f.Maneuver
		})
		out = append(out, f)
	}
	return out
}

// onStep names a step of a timeline.
type onStep struct {
	maneuver int // index
	step     string
}

// decided is the hand that counts on each step of a timeline: the instructor's if there
// is one, else the one written last. Who only wants to listen again decides nothing.
func decided(tl *timeline.Timeline, facts []Fact, instructor string) map[onStep]Fact {
	isInstructor := func(f Fact) bool {
		return instructor != "" && strings.EqualFold(strings.TrimSpace(instructor), f.Author)
	}
	out := map[onStep]Fact{}
	for _, f := range LastHands(facts) {
		i := f.Maneuver.Find(tl)
		if i < 0 || f.Hand == ListenAgain {
			continue
		}
		at := onStep{i, f.Step}
		if before, ok := out[at]; ok && isInstructor(before) && !isInstructor(f) {
			continue
		}
		out[at] = f
	}
	return out
}

// Settle is a lesson as it counts, everywhere it is shown or counted: judged, with the
// verdicts of people in place of the machine's, and what is to be talked about following
// from them. Machine is what the machine said alone; each step a person decided tells it.
func Settle(j *timeline.Judge, judged, machine *timeline.Timeline, facts []Fact, instructor string) *timeline.Timeline {
	hands := decided(judged, facts, instructor)
	out := *judged
	out.Maneuvers = slices.Clone(judged.Maneuvers)
	changed := false
	for i := range out.Maneuvers {
		m := &out.Maneuvers[i]
		alone := Maneuver{m.Procedure, m.Start}.Find(machine)
		m.Steps = slices.Clone(m.Steps)
		for k := range m.Steps {
			s := &m.Steps[k]
			was, at := saidOf(machine, alone, s.ID)
			if s.Call != nil && judged.Calls[*s.Call].AddedBy != "" {
				s.Person, changed = &rules.Person{Author: judged.Calls[*s.Call].AddedBy, How: rules.Added, Was: was, At: at}, true
			}
			f, ok := hands[onStep{i, s.ID}]
			if !ok || f.Hand != Overrule || f.Verdict == s.Verdict && f.Verdict == was {
				continue
			}
			overrule(j, m, s, f)
			s.Person, changed = &rules.Person{Author: f.Author, How: rules.Overruled, Was: was, Reason: f.Reason, At: at}, true
		}
	}
	if !changed {
		return judged
	}
	return &out
}

// saidOf is the verdict on a step in a maneuver of a timeline, and the second of what was
// found wrong with it; "" and nil for none.
func saidOf(tl *timeline.Timeline, maneuver int, step string) (v rules.Verdict, at *float64) {
	if maneuver < 0 {
		return "", nil
	}
	m := &tl.Maneuvers[maneuver]
	for _, s := range m.Steps {
		if s.ID == step {
			v = s.Verdict
		}
	}
	for _, f := range m.Findings {
		if f.Step == step && f.Kind != corrected {
			at = f.At
		}
	}
	return v, at
}

const corrected = "corrected" // a kind of finding that is no verdict

// overrule gives a step the verdict of a person. What was found wrong with it goes, and
// what they find wrong comes in its place.
func overrule(j *timeline.Judge, m *rules.Assessment, s *rules.StepResult, f Fact) {
	var old *rules.Finding
	at := slices.IndexFunc(m.Findings, func(x rules.Finding) bool { return x.Step == s.ID && x.Kind != corrected })
	if at >= 0 {
		x := m.Findings[at]
		old = &x
	} else {
		at = len(m.Findings)
	}
	findings := slices.DeleteFunc(slices.Clone(m.Findings), func(x rules.Finding) bool { return x.Step == s.ID && x.Kind != corrected })
	s.Verdict = f.Verdict
	if f.Verdict != rules.NotApplicable {
		s.Waived = ""
	}
	if f.Verdict != rules.Heard && f.Verdict != rules.NotApplicable {
		findings = slices.Insert(findings, min(at, len(findings)), finding(j, m, s, f, old))
	}
	m.Findings = findings
}

// finding is what a person finds wrong with a step: as serious as the procedure says,
// and at the moment of what the machine had found, or of the call.
func finding(j *timeline.Judge, m *rules.Assessment, s *rules.StepResult, f Fact, old *rules.Finding) rules.Finding {
	x := rules.Finding{Step: s.ID, Kind: string(f.Verdict), Severity: rules.Important, At: s.At}
	if old != nil {
		x.Severity, x.Reference = old.Severity, old.Reference
		if old.At != nil {
			x.At = old.At
		}
	}
	if step := j.Step(m.Procedure, s.ID); step != nil {
		x.Severity = step.Severity
		if x.Reference == "" {
			x.Reference = step.Reference
		}
	}
	if f.Verdict == rules.Unsure {
		x.Severity = rules.Note
	}
	when := ""
	if x.At != nil {
		when = " at " + rules.Clock(*x.At)
	}
	x.Message = fmt.Sprintf("%s%s: %s, as %s says: “%s”", s.Title, when, strings.ReplaceAll(string(f.Verdict), "-", " "), f.Author, strings.Join(strings.Fields(f.Reason), " "))
	return x
}
