package rules_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"sidetone/rules"
)

const base = `id: base
title: Base
summary: To be changed.
never_with: going-around
phases:
  - title: Entry
    steps:
      - {id: a, title: A, call: call-a, reference: r}
      - {id: b, title: B, call: call-b, reference: r, severity: safety, teach: Because.}
      - {id: c, title: C, call: call-c, reference: r}
      - {id: d, title: D, call: call-d, after: [b, c], reference: r}
  - title: Exit
    steps:
      - one_of:
          - {id: e, title: E, call: call-e, reference: r}
          - {id: f, title: F, call: call-f, reference: r}
      - {id: g, title: G, call: call-g, within: {seconds: 9, of: e}, reference: r}
nevers:
  - {id: no-x, title: No X, call: x, from: a, reference: r}
say: {call-a: [alpha]}
`

func extend(text string) (*rules.Procedure, error) {
	source := func(id string) (string, []byte, error) {
		if id != "base" {
			return "", nil, fmt.Errorf("no procedure is called %q", id)
		}
		return "base.yaml", []byte(base), nil
	}
	return rules.ParseProcedureOver(source, "over.yaml", []byte("extends: base\n"+text))
}

// outline is the steps of a procedure, with what each of them must follow at
// once: "b<a".
func outline(p *rules.Procedure) string {
	var out []string
	for _, s := range p.Steps() {
		var follows []string
		for _, o := range p.Steps() {
			direct := p.Before(o.ID, s.ID) && !slices.ContainsFunc(p.Steps(), func(m *rules.Step) bool {
				return p.Before(o.ID, m.ID) && p.Before(m.ID, s.ID)
			})
			if direct {
				follows = append(follows, o.ID)
			}
		}
		out = append(out, s.ID+"<"+strings.Join(follows, ""))
	}
	return strings.Join(out, " ")
}

