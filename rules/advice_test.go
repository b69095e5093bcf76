package rules_test

import (
	"bytes"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/library"
)

// ours is a procedure with one more line in its one step.
func ours(line string) string {
	return "id: ours\ntitle: Ours\nphases:\n  - title: Entry\n    steps:\n      - id: power\n        title: Power back\n        call: power-back\n        reference: POH\n        " + line + "\n"
}

// Files as somebody makes them who has not written one before: every mistake is
// told, where it is, and how it is written right.
func TestWhatAnInstructorMayWrite(t *testing.T) {
	lexicon, err := callouts.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	fleet, err := library.AllAircraft()
	if err != nil {
		t.Fatal(err)
	}
	slices.Reverse(fleet) // the trainer first
	for _, c := range []struct {
		says, text string
		want       []string // line:column: message
	}{
		{"a tab", "id: ours\ntitle: Ours\nphases:\n  - title: Entry\n    steps:\n\t- id: power\n", []string{"6:1: the line is indented with a tab; YAML wants blanks"}},
		{"a line that does not line up", "id: ours\ntitle: Ours\nphases:\n  - title: Entry\n   steps: []\n",
			[]string{"5:4: the line does not line up with those around it: settings of one group begin in the same column"}},
		{"a colon in a title", "id: ours\ntitle: Stall: power off\n", []string{`2:8: a text with ": " in it stands in quotes, as in title: "Stall: power off"`}},
		{"a brace that is not closed", "id: ours\ntitle: Ours\nphases:\n  - title: Entry\n    steps:\n      - {id: a, title: A\n      - {id: b, title: B}\n",
			[]string{"7:7: a } or a comma is missing here, or in the line above"}},
		{"a bracket that is not closed", "id: ours\ntitle: Ours\nnames: [our stall, stall of ours\nphases: []\n", []string{"4:1: a ] or a comma is missing here, or in the line above"}},
		{"a quotation mark that is not closed", "id: ours\ntitle: \"Ours\nphases: []\n", []string{"2:8: a text begins with a quotation mark and does not end with one"}},
		{"a setting twice", "id: ours\ntitle: Ours\ntitle: Ours again\n", []string{`3:1: "title" is set twice, the first time in line 2; keep one of them, or begin the next of the list with "- "`}},
		{"a condition with an exclamation mark", ours("when: !retractable_gear"), []string{`10:15: an expression that begins with "!" stands in quotes, as in when: "!retractable_gear"`}},
		{"half a line", "id: ours\ntitle: Ours\nand more of it\nphases: []\n", []string{`3:1: the line is no setting such as "title: Ours", nor the next of a list, which begins with "- "`}},
		{"no dash before a phase", "id: ours\ntitle: Ours\nphases:\n  title: Entry\n", []string{`4:8: "phases" is a list: begin each of its parts with "- ", as in "- title: ..."`}},
		{"settings in capitals", "ID: ours\nTitle: Ours\nPhases: []\n",
			[]string{`1:1: no setting is called "ID"; did you mean "id"?`, "1:1: the procedure has no phases", `2:1: no setting is called "Title"; did you mean "title"?`, `3:1: no setting is called "Phases"; did you mean "phases"?`}},
		{"an id as one would say it", strings.Replace(ours(""), "id: power", "id: Power Back", 1),
			[]string{`6:13: the id "Power Back" may only have small letters, figures and single dashes between; write power-back`}},
		{"a callout as one would say it", strings.Replace(ours("say: power back"), "call: power-back", "call: power back", 1),
			[]string{`8:15: step "power": no callout is called "power back"; did you mean "power-back"?`}},
		{"a callout with its figure", strings.Replace(ours(""), "call: power-back", "call: flaps 10", 1),
			[]string{`8:15: step "power": no callout is called "flaps 10"; did you mean "flaps" or "flaps-up" or "flaps-full"?`}},
		{"a figure alone", ours("value: 1700"), []string{`10:16: "value" needs settings of its own; write {of: airspeed, target: 65, tolerance: 5}`}},
		{"a tolerance beside the value", ours("tolerance: 150"), []string{`10:9: the setting "tolerance" does not belong here; it belongs under "value"`}},
		{"a target with its unit", ours("value: {of: rpm, target: 1700 rpm}"),
			[]string{`10:39: expression "1700 rpm": Syntax error: extraneous input 'rpm'; write 1700 alone, the unit follows from what it is a figure of`}},
		{"a tolerance as the standards write it", ours("value: {of: rpm, target: 1700, tolerance: +10/-0}"),
			[]string{`10:51: "+10/-0" does not fit here: a number is wanted; write 10, or {plus: 10, minus: 0}`}},
		{"seconds in words", ours("within: 10 seconds"), []string{`10:17: "within" needs settings of its own; write {seconds: 10, of: STEP}`}},
		{"yes", ours("optional: yes"), []string{`10:19: "yes" does not fit here: true or false is wanted; write optional: true`}},
		{"a seat there is none of", ours("by: pilot"), []string{`10:13: no seat is called "pilot"; known are student, instructor`}},
		{"a condition in words", ours("when: carburettor and not retractable_gear"),
			[]string{`10:27: expression "carburettor and not retractable_gear": Syntax error: mismatched input 'and'; write && for and, || for or, ! for not, == for is`}},
		{"one sign of equality", ours("when: final_speed = 65"), []string{`10:27: expression "final_speed = 65": Syntax error: token recognition error at: '= '; write == for is`}},
		{"a list for a number", ours(`when: "flap_stages > 2"`),
			[]string{`10:28: step "power", when "flap_stages > 2": > does not go with a list of numbers and a number; size(flap_stages) is how many there are, flap_stages[0] the first of them`}},
		{"one stage of flap too many", ours(`when: "flap_stages[3] > 30.0"`),
			[]string{`10:16: step "power", when "flap_stages[3] > 30.0": index out of bounds: 3; the first of a list is [0], the last of three is [2]`}},
		{"conditions nobody can decide, all of them", "aircraft: carburetor\n" + ours("when: turbo"),
			[]string{`1:11: aircraft "carburetor": the aircraft "trainer" has no fact "carburetor"; did you mean "carburettor"?`,
				`11:15: step "power", when "turbo": the aircraft "trainer" has no fact "turbo"; known are `}},
		{"half the name of a procedure", "extends: slow-flight\n",
			[]string{`1:10: extends "slow-flight": no procedure is called "slow-flight"; did you mean "slow-flight-clean" or "slow-flight-landing"?`}},
		{"a change without its step", "extends: slow-flight-clean\nchange:\n  - airspeed: {value: 70}\n",
			[]string{`3:5: no setting is called "airspeed"; here belong id, title, call, `, `3:13: say with "id" which step of "slow-flight-clean" is to be changed`}},
		{"a step added after another", "extends: slow-flight-clean\nadd:\n  - after: power-back\n    steps: [{id: g, title: G, call: gauges-green, reference: ours}]\n",
			[]string{`3:5: the setting "after" does not belong here; it belongs under "steps"`, `3:10: say where the steps go with one of "above: STEP", "below: STEP" or "phase: TITLE"`}},
		{"a hold of nothing", ours("") + "holds:\n  - {id: h, title: H, call: altitude, reference: POH}\n",
			[]string{`12:5: hold "h" needs a value, as in value: {of: altitude, as_called_at: STEP, tolerance: 100}`}},
		{"a name nobody could say", ours("") + "names: [\"our [stall\"]\n", []string{`11:9: the name of the maneuver: phrase "our [stall": "[" without "]"`}},
	} {
		t.Run(c.says, func(t *testing.T) {
			_, _, err := rules.CheckSource(library.SourceOf, "my.yaml", []byte(c.text), lexicon, fleet)
			wantProblems(t, err, c.want)
		})
	}
}

