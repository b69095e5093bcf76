package report

import (
	"regexp"
	"strings"
	"testing"

	"github.com/mattn/go-runewidth"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/timeline"
)

func terminal(t *testing.T, tl *timeline.Timeline, opt TerminalOptions) string {
	t.Helper()
	var b strings.Builder
	if err := Terminal(&b, tl, opt); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// words of s with the wrapping undone.
func flat(s string) string { return strings.Join(strings.Fields(s), " ") }

// plainlyHeard is a reason that says nothing a row does not say.
var plainlyHeard = regexp.MustCompile(`^Heard at \d+:\d\d\.$`)

func TestTerminalSaysEverything(t *testing.T) {
	tl := lesson()
	out := terminal(t, tl, TerminalOptions{Width: 80})
	text := flat(out)
	for _, s := range tl.Maneuvers[0].Steps {
		if told := strings.Contains(text, flat(s.Reason)); told != (asked(s) && !plainlyHeard.MatchString(s.Reason)) {
			t.Errorf("that the reason %q is told is %v", s.Reason, told)
		}
	}
	for _, f := range tl.Maneuvers[0].Findings {
		if !strings.Contains(text, flat(f.Message)) || !strings.Contains(text, f.Reference) {
			t.Errorf("the finding %q is not told with its reference", f.Message)
		}
	}
	for _, line := range []string{
		` 0:33 Carburettor heat on "carved heed on" heard`,
		` > 0:36 Trim "trim set" out of order Trim set at 0:36 came before power back at 0:39.`,
		` > - Carburettor heat cold - not heard`,
		` > 1:09 Target airspeed called "airspeed seven eight" off value = 78 kt 78 kt was called at 1:09;`,
		` > 2:09 Trim for level flight "mumble mumble some unsure: listen here`,
		`13 heard, 1 not heard, 2 out of order, 1 late, 1 off value, 1 unsure`,
		`Not called, and not required: Checks complete, Gauges green.`,
		`Note: The two channels are copies of each other`,
		`Safety, 1:35, not heard Carburettor heat cold was not heard`,
	} {
		if !strings.Contains(text, flat(line)) {
			t.Errorf("missing: %s", line)
		}
	}
	if !strings.HasSuffix(text, flat(Caution+stayed)) {
		t.Error("the caution is not the last thing said")
	}
	if n, s := strings.Index(out, "Note:"), strings.Index(out, "Verdict"); n < 0 || n > s {
		t.Error("notes about the recording come first")
	}
}

func TestTerminalListsFindingsBySeverityThenTime(t *testing.T) {
	out := terminal(t, lesson(), TerminalOptions{})
	from := 0
	for _, head := range []string{"To talk about", "Safety, 1:35", "Safety, 1:48", "Important, 0:36", "Important, 1:09", "Note, 0:53", "Note, 1:39", "Note, 2:09"} {
		i := strings.Index(out[from:], head)
		if i < 0 {
			t.Fatalf("%q does not come after what is before it", head)
		}
		from += i
	}
}

func TestTerminalKeepsToItsColumns(t *testing.T) {
	wide := lesson()
	m := &wide.Maneuvers[0]
	m.Title = strings.Repeat("低速飛行", 20)
	m.Steps[0].Title = "低速飛行の着陸形態と、とても長い名前の手順"
	m.Steps[1].Title = strings.Repeat("x", 200)
	m.Steps[2].Reason = strings.Repeat("飛", 150)
	m.Findings[0].Message = "👩‍✈️ " + strings.Repeat("é", 100) + strings.Repeat("字", 60)
	wide.Calls[0].Heard = strings.Repeat("フラップ十", 12)
	wide.Recording.File = strings.Repeat("lesson", 40) + ".wav"
	wide.Maneuvers = append(wide.Maneuvers, wide.Maneuvers[0])
	long := lesson()
	for i := range long.Maneuvers[0].Steps {
		if at := long.Maneuvers[0].Steps[i].At; at != nil {
			*at += 7200
		}
	}
	long.Maneuvers[0].End += 7200
	empty := lesson()
	empty.Maneuvers = nil
	empty.Calls[0].Heard = strings.Repeat("longwinded ", 30)
	for name, tl := range map[string]*timeline.Timeline{"the lesson": lesson(), "wide runes": wide, "past two hours": long, "no maneuver": empty} {
		for _, width := range []int{0, 1, 60, 61, 72, 80, 100, 200} {
			limit := max(width, 60)
			if width == 0 {
				limit = 80
			}
			for l := range strings.Lines(terminal(t, tl, TerminalOptions{Width: width})) {
				if n := runewidth.StringWidth(strings.TrimSuffix(l, "\n")); n > limit {
					t.Errorf("%s at %d: %d columns: %s", name, width, n, l)
				}
			}
		}
	}
}

func TestColourOnlyAdds(t *testing.T) {
	tl := lesson()
	without := terminal(t, tl, TerminalOptions{})
	with := terminal(t, tl, TerminalOptions{Colour: true})
	if strings.Contains(without, "\x1b") {
		t.Error("ANSI codes without colour")
	}
	if !strings.Contains(with, red+"not heard\x1b[0m") {
		t.Error("no colour with colour")
	}
	bare := with
	for _, code := range []string{bold, faint, red, green, yellow, blue, "\x1b[0m"} {
		bare = strings.ReplaceAll(bare, code, "")
	}
	if bare != without {
		t.Error("colour changes more than colour")
	}
}

func TestTerminalIsSafeFromHostileWords(t *testing.T) {
	tl := lesson()
	evil := "carb\x1b]0;owned\x07 heat\x1b[2J\u009b31m on\u202eno\r\nfake line\x00"
	tl.Recording.File, tl.Notes[0], tl.Maneuvers[0].Title = evil, evil, evil
	tl.Maneuvers[0].Phases[0] = evil
	for i := range tl.Calls {
		tl.Calls[i].Heard, tl.Calls[i].Unit, tl.Calls[i].ID = evil, evil, evil
	}
	for i := range tl.Maneuvers[0].Steps {
		s := &tl.Maneuvers[0].Steps[i]
		s.Title, s.Reason, s.Verdict = evil, evil, rules.Verdict(evil)
	}
	for i := range tl.Maneuvers[0].Findings {
		f := &tl.Maneuvers[0].Findings[i]
		f.Message, f.Reference, f.Severity = evil, evil, rules.Severity(evil)
	}
	tl.Maneuvers[0].Remarks = []string{evil}
	empty, short := *tl, *tl
	empty.Maneuvers = nil
	short.Maneuvers = []rules.Assessment{{Title: evil, Abandoned: &rules.Abandonment{Reason: evil}, Remarks: []string{evil}}}
	for _, tl := range []*timeline.Timeline{tl, &empty, &short} {
		out := terminal(t, tl, TerminalOptions{})
		for _, r := range out {
			if r != '\n' && (r < ' ' || r >= 0x7f && r < 0xa0 || r == 0x202e) {
				t.Fatalf("%U reached the terminal", r)
			}
		}
		if strings.Contains(out, "\nfake line") {
			t.Error("words from the recording began a line of their own")
		}
	}
}

func TestTerminalWithoutAManeuver(t *testing.T) {
	calls := lesson()
	calls.Maneuvers = nil
	out := terminal(t, calls, TerminalOptions{})
	for _, want := range []string{
		"No maneuver was found.", "22 callouts were heard", "0:09 clearing turns: \"okay, clearing turn left first\"",
		"0:53 flaps: \"flaps thirty, correction, twenty\"", "and 10 more", "0:28 trim set (talked about): \"last time you forgot", "--procedure", Caution,
	} {
		if !strings.Contains(flat(out), want) {
			t.Errorf("missing %q in\n%s", want, out)
		}
	}
	listed, _, _ := strings.Cut(out, "What to try")
	if n := strings.Count(listed, ": \""); n != emptySample {
		t.Errorf("%d calls are listed, want %d", n, emptySample)
	}

	talk := lesson()
	talk.Maneuvers, talk.Calls = nil, []callouts.Call{}
	if out := flat(terminal(t, talk, TerminalOptions{})); !strings.Contains(out, "and no callout among them") || !strings.Contains(out, `0:03 "right, that was a nice climb`) {
		t.Errorf("words without calls: %s", out)
	}
	silent := &timeline.Timeline{Recording: timeline.Recording{File: "lesson.wav", Duration: 60, Channels: 1}}
	if out := flat(terminal(t, silent, TerminalOptions{})); !strings.Contains(out, "No words were heard") {
		t.Errorf("silence: %s", out)
	}
}

func TestAReasonThatOnlySaysWhatTheRowSaysIsLeftOut(t *testing.T) {
	tl := lesson()
	steps := tl.Maneuvers[0].Steps
	for _, c := range []struct{ reason, want string }{
		{"Heard at 0:47: 10 deg.", "Heard at 0:47: 10 deg."},
		{"Heard at 0:47: 10°.", ""},
		{"Heard at 0:47.", ""},
		{"Heard at 0:47: 10°. Recovery took 28 seconds.", "Recovery took 28 seconds."},
		{"Heard at 0:47: 10°, answering the order at 0:45.", "Heard at 0:47: 10°, answering the order at 0:45."},
		{"Heard at 0:48.", "Heard at 0:48."},
		{"Came late.", "Came late."},
	} {
		for _, s := range steps {
			if s.ID == "flaps-ten" {
				s.Reason = c.reason
				if got := more(tl, s); got != c.want {
					t.Errorf("of %q is left %q, want %q", c.reason, got, c.want)
				}
			}
		}
	}
}

func TestClockRoundsDown(t *testing.T) {
	for s, want := range map[float64]string{0: "0:00", -1: "0:00", 59.999: "0:59", 60: "1:00", 404.9: "6:44", 3599.5: "59:59", 3600: "1:00:00", 7384: "2:03:04"} {
		if got := rules.Clock(s); got != want {
			t.Errorf("%g s is %s, want %s", s, got, want)
		}
	}
}

func TestFiguresReadAsPilotsWriteThem(t *testing.T) {
	for _, c := range []struct {
		quantity callouts.Quantity
		value    float64
		want     string
	}{
		{callouts.Heading, 5, "005°"}, {callouts.Heading, 270, "270°"}, {callouts.Flaps, 5, "5°"}, {callouts.Flaps, 0, "0°"},
		{callouts.Altitude, 3500, "3,500 ft"}, {callouts.Altitude, 12500, "12,500 ft"}, {callouts.Altitude, 900, "900 ft"},
		{callouts.RPM, 1700, "1,700 rpm"}, {callouts.Airspeed, 65, "65 kt"}, {callouts.Frequency, 122.1, "122.1 MHz"}, {callouts.Count, 1000, "1000"},
	} {
		call := &callouts.Call{Unit: c.quantity.Unit(), Readings: []callouts.Reading{{Quantity: c.quantity, Value: c.value}}}
		if got := figure(call, rules.StepResult{Value: &c.value}); got != c.want {
			t.Errorf("%s %g is written %s, want %s", c.quantity, c.value, got, c.want)
		}
	}
	if got := figure(nil, rules.StepResult{Value: ref(65.0)}); got != "65" {
		t.Errorf("without a call: %s", got)
	}
}
