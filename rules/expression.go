package rules

import (
	"fmt"
	"regexp"
	"strings"
	"sync"

	"cel.dev/cel-go/cel"
	"cel.dev/cel-go/common/types/ref"
)

// Conditions and targets are CEL expressions in which every aircraft fact is a
// variable of the fact's own name.

var syntax = sync.OnceValues(func() (*cel.Env, error) { return cel.NewEnv() })

// badExpression tells what is wrong with the form of an expression and how many
// columns in, or "" when it can be read.
func badExpression(src string) (column int, message string) {
	env, err := syntax()
	if err != nil {
		return 0, err.Error()
	}
	if _, issues := env.Parse(src); issues != nil && len(issues.Errors()) > 0 {
		e := issues.Errors()[0]
		// What else could have stood there is a long list that helps nobody.
		msg, _, _ := strings.Cut(e.Message, " expecting ")
		return e.Location.Column(), strings.Replace(msg, "mismatched input '<EOF>'", "it ends too soon", 1) + otherwise(src)
	}
	return 0, ""
}

var (
	spokenLogic = regexp.MustCompile(`(?i)\b(and|or|not|is)\b`)
	withUnit    = regexp.MustCompile(`^\s*([0-9.]+)\s*[A-Za-z°']+\s*$`)
	overload    = regexp.MustCompile(`^found no matching overload for '([^']+)' applied to '\(([^']*)\)'`)
	kinds       = strings.NewReplacer("list(double)", "a list of numbers", "double", "a number", "uint", "a number", "int", "a number",
		"bool", "true or false", "string", "a text", ", ", " and ")
	oneEquals = regexp.MustCompile(`[^=!<>]=[^=]`)
)

// otherwise is how an expression that cannot be read was probably meant.
func otherwise(src string) string {
	switch {
	case withUnit.MatchString(src):
		return fmt.Sprintf("; write %s alone, the unit follows from what it is a figure of", withUnit.FindStringSubmatch(src)[1])
	case spokenLogic.MatchString(src):
		return "; write && for and, || for or, ! for not, == for is"
	case oneEquals.MatchString(src):
		return "; write == for is"
	}
	return ""
}

// facts evaluates expressions over the facts of one aircraft.
type facts struct {
	aircraft *Aircraft
	env      *cel.Env
	values   map[string]any
}

func newFacts(a *Aircraft) (*facts, error) {
	f := &facts{aircraft: a, values: map[string]any{}}
	opts := []cel.EnvOption{cel.CrossTypeNumericComparisons(true)}
	for name, fact := range a.Facts {
		var t *cel.Type
		switch fact.Value.(type) {
		case bool:
			t = cel.BoolType
		case float64:
			t = cel.DoubleType
		case string:
			t = cel.StringType
		case []float64:
			t = cel.ListType(cel.DoubleType)
		default:
			return nil, fmt.Errorf("aircraft %q: fact %q is of no known kind", a.ID, name)
		}
		opts = append(opts, cel.Variable(name, t))
		f.values[name] = fact.Value
	}
	var err error
	if f.env, err = cel.NewEnv(opts...); err != nil {
		return nil, fmt.Errorf("aircraft %q: %w", a.ID, err)
	}
	return f, nil
}

// eval works an expression out. used are the facts it rests on. On error,
// column is how many columns into the expression it lies.
func (f *facts) eval(src string) (out ref.Val, used []string, column int, err error) {
	ast, issues := f.env.Compile(src)
	if issues != nil && len(issues.Errors()) > 0 {
		e := issues.Errors()[0]
		msg := e.Message
		if name, ok := strings.CutPrefix(msg, "undeclared reference to '"); ok {
			name, _, _ = strings.Cut(name, "'")
			msg = fmt.Sprintf("the aircraft %q has no fact %q%s", f.aircraft.ID, name, Meant(name, f.aircraft.FactNames()))
		}
		if m := overload.FindStringSubmatch(msg); m != nil {
			msg = fmt.Sprintf("%s does not go with %s", strings.Trim(m[1], "_"), kinds.Replace(m[2]))
			if strings.Contains(m[2], "list") {
				msg += "; size(flap_stages) is how many there are, flap_stages[0] the first of them"
			}
		}
		return nil, nil, e.Location.Column(), fmt.Errorf("%s", msg)
	}
	for _, r := range ast.NativeRep().ReferenceMap() {
		if _, ok := f.aircraft.Facts[r.Name]; ok {
			used = append(used, r.Name)
		}
	}
	prg, err := f.env.Program(ast, cel.CostLimit(10_000))
	if err != nil {
		return nil, nil, 0, err
	}
	out, _, err = prg.Eval(f.values)
	if err != nil && strings.Contains(err.Error(), "index out of bounds") {
		err = fmt.Errorf("%w; the first of a list is [0], the last of three is [2]", err)
	}
	return out, used, 0, err
}

func (f *facts) condition(src string) (value bool, used []string, column int, err error) {
	if src == "" {
		return true, nil, 0, nil
	}
	out, used, column, err := f.eval(src)
	if err != nil {
		return false, nil, column, err
	}
	b, ok := out.Value().(bool)
	if !ok {
		return false, nil, 0, fmt.Errorf("gives %v, not true or false", out.Value())
	}
	return b, used, 0, nil
}

// number gives the value of an expression in the given unit.
func (f *facts) number(src, unit string) (value float64, used []string, column int, err error) {
	out, used, column, err := f.eval(src)
	if err != nil {
		return 0, nil, column, err
	}
	for _, name := range used {
		if u := f.aircraft.Facts[name].Unit; u != "" && u != unit {
			return 0, nil, 0, fmt.Errorf("the fact %q is in %s, but %s is wanted", name, u, unit)
		}
	}
	switch v := out.Value().(type) {
	case float64:
		return v, used, 0, nil
	case int64:
		return float64(v), used, 0, nil
	case uint64:
		return float64(v), used, 0, nil
	}
	return 0, nil, 0, fmt.Errorf("gives %v, not a number", out.Value())
}
