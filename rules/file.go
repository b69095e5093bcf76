package rules

import (
	"regexp"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"

	"sidetone/callouts"
)

// The files as they are written. What a key means is described in schema/.

type procedureFile struct {
	ID       at[string]                   `yaml:"id"`
	Extends  at[string]                   `yaml:"extends"`
	Title    at[string]                   `yaml:"title"`
	Names    at[oneOrMany]                `yaml:"names"`
	Summary  at[string]                   `yaml:"summary"`
	Aircraft at[string]                   `yaml:"aircraft"`
	Never    at[oneOrMany]                `yaml:"never_with"`
	Phases   []at[phaseFile]              `yaml:"phases"`
	Holds    []at[holdFile]               `yaml:"holds"`
	Nevers   []at[neverFile]              `yaml:"nevers"`
	Say      at[map[string]at[oneOrMany]] `yaml:"say"`

	// Only where another procedure is extended.
	Change []at[stepFile] `yaml:"change"`
	Add    []at[addFile]  `yaml:"add"`
	Remove at[oneOrMany]  `yaml:"remove"`
}

type phaseFile struct {
	Title at[string]      `yaml:"title"`
	Cue   at[string]      `yaml:"cue"`
	Steps []at[entryFile] `yaml:"steps"`
}

// entryFile is a step, or several of which one is needed.
type entryFile struct {
	step  at[stepFile]
	oneOf at[[]at[stepFile]]
}

func (e *entryFile) UnmarshalYAML(n ast.Node) error {
	if m, ok := n.(*ast.MappingNode); ok {
		for _, v := range m.Values {
			if v.Key.GetToken().Value == "one_of" {
				var group struct {
					OneOf at[[]at[stepFile]] `yaml:"one_of"`
				}
				err := yaml.NodeToValue(n, &group, yaml.Strict())
				e.oneOf = group.OneOf
				return err
			}
		}
	}
	return yaml.NodeToValue(n, &e.step, yaml.Strict())
}

// steps are the steps of an entry, and whether one of them is enough.
func (e *entryFile) steps() (list []at[stepFile], oneOf bool) {
	if e.oneOf.set {
		return e.oneOf.v, true
	}
	return []at[stepFile]{e.step}, false
}

type stepFile struct {
	ID        at[string]     `yaml:"id"`
	Title     at[string]     `yaml:"title"`
	Call      at[oneOrMany]  `yaml:"call"`
	Say       at[oneOrMany]  `yaml:"say"`
	By        at[string]     `yaml:"by"`
	Value     at[valueFile]  `yaml:"value"`
	After     at[oneOrMany]  `yaml:"after"`
	Anytime   at[bool]       `yaml:"anytime"`
	Optional  at[bool]       `yaml:"optional"`
	Repeats   at[bool]       `yaml:"repeats"`
	When      at[string]     `yaml:"when"`
	Within    at[withinFile] `yaml:"within"`
	NotBefore at[withinFile] `yaml:"not_before"`
	Severity  at[string]     `yaml:"severity"`
	Reference at[string]     `yaml:"reference"`
	Teach     at[string]     `yaml:"teach"`
}

type valueFile struct {
	Of         at[string]    `yaml:"of"`
	Target     at[string]    `yaml:"target"`
	AsCalledAt at[string]    `yaml:"as_called_at"`
	Tolerance  at[tolerance] `yaml:"tolerance"`
	Optional   at[bool]      `yaml:"optional"`
}

type withinFile struct {
	Seconds at[float64] `yaml:"seconds"`
	Of      at[string]  `yaml:"of"`
	Cue     at[string]  `yaml:"cue"`
}

type holdFile struct {
	ID        at[string]    `yaml:"id"`
	Title     at[string]    `yaml:"title"`
	Call      at[oneOrMany] `yaml:"call"`
	Value     at[valueFile] `yaml:"value"`
	From      at[boundFile] `yaml:"from"`
	Until     at[boundFile] `yaml:"until"`
	When      at[string]    `yaml:"when"`
	Severity  at[string]    `yaml:"severity"`
	Reference at[string]    `yaml:"reference"`
	Teach     at[string]    `yaml:"teach"`
}

type neverFile struct {
	ID        at[string]    `yaml:"id"`
	Title     at[string]    `yaml:"title"`
	Call      at[oneOrMany] `yaml:"call"`
	From      at[boundFile] `yaml:"from"`
	Until     at[boundFile] `yaml:"until"`
	When      at[string]    `yaml:"when"`
	Severity  at[string]    `yaml:"severity"`
	Reference at[string]    `yaml:"reference"`
	Teach     at[string]    `yaml:"teach"`
}

// boundFile is the id of a step, or a cue.
type boundFile struct {
	Step at[string] `yaml:"step"`
	Cue  at[string] `yaml:"cue"`
}

func (b *boundFile) UnmarshalYAML(n ast.Node) error {
	if isMapping(n) {
		type plain boundFile
		return yaml.NodeToValue(n, (*plain)(b), yaml.Strict())
	}
	return yaml.NodeToValue(n, &b.Step, yaml.Strict())
}

// addFile are steps to add to a procedure that is extended.
type addFile struct {
	Above at[string]      `yaml:"above"`
	Below at[string]      `yaml:"below"`
	Phase at[string]      `yaml:"phase"`
	Steps []at[entryFile] `yaml:"steps"`
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
	quantities = []callouts.Quantity{callouts.Altitude, callouts.Heading, callouts.Airspeed, callouts.RPM,
		callouts.Flaps, callouts.Bank, callouts.Frequency, callouts.Duration, callouts.Count}
	severities = []Severity{Note, Important, Safety}
	seats      = []Seat{Student, Instructor}

	idForm   = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
	factForm = regexp.MustCompile(`^[a-z][a-z0-9_]*$`)
)