func wantProblems(t *testing.T, err error, want []string) {
	t.Helper()
	got := rules.Problems(err)
	for i, p := range got {
		if i >= len(want) || !strings.HasPrefix(p.Error(), "my.yaml:"+want[i]) {
			t.Errorf("told  %s", p)
		}
	}
	for i, w := range want {
		if i >= len(got) || !strings.HasPrefix(got[i].Error(), "my.yaml:"+w) {
			t.Errorf("want  my.yaml:%s", w)
		}
	}
}

func TestWhatAnInstructorMayWriteOfAnAircraft(t *testing.T) {
	for _, c := range []struct {
		says, facts string
		want        []string
	}{
		{"a value alone", "carburettor: true", []string{`4:16: the fact "carburettor" needs its value as a setting: write {value: true}`}},
		{"a value with its unit", "cruise_power: {value: 2300 rpm}", []string{`4:25: fact "cruise_power": "2300 rpm" is only a text; write {value: 2300, unit: rpm}`}},
		{"a unit by another name, joined", "speed: {value: 65kts}", []string{`4:18: fact "speed": "65kts" is only a text; write {value: 65, unit: kt}`}},
		{"a figure in quotes", `speed: {value: "65", unit: kt}`, []string{`4:18: fact "speed": "65" is only a text; write 65 without quotes`}},
		{"stages without brackets", "flap_stages: {value: 10/20/30, unit: deg}", []string{`4:24: fact "flap_stages": "10/20/30" is only a text; write [10, 20, 30]`}},
		{"yes", "carburettor: {value: yes}", []string{`4:24: fact "carburettor": "yes" is only a text; write true, without quotes`}},
		{"a name with blanks", "slow flight speed: {value: 65, unit: kt}", []string{`4:22: the fact name "slow flight speed" may only have small letters, figures and _; write slow_flight_speed`}},
		{"units", "speed: {value: 65, units: kt}", []string{`4:22: no setting is called "units"; did you mean "unit"?`}},
		{"a text", "fuel: {value: leaded}", nil},
	} {
		t.Run(c.says, func(t *testing.T) {
			_, err := rules.ParseAircraft("my.yaml", []byte("id: ours\ntitle: Ours\nfacts:\n  "+c.facts+"\n"))
			wantProblems(t, err, c.want)
		})
	}
}

