package rules_test

import (
	"fmt"
	"strings"
	"testing"

	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/rulestest"
)

// What published standards say, in procedures of our own.

// Stall recovery, FAA-H-8083-3C (Airplane Flying Handbook), chapter 5: the
// order of the actions and not their wording. The order autopilot, nose, wings,
// power, flight path was looked up in a summary of it; trim and speed brakes are
// from memory.
const stallRecovery = `
id: stall-recovery
title: Stall recovery
phases:
  - title: Recovery
    steps:
      - {id: autopilot, title: Autopilot off, call: autopilot-off, reference: "FAA-H-8083-3C, chapter 5, step 1"}
      - {id: nose, title: Nose down, call: nose-down, reference: "FAA-H-8083-3C, chapter 5, step 2a"}
      - {id: trim, title: Trim nose down, call: trim-set, reference: "FAA-H-8083-3C, chapter 5, step 2b"}
      - {id: wings, title: Wings level, call: wings-level, reference: "FAA-H-8083-3C, chapter 5, step 3"}
      - {id: power, title: Power, call: full-power, reference: "FAA-H-8083-3C, chapter 5, step 4"}
      - {id: brakes, title: Speed brakes in, call: speed-brakes-in, reference: "FAA-H-8083-3C, chapter 5, step 5"}
      - {id: path, title: Back to the flight path, call: straight-and-level, reference: "FAA-H-8083-3C, chapter 5, step 6"}
`

func TestStallRecoveryInTheOrderOfTheHandbook(t *testing.T) {
	pl := procedure(t, stallRecovery)
	lesson, ids := rulestest.Perfect(pl, 30)
	wantTold(t, judge(pl, lesson))
	for i := range ids {
		for k := range i {
			t.Run(ids[k]+" and "+ids[i]+" swapped", func(t *testing.T) {
				a := judge(pl, lesson.Moved(i, k).Moved(k+1, i))
				if len(a.Findings) == 0 {
					t.Fatal("nothing is told")
				}
				// One of the two swapped is out of order, or both where others lie
				// between them; those others are as they were.
				for _, f := range a.Findings {
					if f.Kind != string(rules.OutOfOrder) || f.Step != ids[i] && f.Step != ids[k] && i-k > 2 {
						t.Errorf("%s is told as %s: %s", f.Step, f.Kind, f.Message)
					}
				}
				if want := min(i-k, 2); len(a.Findings) != want {
					t.Errorf("%q is told, want %d", told(a), want)
				}
				if i-k == 1 && (a.Findings[0].Step != ids[i] || !strings.Contains(a.Findings[0].Message, " came before ")) {
					t.Errorf("%+v", a.Findings[0])
				}
			})
		}
	}
}

// The figures of FAA-S-ACS-6C at their edges, held over a stretch and at one
// call. The figures of the tasks named are from memory.
func TestToleranceOfTheStandards(t *testing.T) {
	for _, c := range []struct {
		task        string
		of          callouts.Quantity
		target      float64
		tolerance   string
		good, wrong []float64
	}{
		{"VII.A altitude ±100 ft", callouts.Altitude, 3500, "100", []float64{3400, 3500, 3600}, []float64{3399, 3601}},
		{"VII.A heading ±10°", callouts.Heading, 360, "10", []float64{350, 355, 360, 5, 10}, []float64{349, 11, 180}},
		{"VII.A heading ±10° across north", callouts.Heading, 5, "10", []float64{355, 360, 15}, []float64{354, 16}},
		{"VII.A airspeed +10/-0 kt", callouts.Airspeed, 65, "{plus: 10, minus: 0}", []float64{65, 75}, []float64{64, 76}},
		{"VII.B and VII.C bank 20° ±10°", callouts.Bank, 20, "10", []float64{10, 30}, []float64{9, 31}},
		{"V.A bank 45° ±5°", callouts.Bank, 45, "5", []float64{40, 50}, []float64{39, 51}},
		{"V.A airspeed ±10 kt", callouts.Airspeed, 95, "10", []float64{85, 105}, []float64{84, 106}},
		{"IX.A airspeed +0/-10 kt", callouts.Airspeed, 120, "{plus: 0, minus: 10}", []float64{110, 120}, []float64{109, 121}},
		{"IV.N airspeed +10/-5 kt", callouts.Airspeed, 70, "{plus: 10, minus: 5}", []float64{65, 80}, []float64{64, 81}},
	} {
		value := fmt.Sprintf("{of: %s, target: %v, tolerance: %s}", c.of, c.target, c.tolerance)
		pl := procedure(t, `
id: x
title: X
phases:
  - title: P
    steps:
      - {id: begin, title: Begin, call: clearing-turns, reference: r}
      - {id: figure, title: Figure, call: figure, value: `+value+`, reference: r}
      - {id: end, title: End, call: recover, reference: r}
holds:
  - {id: held, title: Held, call: held, value: `+value+`, from: begin, until: end, reference: r}
`)
		lesson, _ := rulestest.Perfect(pl, 0)
		try := func(v float64, want ...string) {
			t.Run(fmt.Sprintf("%s: %v", c.task, v), func(t *testing.T) {
				l := lesson.Replaced(1, rulestest.With(lesson[1], c.of, v))
				held := rulestest.With(rulestest.Call("held", 8), c.of, v)
				wantTold(t, judge(pl, append(l[:2:2], held, l[2])), want...)
			})
		}
		for _, v := range c.good {
			try(v)
		}
		for _, v := range c.wrong {
			try(v, "figure off-value", "held off-value")
		}
	}
}

