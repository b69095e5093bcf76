package rules

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
)

// usualUnits are the units of quantities as they are also written, in small
// letters. Others, such as gal, are left alone: no figure is held against them.
var usualUnits = map[string]string{
	"kt": "kt", "kts": "kt", "knot": "kt", "knots": "kt", "kias": "kt",
	"ft": "ft", "feet": "ft", "foot": "ft", "'": "ft",
	"deg": "deg", "degs": "deg", "degree": "deg", "degrees": "deg", "°": "deg",
	"rpm": "rpm", "1/min": "rpm", "revs": "rpm",
	"mhz": "MHz", "s": "s", "sec": "s", "secs": "s", "second": "s", "seconds": "s",
}

// ParseAircraft reads an aircraft file. file is the name to use in errors,
// which are of type *SourceError or, where there are several, SourceErrors.
func ParseAircraft(file string, b []byte) (*Aircraft, error) {
	r := newReader(file)
	var in aircraftFile
	if !r.decode(b, 0, &in, aircraftGrammar) {
		return nil, together(r.errs)
	}
	r.id(in.ID, place{1, 1}, "the aircraft")
	r.need(in.Title, place{1, 1}, "the aircraft", "title")
	a := &Aircraft{ID: in.ID.v, Title: in.Title.v, Facts: map[string]Fact{}}
	names := make([]string, 0, len(in.Facts.v))
	for name := range in.Facts.v {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		f := in.Facts.v[name]
		if !factForm.MatchString(name) {
			right := ""
			if n := strings.ReplaceAll(dashed(name), "-", "_"); factForm.MatchString(n) {
				right = "; write " + n
			}
			r.fail(f.at, "the fact name %q may only have small letters, figures and _%s", name, right)
		}
		value, ok := factValue(f.v.Value.v)
		if text, is := value.(string); is {
			if right := meantFact(text); right != "" {
				r.fail(f.v.Value.at, "fact %q: %q is only a text; write %s", name, text, right)
			}
		}
		if !ok && !r.broken[lack{f.at, "value"}] {
			where := f.at
			if f.v.Value.set {
				where = f.v.Value.at
			}
			r.fail(where, "fact %q needs a value: a number, a list of numbers, true, false or a text", name)
		}
		if right, wrong := usualUnits[strings.ToLower(f.v.Unit.v)]; wrong && right != f.v.Unit.v {
			r.fail(f.v.Unit.at, "fact %q: no unit is called %q; did you mean %q?", name, f.v.Unit.v, right)
		}
		a.Facts[name] = Fact{Value: value, Unit: f.v.Unit.v}
	}
	if len(r.errs) > 0 {
		return nil, together(r.errs)
	}
	return a, nil
}

var measured = regexp.MustCompile(`^([0-9.]+)\s*([A-Za-z°/']*)$`)

// meantFact is how the value of a fact that was taken for a text was probably meant,
// "" when it is one.
func meantFact(text string) string {
	switch strings.ToLower(strings.TrimSpace(text)) {
	case "yes", "true", "on":
		return "true, without quotes"
	case "no", "false", "off":
		return "false, without quotes"
	}
	if m := measured.FindStringSubmatch(text); m != nil {
		if m[2] == "" {
			return m[1] + " without quotes"
		}
		unit := m[2]
		if u, ok := usualUnits[strings.ToLower(unit)]; ok {
			unit = u
		}
		return fmt.Sprintf("{value: %s, unit: %s}", m[1], unit)
	}
	if list := strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" ,/;", r) }); len(list) > 1 &&
		!slices.ContainsFunc(list, func(s string) bool { return !measured.MatchString(s) }) {
		return "[" + strings.Join(list, ", ") + "]"
	}
	return ""
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
