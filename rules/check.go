package rules

import (
	"errors"
	"slices"

	"sidetone/callouts"
)

// Check finds all that is wrong with a procedure beyond its form: callouts the
// lexicon does not have, phrases that cannot be found, figures nobody could
// hear, facts no aircraft of the fleet has. It gives the aircraft the procedure
// can be flown in; with none, the errors say why not in the first.
func Check(p *Procedure, lexicon *callouts.Lexicon, fleet []*Aircraft) (fit []*Aircraft, err error) {
	var known []string
	for _, c := range lexicon.Callouts {
		known = append(known, c.ID)
	}
	problems := Problems(p.CheckCallouts(known))
	problems = append(problems, p.checkPhrases(lexicon)...)
	var first error
	for _, ac := range fleet {
		switch _, err := Bind(p, ac); {
		case err == nil:
			fit = append(fit, ac)
		case first == nil && !errors.Is(err, ErrOtherAircraft):
			first = err
		}
	}
	if len(fit) == 0 {
		problems = append(problems, Problems(first)...)
	}
	return fit, together(problems)
}

// CheckSource is ParseProcedureOver and Check in one, and tells what is wrong of
// both kinds at once. p is nil when nothing could be made of the file.
func CheckSource(source Source, file string, b []byte, lexicon *callouts.Lexicon, fleet []*Aircraft) (p *Procedure, fit []*Aircraft, err error) {
	p, problems := parse(source, file, b)
	if p == nil {
		return nil, nil, together(problems)
	}
	fit, err = Check(p, lexicon, fleet)
	told := map[place]bool{}
	for _, e := range problems {
		told[place{e.Line, e.Column}] = true
	}
	for _, e := range Problems(err) {
		if !told[place{e.Line, e.Column}] {
			problems = append(problems, e)
		}
	}
	return p, fit, together(problems)
}

// checkPhrases looks at the phrases the procedure brings along, and whether the
// callouts it wants figures of have them.
func (p *Procedure) checkPhrases(lexicon *callouts.Lexicon) (problems []*SourceError) {
	full := lexicon.With(p.Phrases()...)
	quantity := map[string]callouts.Quantity{}
	var known []string
	for _, c := range full.Callouts {
		quantity[c.ID] = c.Quantity
	}
	for _, c := range lexicon.Callouts {
		known = append(known, c.ID)
	}
	for _, s := range p.steps {
		known = append(known, s.Calls...)
	}
	for i, name := range p.Names {
		if err := callouts.CheckPhrase(name, ""); err != nil {
			problems = append(problems, p.pos.errorf(p.pos.names[i], "the name of the maneuver: %v", err))
		}
	}
	for _, s := range p.say {
		if s.general && !slices.Contains(known, s.callout) {
			problems = append(problems, p.pos.errorf(s.at, "phrase %q: no callout is called %q%s", s.phrase, s.callout, Meant(s.callout, known)))
			continue
		}
		if err := callouts.CheckPhrase(s.phrase, quantity[s.callout]); err != nil {
			problems = append(problems, p.pos.errorf(s.at, "%v", err))
		}
	}
	figure := func(kind, id string, calls []string, e *Expectation, at place) {
		if e == nil || !slices.Contains(quantities, e.Of) || !slices.ContainsFunc(calls, func(c string) bool { _, ok := quantity[c]; return ok }) {
			return
		}
		if !slices.ContainsFunc(calls, func(c string) bool { return quantity[c] == e.Of }) {
			have := "no figure"
			if q := quantity[calls[0]]; q != "" {
				have = "a figure of " + string(q)
			}
			problems = append(problems, p.pos.errorf(at, "%s %q wants a figure of %s, but %q is said with %s", kind, id, e.Of, calls[0], have))
		}
	}
	for _, s := range p.steps {
		figure("step", s.ID, s.Calls, s.Value, s.pos.value)
	}
	for _, h := range p.Holds {
		if len(h.Calls) > 0 {
			figure("hold", h.ID, h.Calls, &h.Value, h.pos.calls[0])
		}
	}
	return problems
}
