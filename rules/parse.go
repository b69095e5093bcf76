package rules

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"sidetone/callouts"
)

// Source finds the text of the procedure of an id, for those that extend it,
// and the name of its file for errors.
type Source func(id string) (file string, text []byte, err error)

// ParseProcedure reads a procedure file that stands by itself. file is the name
// to use in errors, which are of type *SourceError or, where there are several,
// SourceErrors. Callout ids and aircraft facts are not checked here, since which
// of them exist is not known yet: see CheckCallouts and Bind.
func ParseProcedure(file string, b []byte) (*Procedure, error) {
	return ParseProcedureOver(nil, file, b)
}

// ParseProcedureOver is ParseProcedure for a file that may extend a procedure
// of source.
func ParseProcedureOver(source Source, file string, b []byte) (*Procedure, error) {
	p, problems := parse(source, file, b)
	if len(problems) > 0 {
		return nil, together(problems)
	}
	return p, nil
}

// parse makes what can be made of a file, nil when that is nothing, and says
// what is wrong with it.
func parse(source Source, file string, b []byte) (*Procedure, []*SourceError) {
	r := newReader(file)
	var in procedureFile
	if !r.decode(b, 0, &in, procedureGrammar) {
		return nil, r.errs
	}
	if in.Extends.set {
		base, ok := r.base(source, in.Extends)
		if !ok {
			return nil, r.errs
		}
		in = r.extend(base, in)
	} else {
		for _, only := range []struct {
			key string
			at  place
			set bool
		}{
			{"change", placeOfFirst(in.Change), len(in.Change) > 0},
			{"add", placeOfFirst(in.Add), len(in.Add) > 0},
			{"remove", in.Remove.at, in.Remove.set},
		} {
			if only.set {
				r.fail(only.at, `%q needs "extends: ..." to name the procedure that is changed`, only.key)
			}
		}
	}
	p := r.procedure(in)
	return p, r.errs
}

func placeOfFirst[T any](list []at[T]) place {
	if len(list) == 0 {
		return place{1, 1}
	}
	return list[0].at
}

// reader collects what is found wrong.
type reader struct {
	pos    *positions
	errs   []*SourceError
	broken map[lack]bool
	ids    map[string]place
}

func newReader(file string) *reader {
	return &reader{pos: &positions{file: file}, broken: map[lack]bool{}, ids: map[string]place{}}
}

func (r *reader) fail(at place, format string, args ...any) {
	r.errs = append(r.errs, r.pos.errorf(at, format, args...))
}

// lacks is fail for something that should be there and is not.
func (r *reader) lacks(at place, format string, args ...any) {
	r.fail(at, format, args...)
	r.errs[len(r.errs)-1].missing = true
}

// procedure makes a procedure of what is written, complaining where it must.
func (r *reader) procedure(in procedureFile) *Procedure {
	r.pos.aircraft = inside(in.Aircraft)
	p := &Procedure{ID: in.ID.v, Title: in.Title.v, Summary: strings.TrimSpace(in.Summary.v), Aircraft: in.Aircraft.v,
		Extends: in.Extends.v, pos: r.pos}
	r.id(in.ID, place{1, 1}, "the procedure")
	r.need(in.Title, place{1, 1}, "the procedure", "title")
	r.expression(in.Aircraft)
	p.NeverWith, r.pos.never = wordsOf(in.Never.v)
	p.Names, r.pos.names = wordsOf(in.Names.v)
	for _, name := range in.Names.v {
		r.phrase(name)
	}
	if len(in.Phases) == 0 && !r.broken[lack{place{1, 1}, "phases"}] {
		r.lacks(place{1, 1}, "the procedure has no phases")
	}
	groups := 0
	for i, ph := range in.Phases {
		r.need(ph.v.Title, ph.at, fmt.Sprintf("phase %d", i+1), "title")
		if len(ph.v.Steps) == 0 && !r.broken[lack{ph.at, "steps"}] {
			r.lacks(ph.at, "phase %q has no steps", short(ph.v.Title.v))
		}
		phase := Phase{Title: ph.v.Title.v, Cue: ph.v.Cue.v, cuePos: ph.v.Cue.at}
		for _, entry := range ph.v.Steps {
			list, oneOf := entry.v.steps()
			if oneOf {
				groups++
				if len(list) < 2 {
					r.fail(entry.v.oneOf.at, "one_of needs at least two steps to choose from")
				}
			}
			for _, in := range list {
				s := r.step(in)
				s.phase, s.index = i, len(p.steps)
				if oneOf {
					s.Group = groups
					if s.Optional {
						r.fail(in.v.Optional.at, "step %q is one of several, so it cannot be optional as well", s.ID)
					}
				}
				p.steps = append(p.steps, s)
				phase.Steps = append(phase.Steps, s)
			}
		}
		p.Phases = append(p.Phases, phase)
	}
	for _, h := range in.Holds {
		p.Holds = append(p.Holds, r.hold(h))
	}
	for _, n := range in.Nevers {
		p.Nevers = append(p.Nevers, r.never(n))
	}
	for _, id := range slices.Sorted(maps.Keys(in.Say.v)) {
		for _, phrase := range in.Say.v[id].v {
			r.phrase(phrase)
			p.say = append(p.say, saying{callout: id, phrase: phrase.v, at: phrase.at, general: true})
		}
	}
	for _, s := range p.steps {
		for i, phrase := range s.say {
			p.say = append(p.say, saying{callout: s.Calls[0], phrase: phrase, quantity: s.quantity(), at: s.pos.say[i]})
		}
	}
	r.link(p)
	return p
}

