package rules_test

import (
	"bytes"
	"errors"
	"os"
	"strings"
	"testing"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/library"
)

// step makes a procedure of one step that has more settings.
func step(more string) string {
	return "id: x\ntitle: X\nphases:\n  - title: P\n    steps:\n      - id: a\n        title: A\n        call: trim-set\n        reference: r\n" + more
}

const second = "      - id: b\n        title: B\n        call: flaps-up\n        reference: r\n"

func TestABrokenProcedureFileIsToldWhereAndWhy(t *testing.T) {
	for _, c := range []struct{ says, text, where, what string }{
		{"an empty file", "", "1:1", "the file is empty"},
		{"a file of comments", "# nothing\n", "1:1", "the file is empty"},
		{"a list", "- a\n", "1:1", ""},
		{"YAML that is none", "id: [x\ntitle: y\n", "2:1", ""},
		{"a key twice", "id: x\nid: y\n", "2:1", `"id" is set twice, the first time in line 1`},
		{"two documents", "id: x\ntitle: X\n---\nid: y\n", "", "second document"},
		{"a mistyped setting", step("        refrence: r2\n"), "10:9", `no setting is called "refrence"; did you mean "reference"?`},
		{"a mistyped setting at the top", "id: x\ntitel: X\n", "2:1", `did you mean "title"?`},
		{"no title", "id: x\nphases: []\n", "1:1", "needs a title"},
		{"no phases", "id: x\ntitle: X\n", "1:1", "no phases"},
		{"a phase without steps", "id: x\ntitle: X\nphases:\n  - title: P\n", "4", `phase "P" has no steps`},
		{"an id with capitals", "id: Slow\ntitle: X\n", "1:5", "small letters"},
		{"a word for a number", step("        within: {seconds: soon, of: a}\n"), "10:27", `"soon" does not fit here: a number is wanted`},
		{"a word for yes or no", step("        optional: maybe\n"), "10:19", "true or false"},
		{"an unknown severity", step("        severity: saftey\n"), "10:19", `did you mean "safety"?`},
		{"an unknown quantity", step("        value: {of: speed}\n"), "10:21", "known are altitude, heading, airspeed"},
		{"a value of nothing", step("        value: {target: 3}\n"), "10", `needs "of"`},
		{"a negative tolerance", step("        value: {of: rpm, target: 3, tolerance: {plus: -1}}\n"), "10:55", "less than 0"},
		{"a tolerance without target", step("        value: {of: rpm, tolerance: 3}\n"), "", "needs a target"},
		{"an unknown step to follow", step("") + second + "        after: [aa]\n", "14:17", `comes after "aa", which is no step; did you mean "a"?`},
		{"an unknown step to be soon after", step("        within: {seconds: 5, of: z}\n"), "10:34", `which is no step`},
		{"soon after itself", step("        within: {seconds: 5, of: a}\n"), "10:34", "after itself"},
		{"a circle", step("        after: [b]\n") + second, "10:17", "circle: a before b before a"},
		{"after itself", step("        after: a\n"), "10:16", "circle: a before a"},
		{"the same id twice", step("") + strings.Replace(second, "id: b", "id: a", 1), "10:13", "already there"},
		{"anytime and after", step("        anytime: true\n        after: []\n"), "11", "any time"},
		{"a condition that is none", step("        when: carburettor and\n"), "10:27", "Syntax error"},
		{"a condition in quotes that is none", step("        when: \"1 +\"\n"), "10", "Syntax error"},
		{"a target that is none", step("        value: {of: rpm, target: \"(\"}\n"), "10", "Syntax error"},
		{"a step without reference", strings.Replace(step(""), "        reference: r\n", "", 1), "6", `needs a reference`},
		{"a step without call", strings.Replace(step(""), "        call: trim-set\n", "", 1), "6", `step "a" needs a call`},
		{"a later phase told to come first", "id: x\ntitle: X\nphases:\n" +
			"  - title: P\n    steps:\n      - {id: a, title: A, call: c, reference: r, after: [b]}\n" +
			"  - title: Q\n    steps:\n      - {id: b, title: B, call: c, reference: r}\n", "6:58", "circle: a before b before a"},
	} {
		t.Run(c.says, func(t *testing.T) {
			_, err := rules.ParseProcedure("my.yaml", []byte(c.text))
			wantError(t, err, "my.yaml", c.where, c.what)
		})
	}
}