// A slip of the fingers anywhere in a file is taken or told, and breaks nothing.
func TestAnySlipInAFileIsToldWithItsPlace(t *testing.T) {
	lexicon, err := callouts.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	fleet, err := library.AllAircraft()
	if err != nil {
		t.Fatal(err)
	}
	const keys = "{}[]:\"' \t\n!-#&*abc0,"
	rng := rand.New(rand.NewPCG(1, 2))
	told := 0
	for range 400 {
		id := []string{"slow-flight-clean", "power-off-stall", "steep-turns", "trainer"}[rng.IntN(4)]
		text, err := library.Source(id)
		if err != nil {
			t.Fatal(err)
		}
		b := slices.Clone(text)
		for range 1 + rng.IntN(3) {
			at, key := rng.IntN(len(b)), keys[rng.IntN(len(keys))]
			switch rng.IntN(4) {
			case 0:
				b = slices.Delete(b, at, min(len(b), at+1+rng.IntN(3)))
			case 1:
				b[at] = key
			case 2:
				b = slices.Insert(b, at, key)
			case 3: // a line gone
				lines := bytes.Split(b, []byte("\n"))
				i := rng.IntN(len(lines))
				b = bytes.Join(slices.Delete(lines, i, i+1), []byte("\n"))
			}
		}
		if id == "trainer" {
			_, err = rules.ParseAircraft("f.yaml", b)
		} else {
			_, _, err = rules.CheckSource(library.SourceOf, "f.yaml", b, lexicon, fleet)
		}
		problems := rules.Problems(err)
		if err != nil && len(problems) == 0 {
			t.Fatalf("%v is no error of the file\n%s", err, b)
		}
		for _, p := range problems {
			told++
			if p.Line < 1 || p.Column < 1 || p.Line > 2+bytes.Count(b, []byte("\n")) || strings.Contains(p.Message, "\n") || p.Message == "" {
				t.Fatalf("%+v\n%s", p, b)
			}
		}
	}
	if told < 200 {
		t.Errorf("only %d slips are told", told)
	}
}