// short is the beginning of a text that may go on by mistake.
func short(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "..."
	}
	return s
}

func wordsOf(list oneOrMany) (ids []string, places []place) {
	for _, w := range list {
		ids, places = append(ids, w.v), append(places, w.at)
	}
	return ids, places
}

// need complains of a text that is not there, unless what was there has been
// complained of already.
func (r *reader) need(v at[string], parent place, what, key string) {
	if strings.TrimSpace(v.v) != "" || r.broken[lack{parent, key}] {
		return
	}
	if v.set {
		parent = v.at
	}
	if key == "reference" {
		key = `reference (or the words "common practice, no source")`
	}
	article := "a"
	if strings.HasPrefix(key, "i") || strings.HasPrefix(key, "o") {
		article = "an"
	}
	r.lacks(parent, "%s needs %s %s", what, article, key)
}

func (r *reader) id(v at[string], parent place, what string) {
	r.need(v, parent, what, "id")
	if v.set && !idForm.MatchString(v.v) && strings.TrimSpace(v.v) != "" {
		right := ""
		if d := dashed(v.v); idForm.MatchString(d) {
			right = "; write " + d
		}
		r.fail(v.at, "the id %q may only have small letters, figures and single dashes between%s", v.v, right)
	}
}

// own is id for what must be the only one of that id in the file.
func (r *reader) own(v at[string], parent place, what, kind string) {
	r.id(v, parent, what)
	if v.v == "" {
		return
	}
	if _, twice := r.ids[v.v]; twice {
		r.fail(v.at, "a %s called %q is already there", kind, v.v)
		return
	}
	r.ids[v.v] = v.at
}

// stated checks what steps, holds and nevers alike must say of themselves.
func (r *reader) stated(parent place, what, kind string, id, title, reference, when at[string]) {
	r.own(id, parent, what, kind)
	r.need(title, parent, what, "title")
	r.need(reference, parent, what, "reference")
	r.expression(when)
}

// inside is where an expression begins, past its quotation mark.
func inside(e at[string]) place { return place{e.at.line, e.at.column + e.quote} }

func (r *reader) expression(e at[string]) {
	if e.v == "" {
		return
	}
	if off, msg := badExpression(e.v); msg != "" {
		r.fail(place{e.at.line, inside(e).column + off}, "expression %q: %s", e.v, msg)
	}
}

func (r *reader) phrase(v at[string]) {
	if strings.TrimSpace(v.v) == "" {
		r.fail(v.at, "a phrase needs words")
	}
}

func (r *reader) severity(v at[string]) Severity {
	if !v.set {
		return Important
	}
	if !slices.Contains(severities, Severity(v.v)) {
		r.fail(v.at, "no severity is called %q%s", v.v, Meant(v.v, words(severities)))
	}
	return Severity(v.v)
}

