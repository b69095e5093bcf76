package timeline_test

import (
	"strings"
	"testing"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/timeline"
)

func judged() []rules.Assessment {
	at := 30.0
	a := rules.Assessment{Procedure: "slow-flight-clean", Start: 10, End: 60}
	for _, v := range []rules.Verdict{rules.Heard, rules.NotHeard, rules.OutOfOrder, rules.Late, rules.OffValue, rules.Unsure, rules.NotApplicable} {
		a.Steps = append(a.Steps, rules.StepResult{ID: string(v), Verdict: v, At: &at, Reason: "So it seemed."})
	}
	for _, k := range []string{"not-heard", "out-of-order", "late", "off-value", "unsure", "corrected"} {
		a.Findings = append(a.Findings, rules.Finding{Step: k, Kind: k, Severity: rules.Safety, At: &at, Message: "So it seemed."})
	}
	return []rules.Assessment{a}
}

func TestARecordingTooPoorToJudgeByAccusesNobody(t *testing.T) {
	before := judged()
	good := timeline.Build(timeline.Recording{}, nil, nil, before)
	poor := timeline.Build(timeline.Recording{Poor: "on the left side the voices are only 2 dB above the noise"}, nil, nil, before)
	for i, s := range poor.Maneuvers[0].Steps {
		was := good.Maneuvers[0].Steps[i]
		switch was.Verdict {
		case rules.Heard, rules.Unsure, rules.NotApplicable:
			if s.Verdict != was.Verdict || s.Reason != was.Reason {
				t.Errorf("%s became %s: %s", was.Verdict, s.Verdict, s.Reason)
			}
		default:
			if s.Verdict != rules.Unsure || !strings.Contains(s.Reason, "too poor") || !strings.Contains(s.Reason, "So it seemed.") {
				t.Errorf("%s became %s: %s", was.Verdict, s.Verdict, s.Reason)
			}
		}
	}
	for i, f := range poor.Maneuvers[0].Findings {
		switch was := good.Maneuvers[0].Findings[i]; was.Kind {
		case "corrected", "unsure":
			if f != was {
				t.Errorf("%+v became %+v", was, f)
			}
		default:
			if f.Kind != "unsure" || f.Severity != rules.Note || !strings.Contains(f.Message, "listen here") {
				t.Errorf("%s became %+v", was.Kind, f)
			}
		}
	}
	if before[0].Steps[1].Verdict != rules.NotHeard {
		t.Error("what was judged was changed under its owner's hands")
	}
}

func TestAManeuverWithAGapInItAccusesNobody(t *testing.T) {
	rec := timeline.Recording{Parts: []timeline.Part{{File: "a.wav", Duration: 40}, {File: "b.wav", Start: 40, Duration: 100, Gap: 12}}}
	inside := timeline.Build(rec, nil, nil, judged()).Maneuvers[0]
	if s := inside.Steps[1]; s.Verdict != rules.Unsure || !strings.Contains(s.Reason, "12 s before b.wav were not recorded") {
		t.Errorf("not heard became %s: %s", s.Verdict, s.Reason)
	}
	after := judged()
	after[0].Start = 41
	if s := timeline.Build(rec, nil, nil, after).Maneuvers[0].Steps[1]; s.Verdict != rules.NotHeard {
		t.Errorf("a maneuver that is whole is %s: %s", s.Verdict, s.Reason)
	}
}

func TestWhatTheRecorderMissedAtItsEndsIsUnsure(t *testing.T) {
	at := func(s float64) *float64 { return &s }
	made := func(shift float64) []rules.Assessment {
		a := rules.Assessment{Start: 10 + shift, End: 60 + shift}
		add := func(id string, v rules.Verdict, when *float64) {
			a.Steps = append(a.Steps, rules.StepResult{ID: id, Verdict: v, At: when, Reason: "So it seemed."})
			if v != rules.Heard {
				a.Findings = append(a.Findings, rules.Finding{Step: id, Kind: string(v), Severity: rules.Safety, At: when, Message: "So it seemed."})
			}
		}
		add("before", rules.NotHeard, nil)
		add("first", rules.Heard, at(8+shift))
		add("between", rules.NotHeard, nil)
		add("late", rules.Late, at(55+shift))
		add("last", rules.Heard, at(60+shift))
		add("after", rules.NotHeard, nil)
		return []rules.Assessment{a}
	}
	for _, c := range []struct {
		name            string
		shift, duration float64
		unsure          string
	}{
		{"in the middle of a lesson", 1000, 5000, ""},
		{"as the recorder was started", 0, 5000, "before"},
		{"as it stopped", 1000, 1065, "after"},
		{"all there is", 0, 65, "before after"},
	} {
		m := timeline.Build(timeline.Recording{Duration: c.duration, SampleRate: 48000}, nil, nil, made(c.shift)).Maneuvers[0]
		var steps, findings []string
		for _, s := range m.Steps {
			if s.Verdict == rules.Unsure {
				steps = append(steps, s.ID)
			}
		}
		for _, f := range m.Findings {
			if f.Kind == string(rules.Unsure) {
				findings = append(findings, f.Step)
			}
		}
		if got := strings.Join(steps, " "); got != c.unsure || strings.Join(findings, " ") != c.unsure {
			t.Errorf("%s: unsure of %q and %q, want %q", c.name, steps, findings, c.unsure)
		}
	}
	words := timeline.Build(timeline.Recording{Duration: 65}, nil, nil, made(0)).Maneuvers[0]
	if v := words.Steps[5].Verdict; v != rules.NotHeard {
		t.Errorf("a file of words ends with its last words; what is missing after them is %s", v)
	}
}

func TestNobodyIsLateByEstimatedTimes(t *testing.T) {
	calls := []callouts.Call{{ID: "trim-set", Start: 30, Estimated: true}}
	for name, estimated := range map[string]bool{"times of words": false, "times of lines only": true} {
		calls[0].Estimated = estimated
		as := judged()
		of := 0
		as[0].Steps[0].Call = &of
		got := timeline.Build(timeline.Recording{}, nil, calls, as).Maneuvers[0]
		for _, s := range got.Steps {
			want := rules.Verdict(s.ID)
			if estimated && want == rules.Late {
				want = rules.Unsure
			}
			if s.Verdict != want {
				t.Errorf("%s: %s became %s", name, s.ID, s.Verdict)
			}
		}
	}
}
