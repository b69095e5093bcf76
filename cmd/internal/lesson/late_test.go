package lesson

import (
	"math"
	"strings"
	"testing"

	"sidetone/rules"
)

const goAround = `
title: late
voices: {student: slt, instructor: rms}
lines:
- {begin: go-around}
- {who: student, say: "{going-around: going around}, {full-power: full power}"}
- {who: student, say: "{carb-heat-cold: carb heat cold}"}
- {who: student, say: "{flaps=20: flaps twenty}, {positive-rate: positive rate}, {airspeed=75: seventy five knots}, {flaps-up: flaps up}"}
- {end: go-around}
`

func spokenOf(t *testing.T, script string) (*Script, Truth) {
	t.Helper()
	s, err := Parse("x", []byte(script))
	if err != nil {
		t.Fatal(err)
	}
	sp, err := Speak(s, hum)
	if err != nil {
		t.Fatal(err)
	}
	_, truth, err := sp.Mix()
	if err != nil {
		t.Fatal(err)
	}
	return s, truth
}

func TestALateLineWaitsUntilItsStepIsDue(t *testing.T) {
	heat := `"{carb-heat-cold: carb heat cold}"`
	_, soon := spokenOf(t, goAround)
	_, late := spokenOf(t, strings.Replace(goAround, heat, heat+", late: carb-heat-cold", 1))
	after := func(truth Truth) (seconds float64, v rules.Verdict) {
		at := map[string]float64{}
		for _, c := range truth.Calls {
			at[c.ID] = c.Start
		}
		return at["carb-heat-cold"] - at["full-power"], truth.Maneuvers[0].Verdicts["carb-heat-cold"]
	}
	if s, v := after(soon); s > 10 || v != rules.Heard {
		t.Errorf("without late: %.1f s after the power, and %s", s, v)
	}
	// The procedure wants it within 20 s of full power.
	if s, v := after(late); s < 20+lateBy-0.01 || s > 20+lateBy+0.2 || v != rules.Late {
		t.Errorf("with late: %.1f s after the power, and %s; want %.1f and late", s, v, 20+lateBy)
	}
}

func TestALateLineSaysWhatIsWrongWithIt(t *testing.T) {
	for _, c := range []struct{ old, new, want string }{
		{`"{carb-heat-cold: carb heat cold}"`, `"{carb-heat-cold: carb heat cold}", late: carb-heat-colt`, `did you mean "carb-heat-cold"`},
		{`"{carb-heat-cold: carb heat cold}"`, `"{carb-heat-cold: carb heat cold}", late: flaps-up`, `no "within"`},
		{`"{carb-heat-cold: carb heat cold}"`, `"nothing to do", late: carb-heat-cold`, "does not call"},
		{`- {begin: go-around}`, `- {who: student, say: "{carb-heat-cold: carb heat cold}", late: carb-heat-cold}
- {begin: go-around}`, "within a maneuver"},
	} {
		_, err := Parse("x", []byte(strings.Replace(goAround, c.old, c.new, 1)))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.new, err, c.want)
		}
	}
}

func TestACallThatAnswersAnOrderIsPrompted(t *testing.T) {
	const script = `
title: prompted
voices: {student: slt, instructor: rms}
lines:
- {who: instructor, say: "{trim-set!ordered: trim it out}"}
- {who: student, say: "{trim-set: trim set}"}
- {who: student, say: "{flaps=10: flaps ten}"}
- {who: instructor, say: "{flaps=20!ordered: flaps twenty please}"}
- {who: student, say: "{flaps=20: flaps twenty}", pause: 9}
- {who: student, say: "{nose-up!ordered: nose up now}"}
- {who: student, say: "{nose-up: nose up}"}
`
	_, truth := spokenOf(t, script)
	want := map[string]bool{
		"trim-set": true,  // right after the order
		"flaps":    false, // nobody ordered ten, and twenty comes too late
		"nose-up":  false, // ordered by the same one
	}
	for _, c := range truth.Calls {
		if c.Stance == "done" && c.Prompted != want[c.ID] {
			t.Errorf("%s at %.1f: prompted is %v", c.ID, c.Start, c.Prompted)
		}
	}
	if d := truth.Calls[4].Start - truth.Calls[3].Start; math.Abs(d-9) > 2 {
		t.Fatalf("the answer comes %.1f s after the order", d)
	}
}