// calls are the callouts something listens for.
func (r *reader) calls(v at[oneOrMany], parent place, name string) ([]string, []place) {
	if len(v.v) == 0 && !r.broken[lack{parent, "call"}] {
		r.lacks(parent, "%s needs a call", name)
	}
	for _, c := range v.v {
		if strings.TrimSpace(c.v) == "" {
			r.fail(c.at, "%s has an empty call", name)
		}
	}
	return wordsOf(v.v)
}

func named(kind string, id at[string]) string {
	if id.v == "" {
		return "the " + kind
	}
	return fmt.Sprintf("%s %q", kind, id.v)
}

func (r *reader) step(in at[stepFile]) *Step {
	v := in.v
	name := named("step", v.ID)
	s := &Step{
		ID: v.ID.v, Title: v.Title.v, By: Seat(v.By.v), Anytime: v.Anytime.v, Optional: v.Optional.v, Repeats: v.Repeats.v, When: v.When.v,
		Severity: r.severity(v.Severity), Reference: v.Reference.v, Teach: strings.TrimSpace(v.Teach.v),
	}
	s.pos.id, s.pos.when = v.ID.at, inside(v.When)
	r.stated(in.at, name, "step", v.ID, v.Title, v.Reference, v.When)
	s.Calls, s.pos.calls = r.calls(v.Call, in.at, name)
	for _, phrase := range v.Say.v {
		r.phrase(phrase)
		if len(s.Calls) > 0 {
			s.say, s.pos.say = append(s.say, phrase.v), append(s.pos.say, phrase.at)
		}
	}
	if v.By.set && !slices.Contains(seats, s.By) {
		r.fail(v.By.at, "no seat is called %q%s", v.By.v, Meant(v.By.v, words(seats)))
	}
	if v.After.set {
		s.After = []string{}
		if s.Anytime {
			r.fail(v.After.at, "%s may come at any time, so it cannot also come after another", name)
		}
	}
	for _, a := range v.After.v {
		s.After, s.pos.after = append(s.After, a.v), append(s.pos.after, a.at)
	}
	if v.Value.set {
		s.Value = r.value(v.Value, name)
		s.pos.value, s.pos.target, s.pos.asCalledAt = v.Value.at, inside(v.Value.v.Target), v.Value.v.AsCalledAt.at
	}
	if v.Within.set {
		s.Within = r.within(v.Within, name, "within", true)
		s.pos.within, s.pos.cue = v.Within.v.Of.at, v.Within.v.Cue.at
	}
	if v.NotBefore.set {
		s.NotBefore = r.within(v.NotBefore, name, "not_before", false)
		s.pos.notBefore = v.NotBefore.v.Of.at
		if s.Anytime {
			r.fail(v.NotBefore.at, "%s may come at any time, so it cannot also wait for another", name)
		}
	}
	return s
}

func (r *reader) within(in at[withinFile], name, key string, cue bool) *Within {
	w := in.v
	switch {
	case !cue && w.Cue.set:
		r.fail(w.Cue.at, `%s: %q counts from a step, so name it with "of"`, name, key)
	case w.Of.set && w.Cue.set:
		r.fail(w.Cue.at, `%s: %q counts from a step ("of") or from a "cue", not from both`, name, key)
	case !w.Seconds.set && !r.broken[lack{in.at, "seconds"}], !w.Of.set && !w.Cue.set:
		from := `"of"`
		if cue {
			from = `"of" (or "cue")`
		}
		r.fail(in.at, `%s: %q needs "seconds" and %s`, name, key, from)
	case w.Seconds.set && (!(w.Seconds.v > 0) || math.IsInf(w.Seconds.v, 0)):
		r.fail(w.Seconds.at, "%s: seconds must be more than 0", name)
	}
	return &Within{Seconds: w.Seconds.v, Of: w.Of.v, Cue: w.Cue.v}
}

