package rules

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"

	"sidetone/callouts"
)

// at is a setting that remembers where in the file it stands.
type at[T any] struct {
	v     T
	at    place
	quote int // 1 when the text stands in quotes, which the place points at
	set   bool
}

func (a *at[T]) UnmarshalYAML(n ast.Node) error {
	t := n.GetToken()
	a.at, a.set = placeOf(t), true
	if t != nil && (t.Type == token.SingleQuoteType || t.Type == token.DoubleQuoteType) {
		a.quote = 1
	}
	return yaml.NodeToValue(n, &a.v, yaml.Strict())
}

// oneOrMany is a word or a list of words.
type oneOrMany []at[string]

func (o *oneOrMany) UnmarshalYAML(n ast.Node) error {
	if _, list := n.(*ast.SequenceNode); list {
		return yaml.NodeToValue(n, (*[]at[string])(o), yaml.Strict())
	}
	*o = make([]at[string], 1)
	return yaml.NodeToValue(n, &(*o)[0], yaml.Strict())
}

// tolerance is a number, good both ways, or a plus and a minus.
type tolerance struct {
	Plus  at[float64] `yaml:"plus"`
	Minus at[float64] `yaml:"minus"`
}

func (t *tolerance) UnmarshalYAML(n ast.Node) error {
	if _, group := n.(*ast.MappingNode); group {
		type plain tolerance
		return yaml.NodeToValue(n, (*plain)(t), yaml.Strict())
	}
	if err := yaml.NodeToValue(n, &t.Plus); err != nil {
		return err
	}
	t.Minus = t.Plus
	return nil
}

type procedureFile struct {
	ID       at[string]      `yaml:"id"`
	Title    at[string]      `yaml:"title"`
	Summary  string          `yaml:"summary"`
	Aircraft at[string]      `yaml:"aircraft"`
	Never    at[oneOrMany]   `yaml:"never_with"`
	Phases   []at[phaseFile] `yaml:"phases"`
}

type phaseFile struct {
	Title at[string]     `yaml:"title"`
	Steps []at[stepFile] `yaml:"steps"`
}

type stepFile struct {
	ID        at[string]     `yaml:"id"`
	Title     at[string]     `yaml:"title"`
	Call      at[oneOrMany]  `yaml:"call"`
	Value     at[valueFile]  `yaml:"value"`
	After     at[oneOrMany]  `yaml:"after"`
	Anytime   at[bool]       `yaml:"anytime"`
	Optional  bool           `yaml:"optional"`
	Repeats   bool           `yaml:"repeats"`
	When      at[string]     `yaml:"when"`
	Within    at[withinFile] `yaml:"within"`
	Severity  at[string]     `yaml:"severity"`
	Reference at[string]     `yaml:"reference"`
	Teach     string         `yaml:"teach"`
}

type valueFile struct {
	Of        at[string]    `yaml:"of"`
	Target    at[string]    `yaml:"target"`
	Tolerance at[tolerance] `yaml:"tolerance"`
	Optional  bool          `yaml:"optional"`
}

type withinFile struct {
	Seconds at[float64] `yaml:"seconds"`
	Of      at[string]  `yaml:"of"`
}

type aircraftFile struct {
	ID    at[string]                  `yaml:"id"`
	Title at[string]                  `yaml:"title"`
	Facts at[map[string]at[factFile]] `yaml:"facts"`
}

type factFile struct {
	Value at[any]    `yaml:"value"`
	Unit  at[string] `yaml:"unit"`
}

var (
	procedureKeys = []string{"id", "title", "summary", "aircraft", "never_with", "phases", "steps", "call", "value", "of", "target",
		"tolerance", "plus", "minus", "optional", "repeats", "after", "anytime", "when", "within", "seconds", "severity", "reference", "teach"}
	aircraftKeys = []string{"id", "title", "facts", "value", "unit"}

	quantities = []callouts.Quantity{callouts.Altitude, callouts.Heading, callouts.Airspeed, callouts.RPM,
		callouts.Flaps, callouts.Bank, callouts.Frequency, callouts.Duration, callouts.Count}
	severities = []Severity{Note, Important, Safety}

	idForm   = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
	factForm = regexp.MustCompile(`^[a-z][a-z0-9_]*$`)
)

