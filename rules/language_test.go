package rules_test

import (
	"slices"
	"strings"
	"testing"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/rulestest"
)

// recovery has everything the language can ask for: a heading to come back to,
// a phase flown on a cue, one of two ways to add power, a wait, a hold, nevers.
const recovery = `
id: recovery
title: Recovery
phases:
  - title: Entry
    steps:
      - {id: heading, title: Entry heading, call: heading, value: {of: heading}, reference: r}
      - {id: power-back, title: Power back, call: power-back, by: student, reference: r}
  - title: Recovery
    cue: recover
    steps:
      - {id: nose-down, title: Nose down, call: nose-down, within: {seconds: 5, cue: recover}, reference: r}
      - one_of:
          - {id: full-power, title: Full power, call: full-power, reference: r}
          - {id: cruise-power, title: Cruise power, call: cruise-power, reference: r}
      - {id: positive-rate, title: Positive rate, call: positive-rate, reference: r}
      - {id: flaps-up, title: Flaps up, call: flaps-up, not_before: {seconds: 10, of: nose-down}, reference: r}
      - {id: roll-out, title: Roll-out heading, call: heading, value: {of: heading, as_called_at: heading, tolerance: 10}, reference: r}
holds:
  - {id: altitude, title: Altitude held, call: altitude, value: {of: altitude, target: 3500, tolerance: 100}, from: heading, until: {cue: recover}, reference: hold, teach: Hold it.}
nevers:
  - {id: no-trim, title: No trimming in the recovery, call: trim-set, from: nose-down, until: flaps-up, severity: safety, reference: never, teach: Trim later.}
  - {id: no-flaps, title: No flaps up before a positive rate, call: flaps-up, until: positive-rate, severity: safety, reference: never}
  - {id: going-on, title: Going on after the stall warning, call: [power-back, nose-up], from: {cue: stall-warning}, until: nose-down, severity: safety, reference: never, teach: A warning means recover.}
`

// The calls of recovery, by their place in a lesson that starts at 0:30.
//
//	0:30 heading, 0:36 power back, 0:42 nose down, 0:48 full power,
//	0:54 positive rate, 1:00 flaps up, 1:06 heading
const (
	atHeading = iota
	atPowerBack
	atNoseDown
	atFullPower
	atPositiveRate
	atFlapsUp
	atRollOut
)

func at(id string, start float64) callouts.Call { return rulestest.Call(id, start) }

func said(id string, start float64, stance callouts.Stance, speaker string) callouts.Call {
	c := at(id, start)
	c.Stance, c.Speaker = stance, speaker
	return c
}

func altitude(ft, start float64) callouts.Call {
	return rulestest.With(at("altitude", start), callouts.Altitude, ft)
}

