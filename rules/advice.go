package rules

import (
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
)

// What to say of files that are not as they should be, in words for those who
// write them: where, what is wrong, and how it is written right.

// grammar is which settings there are, by the setting they are written under; those
// of the file itself are under "".
type grammar map[string][]string

var (
	procedureGrammar = grammar{
		"": settings[procedureFile](), "phases": settings[phaseFile](), "steps": append(settings[stepFile](), "one_of"), "one_of": settings[stepFile](),
		"change": settings[stepFile](), "add": settings[addFile](), "value": settings[valueFile](), "tolerance": settings[tolerance](),
		"within": settings[withinFile](), "not_before": {"seconds", "of"}, "holds": settings[holdFile](), "nevers": settings[neverFile](),
		"from": settings[boundFile](), "until": settings[boundFile](),
	}
	aircraftGrammar = grammar{"": settings[aircraftFile](), "facts": settings[factFile]()}
)

// settings are the settings of a group, in the order they are usually written.
func settings[T any]() []string {
	var out []string
	t := reflect.TypeFor[T]()
	for i := range t.NumField() {
		if name := t.Field(i).Tag.Get("yaml"); name != "" {
			out = append(out, name)
		}
	}
	return out
}

// examples show how a setting is written that was written another way.
var examples = map[string]string{
	"value":      "{of: airspeed, target: 65, tolerance: 5}",
	"tolerance":  "10, or {plus: 10, minus: 0}",
	"within":     "{seconds: 10, of: STEP}",
	"not_before": "{seconds: 5, of: STEP}",
	"from":       "STEP, or {cue: CALLOUT}",
	"until":      "STEP, or {cue: CALLOUT}",
	"facts":      "{carburettor: {value: true}}, a line for each",
	"say":        "{full-power: [all of it forward]}",
	"optional":   "optional: true", "anytime": "anytime: true", "repeats": "repeats: true",
}

// written is where a setting stands: what it is called, and what it stands under.
type written struct {
	key, under string
	fact       bool // it is a fact of an aircraft
}

// settingAt finds the setting whose name or value stands at a place.
func settingAt(n ast.Node, at place, under string) (written, bool) {
	switch n := n.(type) {
	case *ast.MappingNode:
		for _, v := range n.Values {
			key := v.Key.GetToken()
			if placeOf(key) == at || placeOf(v.Value.GetToken()) == at || placeOf(v.GetToken()) == at {
				return written{key: key.Value, under: under, fact: under == "facts"}, true
			}
			inside := key.Value
			if under == "facts" {
				inside = "a fact"
			}
			if w, ok := settingAt(v.Value, at, inside); ok {
				return w, true
			}
		}
	case *ast.SequenceNode:
		for _, v := range n.Values {
			if w, ok := settingAt(v, at, under); ok {
				return w, true
			}
		}
	}
	return written{}, false
}

// known are the settings there are where w stands, nil when anything may stand there.
func (g grammar) known(w written) []string {
	if w.under == "a fact" {
		return g["facts"]
	}
	if w.under == "facts" {
		return nil
	}
	return g[w.under]
}

// advice is where an error of the YAML decoder lies, and what to say of it.
func (g grammar) advice(err error, body ast.Node) (at place, msg, right string) {
	var ye yaml.Error
	if !errors.As(err, &ye) {
		return place{1, 1}, err.Error(), ""
	}
	at, msg = placeOf(ye.GetToken()), ye.GetMessage()
	w, _ := settingAt(body, at, "")
	var unknown *yaml.UnknownFieldError
	var typ *yaml.TypeError
	var node *yaml.UnexpectedNodeTypeError
	switch {
	case errors.As(err, &unknown):
		key := unknown.Token.Value
		here := g.known(w)
		right = Nearest(key, here)
		switch {
		case right != "":
			msg = fmt.Sprintf("no setting is called %q; did you mean %q?", key, right)
		case g.home(key) != "":
			msg = fmt.Sprintf("the setting %q does not belong here; it belongs under %s", key, g.home(key))
		case slices.Contains(g[""], key):
			msg = fmt.Sprintf("the setting %q does not belong here; it is one of the whole file, and begins in the first column", key)
		default:
			msg = fmt.Sprintf("no setting is called %q; here belong %s", key, strings.Join(here, ", "))
		}
	case errors.As(err, &typ):
		msg = fmt.Sprintf("%q does not fit here: %s is wanted%s", typ.Token.Value, plainType(typ.DstType.Kind().String()), w.example())
	case errors.As(err, &node):
		switch {
		case node.Expected == ast.SequenceType:
			msg = fmt.Sprintf("%q is a list: begin each of its parts with \"- \", as in \"- title: ...\"", w.key)
		case w.fact:
			msg = fmt.Sprintf("the fact %q needs its value as a setting: write {value: %s}", w.key, ye.GetToken().Value)
		case w.key == "":
			msg = fmt.Sprintf("%q is only a text here: settings such as \"id: ...\" are wanted", ye.GetToken().Value)
		default:
			msg = fmt.Sprintf("%q needs settings of its own%s", w.key, w.example())
		}
	}
	return at, msg, right
}