// decode reads the one document of a file into v, and nothing it does not know.
func decode(file string, b []byte, v any, keys []string) error {
	b = bytes.TrimPrefix(b, []byte("\ufeff"))
	f, err := parser.ParseBytes(b, 0)
	if err != nil {
		return yamlError(file, err, keys)
	}
	docs := slices.DeleteFunc(f.Docs, func(d *ast.DocumentNode) bool { return d.Body == nil })
	if len(docs) == 0 {
		return &SourceError{file, 1, 1, "the file is empty"}
	}
	if len(docs) > 1 {
		at := placeOf(docs[1].GetToken())
		return &SourceError{file, at.line, at.column, "a second document starts here; one file holds one"}
	}
	if err := yaml.NodeToValue(docs[0].Body, v, yaml.Strict()); err != nil {
		return yamlError(file, err, keys)
	}
	return nil
}

// ParseProcedure reads a procedure file. file is the name to use in errors,
// which are of type *SourceError. Callout ids and aircraft facts are not
// checked here, since which of them exist is not known yet: see CheckCallouts
// and Bind.
func ParseProcedure(file string, b []byte) (*Procedure, error) {
	var in procedureFile
	if err := decode(file, b, &in, procedureKeys); err != nil {
		return nil, err
	}
	r := &reader{pos: &positions{file: file, aircraft: in.Aircraft.at}}
	p := &Procedure{ID: in.ID.v, Title: in.Title.v, Summary: in.Summary, Aircraft: in.Aircraft.v, pos: r.pos}
	r.id(in.ID, place{1, 1}, "the procedure")
	r.need(in.Title, place{1, 1}, "the procedure", "title")
	r.expression(in.Aircraft)
	for _, c := range in.Never.v {
		p.NeverWith, p.pos.never = append(p.NeverWith, c.v), append(p.pos.never, c.at)
	}
	if len(in.Phases) == 0 {
		r.fail(place{1, 1}, "the procedure has no phases")
	}
	for i, ph := range in.Phases {
		r.need(ph.v.Title, ph.at, fmt.Sprintf("phase %d", i+1), "title")
		if len(ph.v.Steps) == 0 {
			r.fail(ph.at, "phase %q has no steps", ph.v.Title.v)
		}
		phase := Phase{Title: ph.v.Title.v}
		for _, in := range ph.v.Steps {
			s := r.step(in)
			s.phase, s.index = i, len(p.steps)
			for _, other := range p.steps {
				if other.ID == s.ID && s.ID != "" {
					r.fail(in.v.ID.at, "a step called %q is already there", s.ID)
				}
			}
			p.steps = append(p.steps, s)
			phase.Steps = append(phase.Steps, s)
		}
		p.Phases = append(p.Phases, phase)
	}
	if r.err == nil {
		r.err = p.link()
	}
	if r.err != nil {
		return nil, r.err
	}
	return p, nil
}

// reader keeps the first thing found wrong.
type reader struct {
	pos *positions
	err error
}

func (r *reader) fail(at place, format string, args ...any) {
	if r.err == nil {
		r.err = r.pos.errorf(at, format, args...)
	}
}

func (r *reader) need(v at[string], parent place, what, key string) {
	if strings.TrimSpace(v.v) != "" {
		return
	}
	if v.set {
		parent = v.at
	}
	r.fail(parent, "%s needs a %s", what, key)
}

func (r *reader) id(v at[string], parent place, what string) {
	r.need(v, parent, what, "id")
	if v.set && !idForm.MatchString(v.v) {
		r.fail(v.at, "the id %q may only have small letters, figures and single dashes between", v.v)
	}
}

func (r *reader) expression(e at[string]) {
	if e.v == "" {
		return
	}
	if off, msg := badExpression(e.v); msg != "" {
		r.fail(place{e.at.line, e.at.column + e.quote + off}, "expression %q: %s", e.v, msg)
	}
}