func TestAProcedureIsExtended(t *testing.T) {
	for _, c := range []struct{ says, text, want string }{
		{"nothing is changed", "", "a< b<a c<b d<c e<d f<d g<ef"},
		{"a step is added below another", "add:\n  - below: a\n    steps: [{id: n, title: N, call: n, reference: r}]\n", "a< n<a b<n c<b d<c e<d f<d g<ef"},
		{"two are added above one", "add:\n  - above: a\n    steps: [{id: n, title: N, call: n, reference: r}, {id: o, title: O, call: n, reference: r}]\n", "n< o<n a<o b<a c<b d<c e<d f<d g<ef"},
		{"one ends a phase", "add:\n  - phase: Entry\n    steps: [{id: n, title: N, call: n, reference: r}]\n", "a< b<a c<b d<c n<d e<n f<n g<ef"},
		{"one is added below alternatives", "add:\n  - below: f\n    steps: [{id: n, title: N, call: n, reference: r}]\n", "a< b<a c<b d<c e<d f<d n<ef g<n"},
		{"a step is removed, and what followed it follows what it followed", "remove: [c]\n", "a< b<a d<b e<d f<d g<ef"},
		{"the first is removed with what counts on it", "remove: [no-x, a]\n", "b< c<b d<c e<d f<d g<ef"},
		{"an alternative is removed", "remove: f\n", "a< b<a c<b d<c e<d g<e"},
		{"the order of a step is changed", "change:\n  - {id: c, after: []}\n", "a< b<a c< d<bc e<d f<d g<ef"},
		{"a step is set free", "change:\n  - {id: d, anytime: true}\n", "a< b<a c<b d< e<c f<c g<ef"},
		{"an added step may be removed again", "add:\n  - below: a\n    steps: [{id: n, title: N, call: n, reference: r}]\nremove: [n]\n", "a< b<a c<b d<c e<d f<d g<ef"},
	} {
		t.Run(c.says, func(t *testing.T) {
			p, err := extend(c.text)
			if err != nil {
				t.Fatal(rules.Problems(err))
			}
			if got := outline(p); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

func TestWhatIsNotChangedStaysAsItIs(t *testing.T) {
	p, err := extend("id: ours\ntitle: Ours\nchange:\n  - {id: b, title: Bee, say: [bravo now]}\nsay: {call-a: [able], call-c: charlie}\nnevers:\n  - {id: no-x, title: No X at all, call: x, reference: ours}\n  - {id: no-y, title: No Y, call: y, reference: ours}\n")
	if err != nil {
		t.Fatal(rules.Problems(err))
	}
	b := p.Steps()[1]
	if p.ID != "ours" || p.Extends != "base" || p.Title != "Ours" || p.Summary != "To be changed." || len(p.NeverWith) != 1 {
		t.Errorf("%+v", p)
	}
	if b.Title != "Bee" || b.Severity != rules.Safety || b.Teach != "Because." || b.Calls[0] != "call-b" {
		t.Errorf("%+v", b)
	}
	if len(p.Nevers) != 2 || p.Nevers[0].Title != "No X at all" || p.Nevers[0].From != (rules.Bound{}) {
		t.Errorf("%+v", p.Nevers)
	}
	phrases := map[string]string{}
	for _, c := range p.Phrases() {
		phrases[c.ID] = strings.Join(c.Say, ", ")
	}
	if phrases["call-a"] != "alpha, able" || phrases["call-b"] != "bravo now" || phrases["call-c"] != "charlie" || len(phrases) != 3 {
		t.Errorf("%v", phrases)
	}
}

func TestAnExtensionThatDoesNotFitIsToldWhereAndWhy(t *testing.T) {
	for _, c := range []struct{ says, text, file, where, what string }{
		{"a step there is none of", "change:\n  - {id: bb, title: B}\n", "over.yaml", "3:10", `"base" has no step "bb" to change; did you mean "b"?`},
		{"a change of nothing", "change:\n  - {title: B}\n", "over.yaml", "3", `say with "id" which step`},
		{"an addition below nothing", "add:\n  - below: q\n    steps: [{id: n, title: N, call: n, reference: r}]\n", "over.yaml", "3:12", `has no step "q"`},
		{"an addition to no phase", "add:\n  - phase: Entri\n    steps: [{id: n, title: N, call: n, reference: r}]\n", "over.yaml", "3:12", `did you mean "Entry"?`},
		{"an addition of nothing", "add:\n  - below: a\n", "over.yaml", "3", `no "steps" to add`},
		{"an addition to two places", "add:\n  - below: a\n    above: b\n    steps: [{id: n, title: N, call: n, reference: r}]\n", "over.yaml", "3", "one of"},
		{"an addition that is there already", "add:\n  - below: a\n    steps: [{id: c, title: N, call: n, reference: r}]\n", "base.yaml", "10:14", `a step called "c" is already there`},
		{"a removal of nothing", "remove: [a, zz]\n", "over.yaml", "2:13", `no step, hold or never "zz"`},
		{"a step whose time another counts from", "remove: [e]\n", "over.yaml", "2:10", `the time of "g" counts from it`},
		{"a step a never needs", "remove: [a]\n", "over.yaml", "2:10", `the never "no-x" needs it`},
		{"an order that goes in a circle", "change:\n  - {id: b, after: [c]}\n", "over.yaml", "3:21", "circle: b before c before b"},
		{"phases of its own", "phases:\n  - title: P\n    steps: [{id: n, title: N, call: n, reference: r}]\n", "over.yaml", "3", `the phases are those of "base"`},
	} {
		t.Run(c.says, func(t *testing.T) {
			_, err := extend(c.text)
			wantError(t, err, c.file, c.where, c.what)
		})
	}
	for _, c := range []struct{ text, what string }{
		{"extends: bass\n", `no procedure is called "bass"`},
		{"id: x\ntitle: X\nchange: [{id: a}]\n", `"change" needs "extends: ..."`},
	} {
		_, err := rules.ParseProcedureOver(func(id string) (string, []byte, error) {
			return "", nil, fmt.Errorf("no procedure is called %q", id)
		}, "over.yaml", []byte(c.text))
		wantError(t, err, "over.yaml", "", c.what)
	}
	_, err := rules.ParseProcedure("over.yaml", []byte("extends: base\n"))
	wantError(t, err, "over.yaml", "1:10", "only built-in procedures can be extended")
}

// Told in one line, what is wrong comes before what is missing.
func TestOfSeveralMistakesTheTellingOneIsToldFirst(t *testing.T) {
	_, err := rules.ParseProcedure("my.yaml", []byte("phases:\n  - title: P\n    steps:\n      - id: a\n        titel: A\n"))
	if got, want := err.Error(), `my.yaml:5:9: no setting is called "titel"; did you mean "title"? (and 4 more)`; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

func TestAllThatIsWrongIsToldAtOnce(t *testing.T) {
	_, err := rules.ParseProcedure("my.yaml", []byte(`id: My
titel: Mine
phases:
  - title: P
    steps:
      - {id: a, title: A, call: x, refrence: r, severity: grave}
      - {id: a, title: [B], call: y, reference: r, within: {seconds: soon, of: q}}
      - {id: c, call: z, reference: r, after: [a, zz], when: "1 +"}
`))
	var got []string
	for _, p := range rules.Problems(err) {
		got = append(got, p.Error())
	}
	want := []string{
		`my.yaml:1:5: the id "My" may only have`,
		`my.yaml:2:1: no setting is called "titel"; did you mean "title"?`,
		`my.yaml:6:36: no setting is called "refrence"; did you mean "reference"?`,
		`my.yaml:6:59: no severity is called "grave"`,
		`my.yaml:7:14: a step called "a" is already there`,
		`my.yaml:7:24: "[" does not fit here: a text is wanted`,
		`my.yaml:7:70: "soon" does not fit here: a number is wanted`,
		`my.yaml:7:80: step "a" is due after "q", which is no step`,
		`my.yaml:8:9: step "c" needs a title`,
		`my.yaml:8:51: step "c" comes after "zz", which is no step`,
		`my.yaml:8:66: expression "1 +": Syntax error: it ends too soon`,
	}
	if len(got) != len(want) {
		t.Errorf("%d things are told, want %d", len(got), len(want))
	}
	for i := range min(len(got), len(want)) {
		if !strings.HasPrefix(got[i], want[i]) {
			t.Errorf("got  %s\nwant %s", got[i], want[i])
		}
	}
}
