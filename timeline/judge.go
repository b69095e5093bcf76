package timeline

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/rules"
)

// Judge makes the debrief of words: it finds the calls in them and holds them against
// procedures made out for one aircraft. It is safe for concurrent use.
type Judge struct {
	lexicon *callouts.Lexicon
	finder  *callouts.Finder
	names   *Names
	plans   []*rules.Plan
	only    *rules.Procedure // the one that was asked for
	notes   []string         // what cannot be judged
}

// NewJudge prepares a judge that finds which of procs were flown. The phrases of
// procedures beyond those of the lexicon must be in it already (callouts.Lexicon.With).
// Procedures the aircraft's file lacks facts for are left out, and a note says so.
func NewJudge(lexicon *callouts.Lexicon, procs []*rules.Procedure, ac *rules.Aircraft) (*Judge, error) {
	j := &Judge{lexicon: lexicon}
	var left []string
	for _, p := range procs {
		plan, err := rules.Bind(p, ac)
		switch {
		case err == nil:
			j.plans = append(j.plans, plan)
		case !errors.Is(err, rules.ErrOtherAircraft):
			left = append(left, p.ID)
		}
	}
	if len(left) > 0 {
		j.notes = append(j.notes, fmt.Sprintf("Not looked for, since the aircraft file lacks facts they need: %s. (sidetone debrief RECORDING --procedure NAME tells which.)", strings.Join(left, ", ")))
	}
	return j, j.listen()
}

// NewJudgeOf prepares a judge of procedures the user named: one that the aircraft
// cannot be judged by is an error, unless it is one of several for other aircraft. If
// there is but one it is taken to have been flown.
func NewJudgeOf(lexicon *callouts.Lexicon, asked []*rules.Procedure, ac *rules.Aircraft) (*Judge, error) {
	j := &Judge{lexicon: lexicon}
	for _, p := range asked {
		plan, err := rules.Bind(p, ac)
		switch {
		case errors.Is(err, rules.ErrOtherAircraft) && len(asked) > 1:
		case errors.Is(err, rules.ErrOtherAircraft):
			return nil, fmt.Errorf("%q cannot be flown in %q: %w", p.ID, ac.ID, err)
		case err != nil:
			return nil, err
		default:
			j.plans = append(j.plans, plan)
		}
	}
	if len(asked) == 1 {
		j.only = asked[0]
	}
	return j, j.listen()
}

func (j *Judge) listen() (err error) {
	if j.finder, err = callouts.NewFinder(j.lexicon); err != nil {
		return err
	}
	var procs []*rules.Procedure
	for _, p := range j.plans {
		procs = append(procs, p.Procedure)
	}
	j.names, err = NewNames(procs)
	return err
}

// Callout is one of those that are listened for, nil if it is not.
func (j *Judge) Callout(id string) *callouts.Callout {
	i := slices.IndexFunc(j.lexicon.Callouts, func(c callouts.Callout) bool { return c.ID == id })
	if i < 0 {
		return nil
	}
	return &j.lexicon.Callouts[i]
}

// Step is a step of one of the procedures that are judged, nil when it is in none.
func (j *Judge) Step(procedure, id string) *rules.Step {
	p := j.Procedure(procedure)
	if p == nil {
		return nil
	}
	if i := slices.IndexFunc(p.Steps(), func(s *rules.Step) bool { return s.ID == id }); i >= 0 {
		return p.Steps()[i]
	}
	return nil
}

// Callouts are those that are listened for. They are not to be changed.
func (j *Judge) Callouts() []callouts.Callout { return j.lexicon.Callouts }

// Procedure is one of those a lesson is held against, nil if it is not.
func (j *Judge) Procedure(id string) *rules.Procedure {
	for _, p := range j.plans {
		if p.Procedure.ID == id {
			return p.Procedure
		}
	}
	return nil
}

// Debrief judges a lesson, or the stretch of it within (nil: all of it). Added are
// calls that are known to have been made besides those in the words. Notes are said
// of the recording before those of the judge.
func (j *Judge) Debrief(rec Recording, t *transcript.Transcript, within *Span, notes []string, added ...callouts.Call) *Timeline {
	heard := Understand(t, j.finder, j.names)
	heard.Within = within
	heard.insert(added)
	found := heard.believing(j.plans, func() []rules.Assessment {
		if j.only == nil {
			return heard.Find(j.plans)
		}
		return heard.Attempts(j.plans[0])
	})
	notes = slices.Concat(notes, j.notes)
	if j.only != nil && len(found) == 0 {
		notes = append(notes, noStep(j.only, within))
	}
	tl := Build(rec, t, heard.Calls, found, notes...)
	tl.Judged = within
	return tl
}

// insert puts calls in their places; none of them was made on the radio.
func (l *Lesson) insert(calls []callouts.Call) {
	for _, c := range calls {
		at := len(l.Calls)
		for at > 0 && l.Calls[at-1].Start > c.Start {
			at--
		}
		l.Calls = slices.Insert(l.Calls, at, c)
		if l.Radio != nil {
			l.Radio = slices.Insert(l.Radio, at, false)
		}
	}
}

// noStep says that nothing was heard of the one procedure that was asked for.
func noStep(p *rules.Procedure, span *Span) string {
	where := "in this recording"
	if span != nil {
		where = fmt.Sprintf("between %s and %s", rules.Clock(span.From), rules.Clock(span.To))
	}
	return fmt.Sprintf("No step of %q was heard %s.", p.Title, where)
}