// wantError wants a problem to be told, among others perhaps.
func wantError(t *testing.T, err error, file, where, what string) {
	t.Helper()
	problems := rules.Problems(err)
	if len(problems) == 0 {
		t.Fatalf("%v is no error of the file", err)
	}
	if strings.Contains(err.Error(), "\n") {
		t.Errorf("more than one line: %q", err)
	}
	for _, at := range problems {
		if at.Line < 1 || at.Column < 1 {
			t.Errorf("%+v points nowhere", at)
		}
		if strings.HasPrefix(at.Error(), file+":"+where) && strings.Contains(at.Error(), what) {
			return
		}
	}
	t.Errorf("got  %v\nwant %s:%s …%s", problems, file, where, what)
}

func TestABrokenAircraftFileIsToldWhereAndWhy(t *testing.T) {
	for _, c := range []struct{ says, text, where, what string }{
		{"an empty file", "", "1:1", "empty"},
		{"no id", "title: T\n", "1:1", "needs an id"},
		{"a mistyped setting", "id: a\ntitle: T\nfact: {}\n", "3:1", `did you mean "facts"?`},
		{"a fact without value", "id: a\ntitle: T\nfacts:\n  speed: {unit: kt}\n", "4", "needs a value"},
		{"a fact of words", "id: a\ntitle: T\nfacts:\n  stages: {value: [up, down]}\n", "4:19", "needs a value"},
		{"a unit by another name", "id: a\ntitle: T\nfacts:\n  speed: {value: 3, unit: kts}\n", "4:27", `no unit is called "kts"; did you mean "kt"?`},
		{"a unit in capitals", "id: a\ntitle: T\nfacts:\n  power: {value: 3, unit: RPM}\n", "4:27", `did you mean "rpm"?`},
		{"a fact with a dash", "id: a\ntitle: T\nfacts:\n  slow-speed: {value: 3}\n", "4", "small letters"},
	} {
		t.Run(c.says, func(t *testing.T) {
			_, err := rules.ParseAircraft("plane.yaml", []byte(c.text))
			wantError(t, err, "plane.yaml", c.where, c.what)
		})
	}
}

func TestAProcedureThatDoesNotFitTheAircraftIsToldWhere(t *testing.T) {
	ac := trainer(t)
	for _, c := range []struct{ says, text, where, what string }{
		{"a mistyped fact", step("        when: carburetor\n"), "10:15", `has no fact "carburetor"; did you mean "carburettor"?`},
		{"a mistyped fact further in", step("        when: carburettor && turbo\n"), "10:30", `no fact "turbo"`},
		{"a number for a condition", step("        when: entry_power\n"), "10", "not true or false"},
		{"a truth for a target", step("        value: {of: rpm, target: carburettor}\n"), "10", "not a number"},
		{"knots for revolutions", step("        value: {of: rpm, target: slow_flight_speed}\n"), "10", "is in kt, but rpm is wanted"},
		{"a stage of flap too many", step("        value: {of: flaps, target: \"flap_stages[7]\"}\n"), "10", "flap_stages[7]"},
	} {
		t.Run(c.says, func(t *testing.T) {
			p, err := rules.ParseProcedure("my.yaml", []byte(c.text))
			if err != nil {
				t.Fatal(err)
			}
			_, err = rules.Bind(p, ac)
			wantError(t, err, "my.yaml", c.where, c.what)
			if _, again := rules.Judge(p, ac, nil); again == nil {
				t.Error("but it is judged")
			}
		})
	}
}

