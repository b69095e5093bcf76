package rules

import (
	"slices"
	"strings"
	"unicode"

	"sidetone/callouts"
)

// Procedure is the ordered list of calls a maneuver is flown by, as read from
// a procedure file. It is made by ParseProcedure and not changed afterwards.
type Procedure struct {
	ID    string
	Title string
	// Names are what the maneuver is called aloud, beside its title, in the
	// notation of phrases.
	Names   []string
	Summary string
	// Extends is the id of the procedure this one changes, "" for none.
	Extends string
	// Aircraft is a condition over aircraft facts; "" means any aircraft.
	Aircraft string
	// NeverWith are callouts that are not made in this maneuver: where one is
	// heard, something else is flown.
	NeverWith []string
	Phases    []Phase
	Holds     []*Hold
	Nevers    []*Never

	steps  []*Step
	before [][]bool // before[a][b]: step a comes before step b, transitively
	say    []saying
	pos    *positions
}

// Phase is a named stretch of a procedure. Phases follow one another.
type Phase struct {
	Title string
	// Cue is the callout the phase is flown on, such as "recover"; the time from
	// it to the last step is measured. "" for none.
	Cue   string
	Steps []*Step

	cuePos place
}

// Seat is who a step is required of.
type Seat string

// The seats of a trainer. A speaker of a lesson sits in the one whose name
// that speaker goes by.
const (
	Student    Seat = "student"
	Instructor Seat = "instructor"
)

// seatOf is the seat of a speaker, "" when it is not known.
func seatOf(speaker string) Seat {
	s := Seat(strings.ToLower(strings.TrimSpace(speaker)))
	if slices.Contains(seats, s) {
		return s
	}
	return ""
}

// Step is one thing to be called.
type Step struct {
	ID    string
	Title string
	// Calls are the callout ids that satisfy the step, any one of them.
	Calls []string
	// By is the seat the call is required of, "" for either.
	By Seat
	// Value is what figure the call should carry, nil when none matters.
	Value *Expectation
	// After names the steps this one must follow. When the file leaves it out
	// it is nil, and the step follows the one above it.
	After []string
	// Anytime steps belong nowhere in the order.
	Anytime bool
	// Optional steps are shown when heard and never held against anyone.
	Optional bool
	// Repeats marks calls rightly made earlier as well, such as trimming after
	// each stage of flap.
	Repeats bool
	// Group counts from 1 the groups of steps of which one is needed; 0 for a
	// step that is in none.
	Group int
	// When is a condition over aircraft facts; "" means always.
	When string
	// Within asks for the call soon after another, nil when it may take its time.
	Within *Within
	// NotBefore asks for the call some time after another, nil when there is no
	// such wait. It names a step.
	NotBefore *Within
	// Severity is how much a fault in this step matters.
	Severity Severity
	// Reference is the source of the step, Teach one sentence for the student.
	Reference string
	Teach     string

	say   []string
	phase int
	index int
	pos   stepPositions
}

// Expectation is the figure a call should carry, in the unit of its quantity.
type Expectation struct {
	Of callouts.Quantity
	// Target is an expression over aircraft facts giving a number; "" when any
	// figure will do.
	Target string
	// AsCalledAt is the step whose figure is the target instead, "" for none.
	AsCalledAt string
	// Plus and Minus are how far above and below the target is still good.
	Plus, Minus float64
	// Optional figures need not be said with the call.
	Optional bool
}

// Within is a time counted from the start of the call of step Of, or else from
// the callout Cue, whatever stance it is said in.
type Within struct {
	Seconds float64
	Of, Cue string
}

// Bound is where a stretch begins or ends: at the call of a step, at a callout
// heard as a cue, or, when both are "", with the maneuver.
type Bound struct{ Step, Cue string }

// Hold is a figure to be kept within limits all through a stretch.
type Hold struct {
	ID, Title   string
	Calls       []string // the callouts whose figures are looked at
	Value       Expectation
	From, Until Bound
	When        string // a condition over aircraft facts; "" means always
	Severity    Severity
	Reference   string
	Teach       string

	pos stretchPositions
}

// Never is a call that must not be made in a stretch.
type Never struct {
	ID, Title   string
	Calls       []string
	From, Until Bound
	When        string
	Severity    Severity
	Reference   string
	Teach       string

	pos stretchPositions
}

