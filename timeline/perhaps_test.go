package timeline_test

import (
	"strings"
	"testing"

	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/library"
	"sidetone/timeline"
)

func TestACallThatMayHaveBeenMadeIsNotSaidToBeMissing(t *testing.T) {
	lexicon, err := callouts.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	procedures, err := library.Procedures()
	if err != nil {
		t.Fatal(err)
	}
	aircraft, err := library.DefaultAircraft()
	if err != nil {
		t.Fatal(err)
	}
	judge, err := timeline.NewJudge(lexicon, procedures, aircraft)
	if err != nil {
		t.Fatal(err)
	}
	lines := []string{"Area's clear.", "Three thousand feet.", "Heading zero niner zero.", "Carb heat on.", "Power seventeen hundred.", "Nose up.",
		"Sixty five knots.", "Right, bream.", "What a view.", "Full power.", "Carb heat cold.", "Cruise power, twenty three hundred.", "Trim set."}
	for _, c := range []struct {
		name    string
		instead string  // of the line about the view
		sure    float64 // of its words
		line    int     // beside whose last word it stands
		or      string
		chance  float64
		want    rules.Verdict
		reports int // calls
	}{
		{"nothing else may have been said there", "", 0, -1, "", 0, rules.NotHeard, 11},
		{"it may have been, where it was due", "", 0, 7, "trim set", 0.04, rules.Unsure, 11},
		{"it may well have been, where it was due", "", 0, 7, "trim set", 0.2, rules.Heard, 12},
		{"it may have been, at a time when it was not due", "", 0, 1, "trim set", 0.2, rules.NotHeard, 11},
		{"another call may have been, that is not due", "", 0, 8, "flaps twenty", 0.2, rules.NotHeard, 11},
		{"it may have been, but hardly", "", 0, 7, "trim set", 0.01, rules.NotHeard, 11},
		{"it was asked, as far as was heard", "Is trim set?", 0.6, -1, "", 0, rules.Unsure, 12},
		{"it was asked, clearly", "Is trim set?", 0.99, -1, "", 0, rules.NotHeard, 12},
	} {
		tr := &transcript.Transcript{}
		at := 5.0
		for i, l := range lines {
			sure := 0.95
			if i == 8 && c.instead != "" {
				l, sure = c.instead, c.sure
			}
			u := transcript.Utterance{Start: at, Text: l}
			for w := range strings.FieldsSeq(l) {
				u.Words = append(u.Words, transcript.Word{Text: w, Start: at, End: at + 0.3, Confidence: sure})
				at += 0.33
			}
			u.End = at
			if i == c.line {
				u.Words[len(u.Words)-1].Or = &transcript.Alternative{Text: c.or, Words: 1, Confidence: c.chance}
			}
			tr.Utterances = append(tr.Utterances, u)
			at += 4
		}
		tl := judge.Debrief(timeline.Recording{Duration: at + 60}, tr, nil, nil)
		if len(tl.Maneuvers) != 1 || tl.Maneuvers[0].Procedure != "slow-flight-clean" {
			t.Fatalf("%s: found %d maneuvers", c.name, len(tl.Maneuvers))
		}
		if len(tl.Calls) != c.reports {
			t.Errorf("%s: %d calls are reported, want %d: %v", c.name, len(tl.Calls), c.reports, tl.Calls)
		}
		for _, s := range tl.Maneuvers[0].Steps {
			if s.ID == "trim" {
				if s.Verdict != c.want {
					t.Errorf("%s: trim is %s, want %s: %s", c.name, s.Verdict, c.want, s.Reason)
				}
				if s.Verdict == rules.Unsure && (!strings.Contains(s.Reason, "bream.") && !strings.Contains(s.Reason, "trim set?") || s.Call != nil || s.At == nil) {
					t.Errorf("%s: %s, resting on %v, at %v", c.name, s.Reason, s.Call, s.At)
				}
			} else if s.Verdict != rules.Heard && s.Verdict != rules.NotApplicable {
				t.Errorf("%s: %s is %s: %s", c.name, s.ID, s.Verdict, s.Reason)
			}
		}
	}
}

func TestWhatNoProcedureAsksForIsToldWhenItIsFairlySure(t *testing.T) {
	call := func(id string, confidence float64) callouts.Call {
		return callouts.Call{ID: id, Stance: callouts.Done, Confidence: confidence}
	}
	perhaps, added := call("trim-set", 0.9), call("trim-set", 0.1)
	perhaps.Perhaps, added.AddedBy = true, "Ines Vale"
	for _, c := range []struct {
		says  string
		call  callouts.Call
		asked bool
		told  bool
	}{
		{"fairly sure, asked for by none", call("flaps-up", 0.75), false, true},
		{"half sure, asked for by none", call("flaps-up", 0.6), false, false},
		{"half sure, and a step rests on it", call("flaps-up", 0.6), true, true},
		{"only perhaps made, and a step rests on it", perhaps, true, false},
		{"added by somebody", added, false, true},
	} {
		all := []callouts.Call{call("nose-up", 0.2), c.call, call("full-power", 0.9)}
		one, last := 1, 2
		steps := []rules.StepResult{{ID: "last", Call: &last}}
		if c.asked {
			steps = append(steps, rules.StepResult{ID: "this", Call: &one})
		}
		got := timeline.HeardOnly(all, []rules.Assessment{{Steps: steps}})
		if want := map[bool]int{true: 2, false: 1}[c.told]; len(got) != want {
			t.Fatalf("%s: %d calls are told, want %d", c.says, len(got), want)
		}
		if k := steps[0].Call; k == nil || got[*k].ID != "full-power" {
			t.Errorf("%s: the last step rests on %v", c.says, k)
		}
		if c.asked && (steps[1].Call != nil) != c.told {
			t.Errorf("%s: its step rests on %v", c.says, steps[1].Call)
		}
	}
}
