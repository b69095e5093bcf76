package report

import (
	"strings"
	"testing"

	"sidetone/rules"
	"sidetone/timeline"
)

const givenUp = `Abandoned at 0:41 with "knock it off", after power back at 0:39: 2 of 14 calls were heard.`

// afresh is the lesson with an attempt given up before the one that is flown, of
// which only a part was to be judged.
func afresh() *timeline.Timeline {
	tl := lesson()
	whole := tl.Maneuvers[0]
	short := rules.Assessment{Procedure: whole.Procedure, Title: "First try", Start: 33.6, End: 41, Phases: whole.Phases,
		Abandoned: &rules.Abandonment{At: 41, Reason: givenUp}, Remarks: []string{"Every explanation was not tried."}}
	for _, s := range whole.Steps {
		if s.ID != "carb-heat-on" && s.ID != "power-back" {
			s = rules.StepResult{ID: s.ID, Title: s.Title, Verdict: rules.NotApplicable, Waived: rules.NotReached, Reason: "The attempt was abandoned before it."}
		}
		short.Steps = append(short.Steps, s)
	}
	tl.Maneuvers = []rules.Assessment{short, whole}
	tl.Judged = &timeline.Span{From: 30, To: 135}
	return tl
}

func TestAnAbandonedAttemptIsOneLine(t *testing.T) {
	tl := afresh()
	if err := schema(t).Validate(written(t, tl)); err != nil {
		t.Error(err)
	}
	m := written(t, tl)["maneuvers"].([]any)[0].(map[string]any)
	if at := m["abandoned"].(map[string]any)["at"]; at == nil || m["steps"].([]any)[10].(map[string]any)["waived"] != "abandoned" {
		t.Errorf("%v", m)
	}
	table := terminal(t, tl, TerminalOptions{})
	lines := strings.Split(table, "\n")
	for i, l := range lines {
		if strings.HasPrefix(l, "First try") {
			if got := flat(strings.Join(lines[i+1:i+4], " ")); got != givenUp+" Note: Every explanation was not tried." {
				t.Errorf("under the title stands %q", got)
			}
		}
	}
	page := htmlOf(t, tl, withSound(tl))
	first, rest, _ := strings.Cut(page, `id="maneuver-2"`)
	_, first, _ = strings.Cut(first, `id="maneuver-1"`)
	if !strings.Contains(shown("<"+first), "1 First try 0:33 to 0:41 "+givenUp+" 0:41 Every explanation was not tried.") {
		t.Errorf("%s", shown("<"+first))
	}
	for _, no := range []string{"class=\"step", "class=\"strip", "textarea", "To talk about"} {
		if strings.Contains(first, no) {
			t.Errorf("an abandoned attempt has %s", no)
		}
	}
	if !strings.Contains(rest, "textarea") || !strings.Contains(shown(page), "1 First try 0:33 to 0:41 abandoned at 0:41") {
		t.Error("the other maneuver is gone, or the list does not tell")
	}
}

func TestAFindingOfAnAbandonedAttemptIsTold(t *testing.T) {
	tl := afresh()
	tl.Maneuvers[0].Findings = []rules.Finding{{Step: "power-back", Kind: "out-of-order", Severity: rules.Safety, At: ref(39.8), Message: "Too soon.", Reference: "POH"}}
	if out := flat(terminal(t, tl, TerminalOptions{})); !strings.Contains(out, "Safety, 0:39, out of order, First try Too soon.") {
		t.Errorf("%s", out)
	}
	if out := shown(htmlOf(t, tl, Media{})); !strings.Contains(out, "To talk about Safety out of order Too soon. POH") {
		t.Errorf("%s", out)
	}
}

func TestThePartThatWasJudgedIsSaid(t *testing.T) {
	const says = "Only 0:30 to 2:15 was judged."
	if out := flat(terminal(t, afresh(), TerminalOptions{})); !strings.Contains(out, "Note: "+says) {
		t.Errorf("%s", out)
	}
	if out := shown(htmlOf(t, afresh(), Media{})); !strings.Contains(out, says) {
		t.Errorf("%s", out)
	}
	if out := flat(terminal(t, lesson(), TerminalOptions{})); strings.Contains(out, "was judged") {
		t.Error("said of a whole recording")
	}
}