// The worked examples of the Aeronautical Information Manual, 4-2-8 to 4-2-11,
// in every callout of the lexicon that carries such a figure, from the words to
// the verdict. Looked up in the text of the manual.
func TestFiguresSpokenAsTheManualHasThem(t *testing.T) {
	examples := map[callouts.Quantity]map[string]float64{
		callouts.Altitude: {
			"five hundred": 500, "four thousand five hundred": 4500, // 4-2-8 a
			"one zero thousand": 10000, "one three thousand five hundred": 13500, // 4-2-8 b
			"one two thousand": 12000, "one two thousand five hundred": 12500, // 4-2-9 a
			"flight level one niner zero": 19000, "flight level two seven five": 27500, // 4-2-9 b
		},
		callouts.Heading:   {"zero zero five": 5, "zero five zero": 50, "three six zero": 360, "one zero zero": 100, "two two zero": 220}, // 4-2-10
		callouts.Airspeed:  {"two five zero": 250, "one niner zero": 190},                                                                 // 4-2-11
		callouts.Flaps:     {"one zero": 10},                                                                                              // 4-2-8 d, as are those below
		callouts.Bank:      {"one zero": 10},
		callouts.RPM:       {"two three zero zero": 2300},
		callouts.Count:     {"one zero": 10, "two three": 23},
		callouts.Frequency: {"one two two point one": 122.1}, // 4-2-8 e
	}
	lexicon, err := callouts.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	finder, err := callouts.NewFinder(lexicon)
	if err != nil {
		t.Fatal(err)
	}
	tried := 0
	for _, c := range lexicon.Callouts {
		phrase := withSlot(c)
		if phrase == "" {
			continue
		}
		tried++
		for words, value := range examples[c.Quantity] {
			t.Run(c.ID+" "+words, func(t *testing.T) {
				pl := procedure(t, fmt.Sprintf(`
id: x
title: X
phases:
  - title: P
    steps:
      - {id: figure, title: Figure, call: %s, value: {of: %s, target: %v}, reference: r}
`, c.ID, c.Quantity, value))
				line := strings.ReplaceAll(phrase, "{"+string(c.Quantity)+"}", words)
				calls := finder.Find(spokenLine(line))
				a := pl.Judge(calls, 0, len(calls))
				if r := result(t, a, "figure"); r.Verdict != rules.Heard || r.Value == nil || *r.Value != value {
					t.Errorf("%q is %s: %s", line, r.Verdict, r.Reason)
				}
			})
		}
	}
	if tried < 8 {
		t.Errorf("only %d callouts carry a figure", tried)
	}
}

// withSlot is the plainest phrase of a callout with its figure in it, "" when
// there is none.
func withSlot(c callouts.Callout) string {
	for _, p := range c.Say {
		if !strings.Contains(p, "{") {
			continue
		}
		for strings.Contains(p, "[") {
			open := strings.LastIndex(p, "[")
			end := open + strings.Index(p[open:], "]")
			inside := p[open+1 : end]
			if !strings.Contains(inside, "{") {
				inside = ""
			}
			p = p[:open] + inside + p[end+1:]
		}
		words := strings.Fields(p)
		for i := range words {
			words[i], _, _ = strings.Cut(words[i], "/")
		}
		return strings.Join(words, " ")
	}
	return ""
}

func spokenLine(text string) *transcript.Transcript {
	u := transcript.Utterance{Text: text, Start: 1}
	at := 1.0
	for w := range strings.FieldsSeq(text) {
		u.Words = append(u.Words, transcript.Word{Text: w, Start: at, End: at + 0.3, Confidence: 1})
		at += 0.33
	}
	u.End = at
	return &transcript.Transcript{Utterances: []transcript.Utterance{u}}
}