// saying is a phrase a procedure adds to those of a callout.
type saying struct {
	callout, phrase string
	quantity        callouts.Quantity
	at              place
	general         bool // given for the callout, not for a step
}

// Steps are all steps, in the order of the file.
func (p *Procedure) Steps() []*Step { return p.steps }

// SpokenNames are the phrases by which the maneuver is named aloud: its title and
// its names, each once.
func (p *Procedure) SpokenNames() []string {
	title := strings.Join(strings.FieldsFunc(strings.ToLower(p.Title), func(r rune) bool {
		return r != '\'' && !unicode.IsLetter(r)
	}), " ")
	var out []string
	for _, name := range append([]string{title}, p.Names...) {
		if !slices.Contains(out, name) && callouts.CheckPhrase(name, "") == nil {
			out = append(out, name)
		}
	}
	return out
}

// Before tells whether the order has step a before step b, by their ids.
func (p *Procedure) Before(a, b string) bool {
	i, j := p.at(a), p.at(b)
	return i >= 0 && j >= 0 && p.before[i][j]
}

// at is the place of a step, -1 when there is none of that id.
func (p *Procedure) at(id string) int {
	return slices.IndexFunc(p.steps, func(s *Step) bool { return s.ID == id })
}

// Phase is the title of the phase the step is in.
func (p *Procedure) Phase(s *Step) string { return p.Phases[s.phase].Title }

// Callouts are the ids of all callouts the steps of the procedure listen for, sorted.
func (p *Procedure) Callouts() []string {
	var ids []string
	for _, s := range p.steps {
		ids = append(ids, s.Calls...)
	}
	slices.Sort(ids)
	return slices.Compact(ids)
}

// Phrases are the phrases the procedure brings along, to be added to the
// lexicon (see callouts.Lexicon.With), one callout each.
func (p *Procedure) Phrases() []callouts.Callout {
	var out []callouts.Callout
	for _, s := range p.say {
		i := slices.IndexFunc(out, func(c callouts.Callout) bool { return c.ID == s.callout })
		if i < 0 {
			out = append(out, callouts.Callout{ID: s.callout, Quantity: s.quantity})
			i = len(out) - 1
		}
		out[i].Say = append(out[i].Say, s.phrase)
	}
	return out
}

// CheckCallouts reports all that names a callout not in known, nor brought
// along by the procedure, with file, line and column and the likeliest id that
// was meant.
func (p *Procedure) CheckCallouts(known []string) error {
	known = slices.Clone(known)
	for _, s := range p.say {
		if !slices.Contains(known, s.callout) && idForm.MatchString(s.callout) {
			known = append(known, s.callout)
		}
	}
	var errs []*SourceError
	check := func(of, id string, at place) {
		if id != "" && !slices.Contains(known, id) {
			errs = append(errs, p.pos.errorf(at, "%sno callout is called %q%s", of, id, Meant(id, known)))
		}
	}
	for i, id := range p.NeverWith {
		check("", id, p.pos.never[i])
	}
	for _, ph := range p.Phases {
		check("", ph.Cue, ph.cuePos)
	}
	for _, s := range p.steps {
		of := "step \"" + s.ID + "\": "
		for i, id := range s.Calls {
			check(of, id, s.pos.calls[i])
		}
		if s.Within != nil {
			check(of, s.Within.Cue, s.pos.cue)
		}
	}
	for _, h := range p.Holds {
		h.pos.check("hold \""+h.ID+"\": ", h.Calls, h.From, h.Until, check)
	}
	for _, n := range p.Nevers {
		n.pos.check("never \""+n.ID+"\": ", n.Calls, n.From, n.Until, check)
	}
	return together(errs)
}

// stretchPositions are the places of those parts of a hold or never that can
// be wrong.
type stretchPositions struct {
	id, when, target, asCalledAt, from, until place
	calls                                     []place
}

func (pos *stretchPositions) check(of string, calls []string, from, until Bound, check func(of, id string, at place)) {
	for i, id := range calls {
		check(of, id, pos.calls[i])
	}
	check(of, from.Cue, pos.from)
	check(of, until.Cue, pos.until)
}
