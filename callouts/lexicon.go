package callouts

import (
	"embed"
	"errors"
	"fmt"
	"path"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// Callout is a call of the trade and the ways it is said.
//
// A phrase is plain words. "[on]" may be left out, "on/hot" is either word, and
// "{flaps}" is a spoken figure of the callout's quantity.
type Callout struct {
	// ID names the callout in procedures and results, lower case with hyphens.
	ID string `yaml:"id"`
	// Title is what people read.
	Title string `yaml:"title"`
	// Quantity is what the figure of the callout measures, "" for none.
	Quantity Quantity `yaml:"quantity"`
	// Say are phrases that count wherever they are said.
	Say []string `yaml:"say"`
	// Order are phrases that tell somebody to do it ("bring the power back");
	// with "I" or "we" before them they count as done.
	Order []string `yaml:"order"`
	// Alone are words too common to count inside a sentence ("clean"); they
	// count when said by themselves.
	Alone []string `yaml:"alone"`
	// Acts tell the call in any words.
	Acts []Act `yaml:"acts"`
	// Spelt are phrases that count where the words are spelt so. They are not
	// listened for by their sound: they are many, or sound like other talk.
	Spelt []string `yaml:"spelt"`
	// SpeltAlone are such phrases that count when said by themselves.
	SpeltAlone []string `yaml:"spelt-alone"`
	// Named are the names of the thing the call is about: said by themselves they
	// name the call ("no carb heat", "give me the carb heat") but do not make it.
	Named []string `yaml:"named"`
	// TakenAs says which stances mean another: who asks a controller for help has
	// made the call for help.
	TakenAs map[Stance]Stance `yaml:"taken-as"`
}

// Lexicon is a set of callouts.
type Lexicon struct {
	Callouts []Callout `yaml:"callouts"`
}

//go:embed lexicon/*.yaml
var builtin embed.FS

// Builtin returns the callouts that come with the program.
func Builtin() (*Lexicon, error) {
	files, err := builtin.ReadDir("lexicon")
	if err != nil {
		return nil, err
	}
	var all Lexicon
	for _, f := range files {
		name := path.Join("lexicon", f.Name())
		b, err := builtin.ReadFile(name)
		if err != nil {
			return nil, err
		}
		l, err := ParseLexicon(name, b)
		if err != nil {
			return nil, err
		}
		for _, c := range l.Callouts {
			if all.index(c.ID) >= 0 {
				return nil, fmt.Errorf("%s: callout %q is in another file too", name, c.ID)
			}
			all.Callouts = append(all.Callouts, c)
		}
	}
	return &all, nil
}

// ParseLexicon reads a lexicon written in YAML. file is its name in errors,
// which start with file:line:column.
func ParseLexicon(file string, b []byte) (*Lexicon, error) {
	tree, err := parser.ParseBytes(b, 0)
	if err != nil {
		return nil, yamlError(file, err)
	}
	var l Lexicon
	if err := yaml.UnmarshalWithOptions(b, &l, yaml.Strict()); err != nil {
		return nil, yamlError(file, err)
	}
	if len(l.Callouts) == 0 {
		return nil, fmt.Errorf("%s:1:1: no callouts: write a list under \"callouts:\"", file)
	}
	seen := map[string]bool{}
	for i, c := range l.Callouts {
		if field, err := c.check(); err != nil {
			return nil, at(file, tree, fmt.Sprintf("$.callouts[%d]%s", i, field), fmt.Sprintf("$.callouts[%d]", i), err)
		}
		if seen[c.ID] {
			p := fmt.Sprintf("$.callouts[%d].id", i)
			return nil, at(file, tree, p, p, fmt.Errorf("callout %q is written twice", c.ID))
		}
		seen[c.ID] = true
	}
	return &l, nil
}

func yamlError(file string, err error) error {
	var y yaml.Error
	if errors.As(err, &y) && y.GetToken() != nil && y.GetToken().Position != nil {
		p := y.GetToken().Position
		return fmt.Errorf("%s:%d:%d: %s", file, p.Line, p.Column, y.GetMessage())
	}
	return fmt.Errorf("%s:1:1: %w", file, err)
}

// at puts the place of a node before an error, trying the second path when the
// first is not in the file.
func at(file string, tree *ast.File, where, or string, err error) error {
	for _, w := range []string{where, or} {
		p, perr := yaml.PathString(w)
		if perr != nil {
			continue
		}
		if n, ferr := p.FilterFile(tree); ferr == nil && n != nil && n.GetToken() != nil {
			pos := n.GetToken().Position
			return fmt.Errorf("%s:%d:%d: %w", file, pos.Line, pos.Column, err)
		}
	}
	return fmt.Errorf("%s:1:1: %w", file, err)
}

var quantities = []Quantity{Altitude, Heading, Airspeed, RPM, Flaps, Bank, Frequency, Duration, Count}

// check returns what is wrong with a callout and the YAML path of the field.
func (c *Callout) check() (field string, err error) {
	if c.ID == "" {
		return "", errors.New("a callout needs an id")
	}
	if strings.Trim(c.ID, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" {
		return ".id", fmt.Errorf("id %q: use small letters, digits and hyphens", c.ID)
	}
	if c.Quantity != "" && !slices.Contains(quantities, c.Quantity) {
		return ".quantity", fmt.Errorf("unknown quantity %q; one of %v", c.Quantity, quantities)
	}
	if len(c.Say)+len(c.Order)+len(c.Alone)+len(c.Acts)+len(c.Spelt)+len(c.SpeltAlone) == 0 {
		return "", fmt.Errorf("callout %q has nothing to say: write phrases under \"say:\"", c.ID)
	}
	for name, list := range map[string][]string{"say": c.Say, "order": c.Order, "alone": c.Alone} {
		for i, s := range list {
			if _, err := compilePhrase(s, c.Quantity); err != nil {
				return fmt.Sprintf(".%s[%d]", name, i), err
			}
		}
	}
	x := newActIndex()
	for i, a := range c.Acts {
		if err := x.addAct(c, 0, a, false); err != nil {
			return fmt.Sprintf(".acts[%d]", i), err
		}
	}
	for i, n := range c.Named {
		if err := x.addAct(c, 0, Act{Thing: n}, true); err != nil {
			return fmt.Sprintf(".named[%d]", i), err
		}
	}
	for name, list := range map[string][]string{"spelt": c.Spelt, "spelt-alone": c.SpeltAlone} {
		for i, s := range list {
			if err := x.addSpelt(c, 0, s, false); err != nil {
				return fmt.Sprintf(".%s[%d]", name, i), err
			}
		}
	}
	return "", nil
}

// CheckPhrase says what is wrong with a phrase of a callout whose figure is of
// that quantity, "" for none.
func CheckPhrase(phrase string, q Quantity) error {
	_, err := compilePhrase(phrase, q)
	return err
}

func (l *Lexicon) index(id string) int {
	return slices.IndexFunc(l.Callouts, func(c Callout) bool { return c.ID == id })
}

// With returns a lexicon with more phrases: those of a callout that is there
// already are added to it, others become callouts of their own.
func (l *Lexicon) With(more ...Callout) *Lexicon {
	out := &Lexicon{Callouts: slices.Clone(l.Callouts)}
	for _, m := range more {
		i := out.index(m.ID)
		if i < 0 {
			out.Callouts = append(out.Callouts, m)
			continue
		}
		c := &out.Callouts[i]
		c.Say = slices.Concat(c.Say, m.Say)
		c.Order = slices.Concat(c.Order, m.Order)
		c.Alone = slices.Concat(c.Alone, m.Alone)
		c.Acts = slices.Concat(c.Acts, m.Acts)
		c.Spelt = slices.Concat(c.Spelt, m.Spelt)
		c.SpeltAlone = slices.Concat(c.SpeltAlone, m.SpeltAlone)
		c.Named = slices.Concat(c.Named, m.Named)
		if c.Quantity == "" {
			c.Quantity = m.Quantity
		}
		if m.Title != "" {
			c.Title = m.Title
		}
	}
	return out
}
