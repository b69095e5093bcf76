package timeline_test

import (
	"strings"
	"testing"

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

func TestALevelIsSaidInWords(t *testing.T) {
	v := func(x float64) *float64 { return &x }
	for _, c := range []struct {
		level timeline.Level
		want  string
	}{
		{timeline.Level{Name: "the left side", Listened: true, SpeechShare: 0.342, Peak: v(-3.2), Voice: v(-21.6), Noise: v(-40.4), SNR: v(18.3)},
			"the left side: speech 34 % of the time, voices -22 dBFS, noise floor -40, voices 18 dB above the noise, peak -3"},
		{timeline.Level{Name: "the right side"}, "the right side: silent"},
		{timeline.Level{Name: "channel 3", Peak: v(-50), Noise: v(-60)}, "channel 3: speech 0 % of the time, noise floor -60, peak -50 (not listened to)"},
	} {
		if got := c.level.Text(); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