func TestTheLanguageInSentences(t *testing.T) {
	pl := procedure(t, recovery)
	for _, c := range []struct {
		says   string
		change func(l rulestest.Lesson) rulestest.Lesson
		told   []string
		step   string // whose reason it is, or the message of whose finding
		reason string
	}{
		{
			"nothing is wrong", func(l rulestest.Lesson) rulestest.Lesson { return l }, nil,
			"cruise-power", "One of several is enough, and full power was heard at 0:48.",
		},
		{
			"the other way to add power", func(l rulestest.Lesson) rulestest.Lesson {
				return l.Replaced(atFullPower, at("cruise-power", 0))
			}, nil, "full-power", "One of several is enough, and cruise power was heard at 0:48.",
		},
		{
			"both ways to add power", func(l rulestest.Lesson) rulestest.Lesson { return append(l, at("cruise-power", 50)) }, nil, "", "",
		},
		{
			"neither way to add power", func(l rulestest.Lesson) rulestest.Lesson { return l.Without(atFullPower) },
			[]string{"full-power not-heard"}, "full-power", "Not heard between 0:43 and 0:54, nor cruise power instead; listen there.",
		},
		{
			"the other way to add power comes too early", func(l rulestest.Lesson) rulestest.Lesson {
				return l.Replaced(atFullPower, at("cruise-power", 0)).Moved(atFullPower, atNoseDown)
			}, []string{"cruise-power out-of-order"}, "cruise-power", "Cruise power at 0:42 came before nose down at 0:48.",
		},
		{
			"the nose comes down four seconds after the cue", func(l rulestest.Lesson) rulestest.Lesson {
				return append(l, said("recover", 38, callouts.Ordered, "instructor"))
			}, nil, "roll-out", `Heard at 1:06: 090°. Recovery took 28 seconds from the cue "recover" at 0:38.`,
		},
		{
			"the nose comes down too long after the cue", func(l rulestest.Lesson) rulestest.Lesson {
				return append(l, said("recover", 36.5, callouts.Ordered, "instructor"), said("recover", 41, callouts.Ordered, "instructor"))
			}, []string{"nose-down late"}, "nose-down", `Nose down at 0:42 came 6 seconds after the cue "recover" at 0:36; it is due within 5.`,
		},
		{
			"the cue is only talked about before", func(l rulestest.Lesson) rulestest.Lesson {
				return append(l, said("recover", 33, callouts.TalkedAbout, "instructor"))
			}, nil, "nose-down", "Heard at 0:42.",
		},
		{
			"a cue of a minute and a half ago is another one", func(l rulestest.Lesson) rulestest.Lesson {
				return append(l.Shifted(90), said("recover", 30, callouts.Ordered, "instructor"))
			}, nil, "nose-down", "Heard at 2:12.",
		},
		{
			"the flaps do not wait", func(l rulestest.Lesson) rulestest.Lesson {
				for i := atFullPower; i <= atFlapsUp; i++ {
					l[i].Start = 42 + 2*float64(i-atNoseDown)
					l[i].End = l[i].Start + 1
				}
				return l
			}, []string{"flaps-up out-of-order"}, "flaps-up", "Flaps up at 0:48 came 6 seconds after nose down at 0:42; it is due no sooner than 10 after.",
		},
		{
			"the flaps wait just long enough", func(l rulestest.Lesson) rulestest.Lesson {
				l[atFullPower].Start, l[atPositiveRate].Start, l[atFlapsUp].Start = 44, 46, 52
				return l
			}, nil, "flaps-up", "Heard at 0:52.",
		},
		{
			"the roll-out is on the heading that was called, within ten degrees", func(l rulestest.Lesson) rulestest.Lesson {
				l[atHeading] = rulestest.With(l[atHeading], callouts.Heading, 355)
				l[atRollOut] = rulestest.With(l[atRollOut], callouts.Heading, 5)
				return l
			}, nil, "roll-out", "Heard at 1:06: 005°.",
		},
		{
			"the roll-out is eleven degrees off the heading that was called", func(l rulestest.Lesson) rulestest.Lesson {
				l[atHeading] = rulestest.With(l[atHeading], callouts.Heading, 355)
				l[atRollOut] = rulestest.With(l[atRollOut], callouts.Heading, 6)
				return l
			}, []string{"roll-out off-value"}, "roll-out", "Roll-out heading at 1:06: 006° was heard, 355° as at 0:30 expected, 345° to 005° is within limits.",
		},
		{
			"no heading was called to come back to", func(l rulestest.Lesson) rulestest.Lesson {
				return l.Replaced(atHeading, at("heading", 0))
			}, nil, "roll-out", "Heard at 1:06: 090°.",
		},
		{
			"the student says what is the student's", func(l rulestest.Lesson) rulestest.Lesson {
				l[atPowerBack].Speaker = "Student"
				return l
			}, nil, "power-back", "Heard at 0:36.",
		},
		{
			"nobody knows who says what is the student's", func(l rulestest.Lesson) rulestest.Lesson { return l }, nil,
			"power-back", "Heard at 0:36. It is the student's to say; which seat said it is not known, so that could not be applied, and the call counts.",
		},
		{
			"the instructor says what is the student's", func(l rulestest.Lesson) rulestest.Lesson {
				l[atPowerBack].Speaker = "instructor"
				return l
			}, []string{"power-back not-heard"}, "power-back", "Heard at 0:36 from the instructor, but it is the student's to say.",
		},
		{
			"the altitude is held to the foot of the limit", func(l rulestest.Lesson) rulestest.Lesson {
				return append(l, altitude(3600, 34), altitude(3400, 35), said("recover", 40, callouts.Ordered, ""))
			}, nil, "", "",
		},
		{
			"the altitude drifts and is put right", func(l rulestest.Lesson) rulestest.Lesson {
				return append(l, altitude(3620, 33), altitude(3700, 34), altitude(3550, 35), said("recover", 40, callouts.Ordered, ""))
			}, []string{"altitude off-value"}, "altitude",
			"Altitude held: 3,700 ft was called at 0:34, the furthest of 2, 3,500 ft expected, 3,400 ft to 3,600 ft is within limits. At 0:35 it was 3,550 ft again. Hold it.",
		},
		{
			"the altitude drifts, and that is all that is heard of it", func(l rulestest.Lesson) rulestest.Lesson {
				return append(l, altitude(3399, 34), said("recover", 40, callouts.Ordered, ""))
			}, []string{"altitude off-value"}, "altitude",
			"Altitude held: 3,399 ft was called at 0:34, 3,500 ft expected, 3,400 ft to 3,600 ft is within limits. No figure within limits was called after it. Hold it.",
		},
		{
			"another altitude after it need no longer be held", func(l rulestest.Lesson) rulestest.Lesson {
				return append(l, altitude(3000, 50), said("recover", 40, callouts.Ordered, ""))
			}, nil, "", "",
		},
		{
			"an altitude that is only ordered is none", func(l rulestest.Lesson) rulestest.Lesson {
				o := altitude(4000, 34)
				o.Stance = callouts.Ordered
				return append(l, o, said("recover", 40, callouts.Ordered, ""))
			}, nil, "", "",
		},
		{
			"trimming in the middle of the recovery", func(l rulestest.Lesson) rulestest.Lesson { return append(l, at("trim-set", 50)) },
			[]string{"no-trim out-of-order"}, "no-trim",
			`No trimming in the recovery: "trim-set" was heard at 0:50, between nose down at 0:42 and flaps up at 1:00. Trim later.`,
		},
		{
			"trimming after it", func(l rulestest.Lesson) rulestest.Lesson { return append(l, at("trim-set", 62)) }, nil, "", "",
		},
		{
			"trimming that is not clearly heard accuses nobody", func(l rulestest.Lesson) rulestest.Lesson {
				c := at("trim-set", 50)
				c.Confidence = 0.4
				return append(l, c)
			}, nil, "", "",
		},
		{
			"flaps up before the positive rate is told once, by the order", func(l rulestest.Lesson) rulestest.Lesson {
				return l.Moved(atFlapsUp, atPositiveRate)
			}, []string{"flaps-up out-of-order"}, "flaps-up", "Flaps up at 0:54 came before positive rate at 1:00.",
		},
		{
			"a positive rate far too late is told once, by the order", func(l rulestest.Lesson) rulestest.Lesson {
				return l.Moved(atPositiveRate, atRollOut)
			}, []string{"positive-rate out-of-order"}, "positive-rate", "",
		},
		{
			"flaps up before the positive rate and again after it", func(l rulestest.Lesson) rulestest.Lesson {
				return append(l, at("flaps-up", 50))
			}, []string{"no-flaps out-of-order"}, "no-flaps", `No flaps up before a positive rate: "flaps-up" was heard at 0:50, before positive rate at 0:54.`,
		},
		{
			"no positive rate is one fault and not two", func(l rulestest.Lesson) rulestest.Lesson { return l.Without(atPositiveRate) },
			[]string{"positive-rate not-heard"}, "", "",
		},
		{
			"going on after the stall warning", func(l rulestest.Lesson) rulestest.Lesson {
				return append(l, said("stall-warning", 37, callouts.TalkedAbout, ""), said("stall-warning", 38, callouts.Asked, ""), at("nose-up", 39), at("nose-up", 41))
			}, []string{"going-on out-of-order"}, "going-on",
			`Going on after the stall warning: "nose-up" was heard at 0:39, between "stall warning" at 0:38 and nose down at 0:42. A warning means recover.`,
		},
		{
			"raising the nose before the stall warning", func(l rulestest.Lesson) rulestest.Lesson {
				return append(l, at("nose-up", 37), at("stall-warning", 38))
			}, nil, "", "",
		},
	} {
		t.Run(c.says, func(t *testing.T) {
			l, _ := rulestest.Perfect(pl, 30)
			l = c.change(l)
			slices.SortStableFunc(l, func(a, b callouts.Call) int {
				switch {
				case a.Start < b.Start:
					return -1
				case a.Start > b.Start:
					return 1
				}
				return 0
			})
			a := judge(pl, l)
			wantTold(t, a, append([]string{}, c.told...)...)
			if c.reason == "" {
				return
			}
			for _, f := range a.Findings {
				if f.Step == c.step && f.Message == c.reason {
					return
				}
			}
			if r := result(t, a, c.step); r.Reason != c.reason {
				t.Errorf("reason is %q, want %q", r.Reason, c.reason)
			}
		})
	}
}

