package schema_test

import (
	"strings"
	"testing"

	"sidetone/rules"
	"sidetone/rules/library"
	"sidetone/rules/schema"
)

// everything has every key of the language in it.
const everything = `id: everything
title: Everything
summary: All there is to write.
aircraft: "!retractable_gear"
never_with: going-around
say:
  recover: [recover now]
phases:
  - title: Entry
    steps:
      - {id: heading, title: Heading, call: heading, value: {of: heading, optional: true}, reference: r}
      - {id: power-back, title: Power back, call: power-back, by: student, say: "bring it back", after: [], severity: safety, reference: r, teach: Because.}
  - title: Recovery
    cue: recover
    steps:
      - one_of:
          - {id: full-power, title: Full power, call: full-power, within: {seconds: 5, cue: recover}, reference: r}
          - {id: go-around, title: Going around, call: going-around, when: carburettor, reference: r}
      - {id: flaps-up, title: Flaps up, call: flaps-up, not_before: {seconds: 3, of: full-power}, within: {seconds: 60, of: full-power}, repeats: true, reference: r}
      - {id: roll-out, title: Roll-out, call: heading, value: {of: heading, as_called_at: heading, tolerance: {plus: 10, minus: 5}}, reference: r}
      - {id: gauges, title: Gauges, call: gauges-green, anytime: true, optional: true, reference: r}
holds:
  - {id: altitude, title: Altitude held, call: altitude, value: {of: altitude, target: 3500, tolerance: 100}, from: heading, until: {cue: recover}, when: carburettor, severity: note, reference: r, teach: Because.}
nevers:
  - {id: no-flaps, title: No flaps up yet, call: [flaps-up], from: {cue: stall-warning}, until: full-power, when: carburettor, severity: safety, reference: r, teach: Because.}
`

const override = `extends: slow-flight-clean
id: our-slow-flight
title: Slow flight as we fly it
say:
  full-power: [all of it forward]
change:
  - {id: nose-up, optional: true, after: [], say: [nose comes up]}
add:
  - below: power-back
    steps: [{id: gauges, title: Gauges, call: gauges-green, reference: our handbook}]
  - phase: Recovery
    steps:
      - one_of:
          - {id: done, title: Done, call: gauges-green, reference: r}
          - {id: over, title: Over, call: clearing-turns, reference: r}
remove: [nose-down]
nevers:
  - {id: no-flaps, title: No flap in this, call: flaps, reference: our handbook}
`

func parse(text string) error {
	_, err := rules.ParseProcedureOver(library.SourceOf, "x.yaml", []byte(text))
	return err
}

func TestAllOfTheLanguageIsTaken(t *testing.T) {
	s := compile(t, schema.Procedure)
	for _, text := range []string{everything, override} {
		if err := parse(text); err != nil {
			t.Error(rules.Problems(err))
		}
		if err := validate(t, s, []byte(text)); err != nil {
			t.Error(err)
		}
	}
}

// What the schema refuses, the parser refuses as well.
func TestWhatIsRefusedOfTheLanguage(t *testing.T) {
	s := compile(t, schema.Procedure)
	for _, c := range []struct{ says, text, old, new string }{
		{"a choice of one", everything, "          - {id: go-around, title: Going around, call: going-around, when: carburettor, reference: r}\n", ""},
		{"a choice that is optional", everything, "when: carburettor, reference: r}\n      - {id: flaps-up", "optional: true, reference: r}\n      - {id: flaps-up"},
		{"a seat there is none of", everything, "by: student", "by: passenger"},
		{"a time from a step and a cue", everything, "{seconds: 5, cue: recover}", "{seconds: 5, cue: recover, of: heading}"},
		{"a time from nowhere", everything, "{seconds: 5, cue: recover}", "{seconds: 5}"},
		{"a wait for a cue", everything, "not_before: {seconds: 3, of: full-power}", "not_before: {seconds: 3, cue: recover}"},
		{"a wait of nothing", everything, "not_before: {seconds: 3", "not_before: {seconds: 0"},
		{"a target and another step's figure", everything, "as_called_at: heading", "target: 90, as_called_at: heading"},
		{"a hold without a target", everything, "{of: altitude, target: 3500, tolerance: 100}", "{of: altitude}"},
		{"a hold without a value", everything, "value: {of: altitude, target: 3500, tolerance: 100}, ", ""},
		{"a never without a call", everything, "call: [flaps-up], ", ""},
		{"a never without a reference", everything, "until: full-power, when: carburettor, severity: safety, reference: r", "until: full-power, severity: safety"},
		{"a bound that is two", everything, "until: {cue: recover}", "until: {cue: recover, step: heading}"},
		{"phases besides those extended", override, "title: Slow", "phases: [{title: P, steps: [{id: a, title: A, call: c, reference: r}]}]\ntitle: Slow"},
		{"a removal from nothing", everything, "title: Everything", "title: E\nremove: [heading]"},
		{"a change of no step", override, "{id: nose-up, ", "{"},
		{"an addition to nowhere", override, "  - below: power-back\n    steps", "  - steps"},
		{"an addition to two places", override, "  - below: power-back\n", "  - below: power-back\n    above: nose-up\n"},
	} {
		text := strings.Replace(c.text, c.old, c.new, 1)
		if text == c.text {
			t.Fatalf("%s: %q is not in the file", c.says, c.old)
		}
		if parse(text) == nil {
			t.Errorf("%s: the parser takes it", c.says)
		}
		if validate(t, s, []byte(text)) == nil {
			t.Errorf("%s: the schema takes it", c.says)
		}
	}
}
