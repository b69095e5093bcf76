package lesson

import (
	"fmt"
	"maps"
	"slices"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/library"
)

// flown is a maneuver of a script, flown in the generic trainer: lines[from:to], and what a listener should
// say of each step that matters.
type flown struct {
	procedure *rules.Procedure
	plan      *rules.Plan
	from, to  int
	verdicts  map[string]rules.Verdict
	late      map[int]lateness // by line
}

// lateness says how long a line has to wait to come too late: seconds after the last
// call of one of the callouts.
type lateness struct {
	of      []string
	seconds float64
}

// lateBy is how much too late a late call comes, in seconds.
const lateBy = 4.0

var verdicts = []rules.Verdict{rules.Heard, rules.NotHeard, rules.OutOfOrder, rules.Late, rules.OffValue, rules.Unsure, rules.NotApplicable}

// Judge brings the verdicts of a sheet made of the script before up to date.
func (s *Script) Judge(t *Truth) error {
	all, err := s.flown()
	if err != nil {
		return err
	}
	if len(all) != len(t.Maneuvers) {
		return fmt.Errorf("the sheet has %d maneuvers, the script %d", len(t.Maneuvers), len(all))
	}
	for i, f := range all {
		t.Maneuvers[i].Verdicts = f.verdicts
	}
	return nil
}

// flown are the maneuvers of a script, in order.
func (s *Script) flown() ([]flown, error) {
	var out []flown
	var open *flown
	aircraft, err := library.DefaultAircraft()
	if err != nil {
		return nil, err
	}
	for i, l := range s.Lines {
		switch {
		case l.Begin != "" && (l.Say != "" || l.End != ""), l.End != "" && l.Say != "":
			return nil, fmt.Errorf("line %d: begin and end stand by themselves", i+1)
		case l.Begin != "" && open != nil:
			return nil, fmt.Errorf("line %d: %s begins within %s", i+1, l.Begin, open.procedure.ID)
		case l.Begin != "":
			p, err := library.Procedure(l.Begin)
			if err != nil {
				return nil, fmt.Errorf("line %d: %w", i+1, err)
			}
			plan, err := rules.Bind(p, aircraft)
			if err != nil {
				return nil, fmt.Errorf("line %d: %w", i+1, err)
			}
			open = &flown{procedure: p, plan: plan, from: i + 1, verdicts: maps.Clone(l.Verdicts), late: map[int]lateness{}}
		case l.End != "":
			if open == nil || open.procedure.ID != l.End {
				return nil, fmt.Errorf("line %d: %s ends, but did not begin", i+1, l.End)
			}
			open.to = i
			if err := open.fill(s.Lines[open.from:open.to]); err != nil {
				return nil, fmt.Errorf("line %d: %s: %w", open.from, l.End, err)
			}
			out = append(out, *open)
			open = nil
		case len(l.Verdicts) > 0:
			return nil, fmt.Errorf("line %d: verdicts stand with begin", i+1)
		case l.Late != "" && open == nil:
			return nil, fmt.Errorf("line %d: late stands within a maneuver", i+1)
		case l.Late != "":
			if err := open.delay(i, l); err != nil {
				return nil, fmt.Errorf("line %d: late: %w", i+1, err)
			}
		}
	}
	if open != nil {
		return nil, fmt.Errorf("%s begins on line %d and does not end", open.procedure.ID, open.from)
	}
	return out, nil
}

// delay makes line i call a step too late.
func (f *flown) delay(i int, l Line) error {
	var ids []string
	calls := map[string][]string{}
	var step *rules.Step
	for _, st := range f.procedure.Steps() {
		ids = append(ids, st.ID)
		calls[st.ID] = st.Calls
		if st.ID == l.Late {
			step = st
		}
	}
	switch {
	case step == nil:
		return fmt.Errorf("no step is called %q%s", l.Late, meant(l.Late, ids))
	case step.Within == nil:
		return fmt.Errorf("step %s may come at any time: it has no \"within\"", l.Late)
	}
	_, marks, err := parseLine(l.Say)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(marks, func(m mark) bool {
		return m.Stance == callouts.Done && slices.ContainsFunc(m.IDs, func(id string) bool { return slices.Contains(step.Calls, id) })
	}) {
		return fmt.Errorf("the line does not call step %s: %q", l.Late, step.Calls)
	}
	of := calls[step.Within.Of]
	if step.Within.Cue != "" {
		of = []string{step.Within.Cue}
	}
	f.late[i] = lateness{of, step.Within.Seconds}
	if f.verdicts == nil {
		f.verdicts = map[string]rules.Verdict{}
	}
	f.verdicts[l.Late] = rules.Late
	return nil
}

// fill gives each step its verdict where the script leaves it out, and checks
// that what should be heard is said at all.
func (f *flown) fill(lines []Line) error {
	var ids []string
	for _, st := range f.procedure.Steps() {
		ids = append(ids, st.ID)
	}
	for id, v := range f.verdicts {
		if !slices.Contains(ids, id) {
			return fmt.Errorf("no step is called %q%s", id, meant(id, ids))
		}
		if !slices.Contains(verdicts, v) {
			return fmt.Errorf("step %s: no verdict is called %q; one of %q", id, v, verdicts)
		}
	}
	called := map[string]int{} // callout to how often it was done
	for _, l := range lines {
		_, marks, err := parseLine(l.Say)
		if err != nil {
			return err
		}
		for _, m := range marks {
			if m.Stance == callouts.Done && !m.Perhaps {
				for _, id := range m.IDs {
					called[id]++
				}
			}
		}
	}
	if f.verdicts == nil {
		f.verdicts = map[string]rules.Verdict{}
	}
	spare := f.spare(called)
	for _, st := range f.procedure.Steps() {
		made := slices.ContainsFunc(st.Calls, func(id string) bool { return called[id] > 0 })
		if _, told := f.verdicts[st.ID]; !told {
			switch {
			case !f.plan.Applies(st.ID):
				f.verdicts[st.ID] = rules.NotApplicable
			case !st.Optional:
				f.verdicts[st.ID] = rules.Heard
			case slices.ContainsFunc(st.Calls, func(id string) bool { return spare[id] > 0 }):
				f.verdicts[st.ID] = rules.Heard
			default:
				f.verdicts[st.ID] = rules.NotApplicable
			}
		}
		if v := f.verdicts[st.ID]; !made && (v == rules.Heard || v == rules.OutOfOrder || v == rules.Late || v == rules.OffValue) {
			return fmt.Errorf("step %s should be %s, but no line calls %q", st.ID, v, st.Calls)
		}
	}
	return nil
}

// spare is how often each callout was done beyond the steps that are asked for: the one
// airspeed of the entry is not that of the recovery, too.
func (f *flown) spare(called map[string]int) map[string]int {
	out := maps.Clone(called)
	for _, st := range f.procedure.Steps() {
		v := f.verdicts[st.ID]
		if st.Optional || !f.plan.Applies(st.ID) || v == rules.NotHeard || v == rules.NotApplicable {
			continue
		}
		if i := slices.IndexFunc(st.Calls, func(id string) bool { return out[id] > 0 }); i >= 0 {
			out[st.Calls[i]]--
		}
	}
	return out
}