func TestAReactionIsMeasured(t *testing.T) {
	pl := procedure(t, recovery)
	l, _ := rulestest.Perfect(pl, 30)
	l = slices.Insert(l, atNoseDown, said("recover", 40, callouts.Ordered, ""))
	a := judge(pl, l)
	want := rules.Reaction{Phase: "Recovery", Cue: "recover", From: 40, To: 66, Last: "roll-out"}
	if len(a.Reactions) != 1 || a.Reactions[0] != want {
		t.Errorf("%+v, want %+v", a.Reactions, want)
	}
}

// Two explanations of the same price: of two like steps, one was called.
func TestTwoStepsAndOneCallAreUnsure(t *testing.T) {
	pl := procedure(t, `
id: twice
title: Twice
phases:
  - title: P
    steps:
      - {id: before, title: Before, call: power-back, reference: r}
      - {id: first, title: First trim, call: trim-set, reference: r}
      - {id: second, title: Second trim, call: trim-set, reference: r}
      - {id: after, title: After, call: full-power, reference: r}
`)
	l := rulestest.Lesson{at("power-back", 30), at("trim-set", 40), at("full-power", 50)}
	a := judge(pl, l)
	if len(a.Findings) != 1 || a.Findings[0].Kind != "unsure" {
		t.Fatalf("%+v", a.Findings)
	}
	m := a.Findings[0].Message
	for _, part := range []string{"Or else the call at 0:40 was this one", "was not heard; a second call", "would decide it"} {
		if !strings.Contains(m, part) {
			t.Errorf("%q does not say %q", m, part)
		}
	}
	// With the figures told apart there is nothing to be unsure of.
	wantTold(t, judge(pl, slices.Insert(l, 2, at("trim-set", 45))))
}

func TestAWaitIsForTheOneItIsOf(t *testing.T) {
	pl := procedure(t, recovery)
	if !pl.Procedure.Before("nose-down", "flaps-up") {
		t.Error("a step that waits for another comes after it")
	}
	if pl.Procedure.Before("full-power", "cruise-power") || pl.Procedure.Before("cruise-power", "full-power") {
		t.Error("alternatives follow each other")
	}
	for _, id := range []string{"full-power", "cruise-power"} {
		if !pl.Procedure.Before("nose-down", id) || !pl.Procedure.Before(id, "positive-rate") {
			t.Errorf("%s is out of the order", id)
		}
	}
	n := 0
	for _, l := range pl.Links() {
		if l.Phase == 1 {
			n++
		}
	}
	if n != 5 || len(pl.Listens("cruise-power")) != 1 || pl.Listens("cruise-power")[0] != pl.Listens("full-power")[0] {
		t.Errorf("%d links of the recovery, cruise power at %v", n, pl.Listens("cruise-power"))
	}
}