func (r *reader) step(in at[stepFile]) *Step {
	v := in.v
	name := fmt.Sprintf("step %q", v.ID.v)
	if v.ID.v == "" {
		name = "the step"
	}
	s := &Step{
		ID: v.ID.v, Title: v.Title.v, Anytime: v.Anytime.v, Optional: v.Optional, Repeats: v.Repeats, When: v.When.v,
		Severity: Important, Reference: v.Reference.v, Teach: strings.TrimSpace(v.Teach),
	}
	s.pos.when = v.When.at
	r.id(v.ID, in.at, name)
	r.need(v.Title, in.at, name, "title")
	r.need(v.Reference, in.at, name, `reference (or the words "common practice, no source")`)
	r.expression(v.When)
	if len(v.Call.v) == 0 {
		r.fail(in.at, "%s needs a call", name)
	}
	for _, c := range v.Call.v {
		if strings.TrimSpace(c.v) == "" {
			r.fail(c.at, "%s has an empty call", name)
		}
		s.Calls, s.pos.calls = append(s.Calls, c.v), append(s.pos.calls, c.at)
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
	if v.Severity.set {
		s.Severity = Severity(v.Severity.v)
		if !slices.Contains(severities, s.Severity) {
			r.fail(v.Severity.at, "no severity is called %q%s", v.Severity.v, meant(v.Severity.v, words(severities)))
		}
	}
	if v.Value.set {
		s.Value = r.value(v.Value, name)
		s.pos.value, s.pos.target = v.Value.at, v.Value.v.Target.at
	}
	if v.Within.set {
		w := v.Within.v
		s.Within = &Within{Seconds: w.Seconds.v, Of: w.Of.v}
		s.pos.within = w.Of.at
		if !w.Of.set || !w.Seconds.set {
			r.fail(v.Within.at, `%s: "within" needs "seconds" and "of"`, name)
		} else if !(w.Seconds.v > 0) || math.IsInf(w.Seconds.v, 0) {
			r.fail(w.Seconds.at, "%s: seconds must be more than 0", name)
		}
	}
	return s
}

func (r *reader) value(in at[valueFile], name string) *Expectation {
	v := in.v
	e := &Expectation{Of: callouts.Quantity(v.Of.v), Target: v.Target.v, Optional: v.Optional,
		Plus: v.Tolerance.v.Plus.v, Minus: v.Tolerance.v.Minus.v}
	if !v.Of.set {
		r.fail(in.at, `%s: the value needs "of", the quantity it is of`, name)
	} else if !slices.Contains(quantities, e.Of) {
		r.fail(v.Of.at, "no quantity is called %q%s", v.Of.v, meant(v.Of.v, words(quantities)))
	}
	r.expression(v.Target)
	if v.Tolerance.set && e.Target == "" {
		r.fail(v.Tolerance.at, "%s: a tolerance needs a target", name)
	}
	for _, t := range []at[float64]{v.Tolerance.v.Plus, v.Tolerance.v.Minus} {
		if t.set && (!(t.v >= 0) || math.IsInf(t.v, 0)) {
			r.fail(t.at, "%s: a tolerance cannot be less than 0", name)
		}
	}
	return e
}

func words[S ~string](list []S) []string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = string(s)
	}
	return out
}

// ParseAircraft reads an aircraft file. file is the name to use in errors,
// which are of type *SourceError.
func ParseAircraft(file string, b []byte) (*Aircraft, error) {
	var in aircraftFile
	if err := decode(file, b, &in, aircraftKeys); err != nil {
		return nil, err
	}
	r := &reader{pos: &positions{file: file}}
	r.id(in.ID, place{1, 1}, "the aircraft")
	r.need(in.Title, place{1, 1}, "the aircraft", "title")
	a := &Aircraft{ID: in.ID.v, Title: in.Title.v, Facts: map[string]Fact{}}
	names := make([]string, 0, len(in.Facts.v))
	for name := range in.Facts.v {
		names = append(names, name)
	}
	slices.Sort(names) // so that of several errors always the same one is told
	for _, name := range names {
		f := in.Facts.v[name]
		if !factForm.MatchString(name) {
			r.fail(f.at, "the fact name %q may only have small letters, figures and _", name)
		}
		value, ok := factValue(f.v.Value.v)
		if !ok {
			where := f.at
			if f.v.Value.set {
				where = f.v.Value.at
			}
			r.fail(where, "fact %q needs a value: a number, a list of numbers, true, false or a text", name)
		}
		a.Facts[name] = Fact{Value: value, Unit: f.v.Unit.v}
	}
	if r.err != nil {
		return nil, r.err
	}
	return a, nil
}

// factValue brings what YAML gives to one of the four kinds of fact.
func factValue(v any) (any, bool) {
	switch v := v.(type) {
	case bool, string:
		return v, true
	case []any:
		list := make([]float64, len(v))
		for i, e := range v {
			n, ok := number(e)
			if !ok {
				return nil, false
			}
			list[i] = n
		}
		return list, true
	}
	n, ok := number(v)
	return n, ok
}

func number(v any) (float64, bool) {
	var n float64
	switch v := v.(type) {
	case int64:
		n = float64(v)
	case uint64:
		n = float64(v)
	case int:
		n = float64(v)
	case float64:
		n = v
	default:
		return 0, false
	}
	return n, !math.IsNaN(n) && !math.IsInf(n, 0)
}