func (r *reader) value(in at[valueFile], name string) *Expectation {
	v := in.v
	e := &Expectation{Of: callouts.Quantity(v.Of.v), Target: v.Target.v, AsCalledAt: v.AsCalledAt.v, Optional: v.Optional.v,
		Plus: v.Tolerance.v.Plus.v, Minus: v.Tolerance.v.Minus.v}
	if !v.Of.set && !r.broken[lack{in.at, "of"}] {
		r.fail(in.at, `%s: the value needs "of", the quantity it is of`, name)
	} else if v.Of.set && !slices.Contains(quantities, e.Of) {
		r.fail(v.Of.at, "no quantity is called %q%s", v.Of.v, Meant(v.Of.v, words(quantities)))
	}
	r.expression(v.Target)
	switch {
	case v.Target.set && v.AsCalledAt.set:
		r.fail(v.AsCalledAt.at, "%s: a value has a target or is as called at another step, not both", name)
	case v.Tolerance.set && e.Target == "" && e.AsCalledAt == "" && !r.broken[lack{in.at, "target"}]:
		r.fail(v.Tolerance.at, "%s: a tolerance needs a target", name)
	}
	for _, t := range []at[float64]{v.Tolerance.v.Plus, v.Tolerance.v.Minus} {
		if t.set && (!(t.v >= 0) || math.IsInf(t.v, 0)) {
			r.fail(t.at, "%s: a tolerance cannot be less than 0", name)
			break // the one number may be both
		}
	}
	return e
}

func (r *reader) hold(in at[holdFile]) *Hold {
	v := in.v
	name := named("hold", v.ID)
	h := &Hold{ID: v.ID.v, Title: v.Title.v, When: v.When.v, From: bound(v.From.v), Until: bound(v.Until.v),
		Severity: r.severity(v.Severity), Reference: v.Reference.v, Teach: strings.TrimSpace(v.Teach.v)}
	r.stated(in.at, name, "hold", v.ID, v.Title, v.Reference, v.When)
	h.Calls, h.pos.calls = r.calls(v.Call, in.at, name)
	switch {
	case v.Value.set:
		h.Value = *r.value(v.Value, name)
		if h.Value.Target == "" && h.Value.AsCalledAt == "" && !r.broken[lack{v.Value.at, "target"}] {
			r.fail(v.Value.at, `%s: the value needs a "target", or a step to be "as_called_at"`, name)
		}
	case !r.broken[lack{in.at, "value"}]:
		r.fail(in.at, "%s needs a value, as in value: {of: altitude, as_called_at: STEP, tolerance: 100}", name)
	}
	h.pos.id, h.pos.when, h.pos.target, h.pos.asCalledAt = v.ID.at, inside(v.When), inside(v.Value.v.Target), v.Value.v.AsCalledAt.at
	h.pos.from, h.pos.until = r.bound(v.From, name), r.bound(v.Until, name)
	return h
}

func (r *reader) never(in at[neverFile]) *Never {
	v := in.v
	name := named("never", v.ID)
	n := &Never{ID: v.ID.v, Title: v.Title.v, When: v.When.v, From: bound(v.From.v), Until: bound(v.Until.v),
		Severity: r.severity(v.Severity), Reference: v.Reference.v, Teach: strings.TrimSpace(v.Teach.v)}
	r.stated(in.at, name, "never", v.ID, v.Title, v.Reference, v.When)
	n.Calls, n.pos.calls = r.calls(v.Call, in.at, name)
	n.pos.id, n.pos.when = v.ID.at, inside(v.When)
	n.pos.from, n.pos.until = r.bound(v.From, name), r.bound(v.Until, name)
	return n
}

func bound(in boundFile) Bound { return Bound{Step: in.Step.v, Cue: in.Cue.v} }

// bound is where a bound is written.
func (r *reader) bound(in at[boundFile], name string) place {
	v := in.v
	switch {
	case v.Step.set && v.Cue.set:
		r.fail(v.Cue.at, "%s: a stretch is bounded by a step or a cue, not by both at once", name)
	case in.set && v.Step.v == "" && v.Cue.v == "":
		r.fail(in.at, `%s: name the step, or the cue as {cue: ...}`, name)
	case v.Cue.set:
		return v.Cue.at
	}
	return v.Step.at
}

func words[S ~string](list []S) []string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = string(s)
	}
	return out
}

var errNoSource = errors.New("only built-in procedures can be extended")
