package rules

import (
	"bytes"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
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
	if isMapping(n) {
		type plain tolerance
		return yaml.NodeToValue(n, (*plain)(t), yaml.Strict())
	}
	if err := yaml.NodeToValue(n, &t.Plus); err != nil {
		return err
	}
	t.Minus = t.Plus
	return nil
}

func isMapping(n ast.Node) bool {
	_, ok := n.(*ast.MappingNode)
	return ok
}

// mostRepairs bounds how many settings of one file are told as unknown or of
// the wrong kind.
const mostRepairs = 100

// decode reads the one document of a file into v, and nothing it does not know.
// What it cannot take it notes and leaves out, or takes for what was probably
// meant, so that all of it is told at once. ok is false when the file is no
// YAML that could be read at all. Lines are counted on from line.
func (r *reader) decode(b []byte, line int, v any, g grammar) (ok bool) {
	b = bytes.TrimPrefix(b, []byte("\ufeff"))
	f, err := parser.ParseBytes(b, 0)
	if err != nil {
		at, msg := syntaxAdvice(err, func(n int) string {
			lines := strings.Split(string(b), "\n")
			return lines[min(max(n-1, 0), len(lines)-1)]
		})
		at.line += line
		r.fail(at, "%s", msg)
		return false
	}
	docs := slices.DeleteFunc(f.Docs, func(d *ast.DocumentNode) bool { return d.Body == nil })
	if len(docs) == 0 {
		r.fail(place{line + 1, 1}, "the file is empty")
		return false
	}
	if line > 0 {
		ast.Walk(shift(line), docs[0].Body)
	}
	if len(docs) > 1 {
		at := placeOf(docs[1].GetToken())
		at.line += line
		r.fail(at, "a second document starts here; one file holds one")
		return false
	}
	body := docs[0].Body
	if !isMapping(body) {
		r.fail(placeOf(body.GetToken()), "a file begins with settings such as \"id: ...\", not with a list or a text")
		return false
	}
	ast.Walk(tags{r}, body)
	for range mostRepairs {
		err := yaml.NodeToValue(body, v, yaml.Strict())
		if err == nil {
			return true
		}
		at, msg, right := g.advice(err, body)
		r.fail(at, "%s", msg)
		fix := repair{at: at, right: right, root: body}
		ast.Walk(&fix, body)
		if !fix.done {
			return false
		}
		if fix.key != "" && right == "" {
			r.broken[lack{fix.parent, fix.key}] = true
		}
	}
	return false
}

// lack is a setting that is missing because what was written did not do.
type lack struct {
	parent place
	key    string
}

// shift moves the tokens of a file down, so that the places of two files stay apart.
type shift int

func (s shift) Visit(n ast.Node) ast.Visitor {
	moved := func(t *token.Token) *token.Token {
		if t == nil || t.Position == nil || t.Position.Line > int(s) {
			return t
		}
		t.Position.Line += int(s)
		return t
	}
	moved(n.GetToken())
	if m, ok := n.(*ast.MappingValueNode); ok {
		moved(m.Start)
	}
	return s
}

// repair looks for the setting at a place and renames it to the right word, or
// takes it out.
type repair struct {
	at     place
	right  string
	root   ast.Node
	done   bool
	parent place
	key    string
}

func (p *repair) Visit(n ast.Node) ast.Visitor {
	if p.done {
		return nil
	}
	switch n := n.(type) {
	case *ast.MappingNode:
		for i, v := range n.Values {
			key := v.Key.GetToken()
			if placeOf(key) != p.at && placeOf(v.Value.GetToken()) != p.at {
				continue
			}
			p.done, p.key, p.parent = true, key.Value, placeOf(n.GetToken())
			if n == p.root {
				p.parent = top(p.parent)
			}
			taken := slices.ContainsFunc(n.Values, func(o *ast.MappingValueNode) bool { return o.Key.GetToken().Value == p.right })
			if name, ok := v.Key.(*ast.StringNode); ok && p.right != "" && p.right != key.Value && !taken {
				name.Value, name.Token.Value = p.right, p.right
				return nil
			}
			n.Values = slices.Delete(n.Values, i, i+1)
			return nil
		}
	case *ast.SequenceNode:
		for i, v := range n.Values {
			if _, group := v.(*ast.MappingNode); !group && placeOf(v.GetToken()) == p.at {
				n.Values = slices.Delete(n.Values, i, i+1)
				p.done = true
				return nil
			}
		}
	}
	return p
}

func plainType(kind string) string {
	switch kind {
	case "float64", "int":
		return "a number"
	case "bool":
		return "true or false"
	case "slice":
		return "a list"
	case "struct", "map":
		return "a group of settings"
	}
	return "a text"
}
