package timeline

import (
	"cmp"
	"errors"
	"slices"

	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/rules"
)

// Lesson is what maneuvers are looked for in. Calls must be in order of Start.
// Names may be nil: maneuvers are found without being named. Radio tells of each
// call whether it was made on the radio, nil when that is not known.
type Lesson struct {
	Calls []callouts.Call
	Names []Naming
	Radio []bool
	// Hints are calls that may have been made, in order of Start, which decide nothing but
	// that a step is not told to be missing.
	Hints []callouts.Call
	// Within is the stretch in which they are looked for, nil for all of it.
	Within *Span
}

// Understand finds the calls of a transcript, and what else tells maneuvers.
func Understand(t *transcript.Transcript, finder *callouts.Finder, names *Names) Lesson {
	calls, hints := finder.Hear(t)
	return Weigh(t, calls, hints, finder, names)
}

// Weigh is Understand of a lesson whose calls are known, and what hints there are at more.
func Weigh(t *transcript.Transcript, calls, hints []callouts.Call, finder *callouts.Finder, names *Names) Lesson {
	perhaps := callouts.Untold(finder.Perhaps(t), calls)
	all := callouts.Merge(callouts.Merge(calls, perhaps), callouts.Misread(t, calls))
	return Lesson{Calls: all, Hints: callouts.Merge(hints, callouts.NotUnderstood(t)), Names: names.Find(t), Radio: callouts.OnRadio(t, all)}
}

// Find is Lesson.Find for procedures not yet made out for the aircraft, hints that are
// believed being told as calls. Those that are not for it are passed over.
func Find(l *Lesson, procs []*rules.Procedure, ac *rules.Aircraft) ([]rules.Assessment, error) {
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
	return l.believing(plans, func() []rules.Assessment { return l.Find(plans) }), nil
}

// rounds are the most times that what was found tells of more that was expected.
const rounds = 3

// believing finds, and finds again with those calls that were expected as made.
func (l *Lesson) believing(plans []*rules.Plan, find func() []rules.Assessment) []rules.Assessment {
	found := find()
	for range rounds {
		var told []callouts.Call
		for i := range found {
			for _, p := range plans {
				if p.Procedure.ID == found[i].Procedure {
					told = append(told, p.Expected(&found[i], l.Calls, l.Hints)...)
				}
			}
		}
		if len(told) == 0 {
			break
		}
		for _, c := range told {
			l.tell(c)
		}
		found = find()
	}
	return found
}

// tell puts a call in its place; if it was told with another stance, that was wrong.
func (l *Lesson) tell(c callouts.Call) {
	if i := slices.IndexFunc(l.Calls, c.Again); i >= 0 {
		l.Calls = slices.Delete(l.Calls, i, i+1)
		if l.Radio != nil {
			l.Radio = slices.Delete(l.Radio, i, i+1)
		}
	}
	l.insert([]callouts.Call{c})
}

// FindPlans is Lesson.Find for nothing but calls.
func FindPlans(calls []callouts.Call, plans []*rules.Plan) []rules.Assessment {
	return Lesson{Calls: calls}.Find(plans)
}

// Find finds which of the plans were flown, and when, and judges each. Nothing is
// found in talk that does not hold several required steps of a procedure, in order,
// of its beginning and of its end. Attempts
// that were given up are found where the words tell, or where the maneuver was
// begun afresh or had been named.
func (l Lesson) Find(plans []*rules.Plan) []rules.Assessment {
	return l.narrowed(func(l Lesson) []rules.Assessment {
		s := newSearch(l, plans)
		s.run()
		return s.judge(s.stretches())
	})
}

// Attempts judges the attempts at one procedure the user says was flown. Where
// none stands out, the stretch that fits best is judged, however little was
// heard. The result is empty only when nothing was heard of the steps that have a
// place in its order.
func (l Lesson) Attempts(plan *rules.Plan) []rules.Assessment {
	return l.narrowed(func(l Lesson) []rules.Assessment {
		s := newSearch(l, []*rules.Plan{plan})
		s.run()
		if found := s.judge(s.stretches()); len(found) > 0 {
			return found
		}
		if s.best.start < 0 {
			return nil
		}
		lo, hi := s.around(s.best, 0, len(s.calls))
		a := plan.Judge(s.calls, lo, hi)
		if short, ok := s.faded(plan, &a, lo, hi); ok {
			return []rules.Assessment{short}
		}
		plan.Hint(&a, l.Hints)
		return []rules.Assessment{a}
	})
}

// narrowed looks only at the calls within the stretch asked for. Indices in the
// results are those of the whole lesson all the same.
func (l Lesson) narrowed(look func(Lesson) []rules.Assessment) []rules.Assessment {
	if l.Within == nil {
		return look(l)
	}
	from := func(second float64) int {
		i, _ := slices.BinarySearchFunc(l.Calls, second, func(c callouts.Call, s float64) int { return cmp.Compare(c.Start, s) })
		return i
	}
	lo := from(l.Within.From)
	hi := max(lo, from(l.Within.To))
	part := l
	part.Calls, part.Within = l.Calls[lo:hi], nil
	if l.Radio != nil {
		part.Radio = l.Radio[lo:hi]
	}
	found := look(part)
	for _, a := range found {
		for i := range a.Steps {
			if c := a.Steps[i].Call; c != nil {
				whole := *c + lo
				a.Steps[i].Call = &whole
			}
		}
	}
	return found
}