func TestAProcedureForOtherAircraft(t *testing.T) {
	p, err := rules.ParseProcedure("my.yaml", []byte("aircraft: retractable_gear\n"+step("")))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := rules.Bind(p, trainer(t)); !errors.Is(err, rules.ErrOtherAircraft) {
		t.Errorf("got %v", err)
	}
}

func TestCalloutsThatNobodyListensFor(t *testing.T) {
	p, err := rules.ParseProcedure("my.yaml", []byte(step("")))
	if err != nil {
		t.Fatal(err)
	}
	if err := p.CheckCallouts([]string{"flaps-up", "trim-set"}); err != nil {
		t.Error(err)
	}
	wantError(t, p.CheckCallouts([]string{"flaps-up", "trim-sets"}), "my.yaml", "8:15", `no callout is called "trim-set"; did you mean "trim-sets"?`)
}

func TestTheExpressionsOfTargets(t *testing.T) {
	ac := trainer(t)
	for _, c := range []struct {
		of, expr string
		want     float64
	}{
		{"rpm", "1700", 1700},
		{"rpm", "entry_power", 1700},
		{"flaps", `"flap_stages[1]"`, 20},
		{"count", `"carburettor ? 1.0 : 2.0"`, 1},
		{"airspeed", `"slow_flight_speed + 5.0"`, 70},
	} {
		p, err := rules.ParseProcedure("my.yaml", []byte(step("        value: {of: "+c.of+", target: "+c.expr+"}\n")))
		if err != nil {
			t.Errorf("%s: %v", c.expr, err)
			continue
		}
		pl, err := rules.Bind(p, ac)
		if err != nil {
			t.Errorf("%s: %v", c.expr, err)
			continue
		}
		if got, _, _, ok := pl.Target("a"); !ok || got != c.want {
			t.Errorf("%s is %v, want %v", c.expr, got, c.want)
		}
	}
}

// What may be broken is broken without a panic, and what is taken can be used.
func FuzzParseProcedure(f *testing.F) {
	for _, id := range []string{"slow-flight-clean", "slow-flight-landing", "trainer"} {
		b, err := library.Source(id)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Add([]byte(step("        after: [b]\n") + second))
	f.Add([]byte(recovery))
	f.Add([]byte("extends: slow-flight-clean\nchange:\n  - {id: trim, say: x}\nadd:\n  - below: trim\n    steps: [{id: e, title: E, call: c, reference: r}]\nremove: [power-back, nose-down]\nsay: {recover: [now]}\n"))
	ac := trainer(f)
	lexicon, err := callouts.Builtin()
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		p, err := library.ParseProcedure("f.yaml", b)
		if _, _, err := rules.CheckSource(library.SourceOf, "f.yaml", b, lexicon, []*rules.Aircraft{ac}); err != nil && len(rules.Problems(err)) == 0 {
			t.Fatalf("%#v is no error of the file", err)
		}
		if err != nil {
			for _, at := range rules.Problems(err) {
				if at.Line < 1 || at.Column < 1 || at.Line > 2+bytes.Count(b, []byte("\n"))+bytes.Count(b, []byte("\r")) && at.File == "f.yaml" {
					t.Fatalf("%#v points nowhere", at)
				}
			}
			if len(rules.Problems(err)) == 0 {
				t.Fatalf("%#v is no error of the file", err)
			}
			return
		}
		if pl, err := rules.Bind(p, ac); err == nil {
			pl.Judge(nil, 0, 0)
		}
	})
}

func FuzzParseAircraft(f *testing.F) {
	b, err := os.ReadFile("library/aircraft/trainer.yaml")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b)
	f.Fuzz(func(t *testing.T, b []byte) {
		a, err := rules.ParseAircraft("f.yaml", b)
		if err == nil && (a.ID == "" || a.Title == "") {
			t.Fatalf("%+v was taken", a)
		}
	})
}