// home tells under which other settings one belongs.
func (g grammar) home(key string) string {
	var under []string
	for group, list := range g {
		if group != "" && slices.Contains(list, key) && group != "one_of" && group != "change" {
			under = append(under, fmt.Sprintf("%q", group))
		}
	}
	slices.Sort(under)
	if len(under) == 0 {
		return ""
	}
	return strings.Join(under, " or ")
}

func (w written) example() string {
	if e := examples[w.key]; e != "" && !w.fact {
		return "; write " + e
	}
	return ""
}

// setting is what most lines of a file look like.
var setting = regexp.MustCompile(`^\s*(- |[^:]*:(\s|$))`)

const quoteIt = `an expression that begins with "!" stands in quotes, as in when: "!retractable_gear"`

// tags complains of words that begin with "!" and are not in quotes: YAML takes them
// for something else, and the condition would be lost.
type tags struct{ *reader }

func (t tags) Visit(n ast.Node) ast.Visitor {
	if tag, ok := n.(*ast.TagNode); ok {
		t.fail(placeOf(tag.GetToken()), quoteIt)
	}
	return t
}

// syntaxAdvice says in other words what a file has that is no YAML. line is the one
// it was found in.
func syntaxAdvice(err error, line func(int) string) (place, string) {
	var ye yaml.Error
	if !errors.As(err, &ye) {
		return place{1, 1}, err.Error()
	}
	at, msg := placeOf(ye.GetToken()), ye.GetMessage()
	text := line(at.line)
	key, first, twice := strings.Cut(msg, " already defined at [")
	switch {
	case twice:
		line, _, _ := strings.Cut(first, ":")
		msg = fmt.Sprintf("%s is set twice, the first time in line %s; keep one of them, or begin the next of the list with \"- \"", strings.TrimPrefix(key, "mapping key "), line)
	case strings.Contains(text[:len(text)-len(strings.TrimLeft(text, " \t"))], "\t"):
		at.column = 1 + strings.Index(text, "\t")
		msg = "the line is indented with a tab; YAML wants blanks"
	case strings.Contains(msg, "must be specified"), strings.Contains(msg, "end token"), strings.Contains(msg, "end character"):
		what := "}"
		switch {
		case strings.Contains(msg, "]"):
			what = "]"
		case strings.Contains(msg, "quoted"):
			what = "quotation mark"
		}
		msg = fmt.Sprintf("a %s or a comma is missing here, or in the line above", what)
		if what == "quotation mark" {
			msg = "a text begins with a quotation mark and does not end with one"
		}
	case strings.Contains(msg, "mapping value is not allowed"):
		msg = `a text with ": " in it stands in quotes, as in title: "Stall: power off"`
	case strings.Contains(msg, "scalar value type"), strings.Contains(msg, "unexpected scalar value"), strings.Contains(msg, "unexpected token"), strings.Contains(msg, "tag"):
		if strings.Contains(text, ": !") || strings.Contains(text, "[!") {
			msg = quoteIt
		} else if strings.Contains(text, "]") {
			msg = `a text that begins with "[" stands in quotes, as in say: "[on] trim"`
		} else if strings.ContainsAny(text, "&*@%`") {
			msg = `a text that begins with a sign stands in quotes, as in title: "*Ours"`
		}
	case strings.Contains(msg, "unexpected map key") && strings.ContainsAny(text, "{["):
		msg = "a bracket opens here, or in the line above, that does not belong or is not closed"
	case !setting.MatchString(text):
		msg = `the line is no setting such as "title: Ours", nor the next of a list, which begins with "- "`
	case strings.Contains(msg, "not allowed in this context"), strings.Contains(msg, "non-map value"), strings.Contains(msg, "unexpected key name"), strings.Contains(msg, "invalid key"):
		msg = "the line does not line up with those around it: settings of one group begin in the same column"
	}
	return at, msg
}
