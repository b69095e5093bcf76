package report

import (
	"strings"
	"testing"

	"sidetone/rules"
	"sidetone/timeline"
)

func TestWhatAPersonDecidedIsToldWithTheirName(t *testing.T) {
	for name, c := range map[string]struct {
		person *rules.Person
		want   string
	}{
		"the machine's own verdict says nothing":           {nil, ""},
		"overruled, with the reason":                       {&rules.Person{Author: "Robin", How: rules.Overruled, Was: rules.OutOfOrder, Reason: "I asked\nfor it"}, "was: out of order, overruled by Robin: “I asked for it”"},
		"a call that was added has no words to be quoted":  {&rules.Person{Author: "Robin", How: rules.Added, Was: rules.NotHeard}, "was: not heard, call added by Robin"},
		"a maneuver that is only there by what people say": {&rules.Person{Author: "Sam", How: rules.Added}, "the machine did not find this maneuver, call added by Sam"},
	} {
		if got := personLine(rules.StepResult{Verdict: rules.Heard, Person: c.person}); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}

func TestAnAddedCallIsNowhereInEmptyQuotes(t *testing.T) {
	tl := lesson()
	s := &tl.Maneuvers[0].Steps[0]
	if s.Call == nil {
		t.Fatal("the step rests on no call")
	}
	c := &tl.Calls[*s.Call]
	c.AddedBy, c.Heard, c.Confidence = "Robin", "", 1
	s.Person, s.Reason = &rules.Person{Author: "Robin", How: rules.Added, Was: rules.NotHeard}, "Added by Robin at 0:09."
	bare := *tl
	bare.Maneuvers = nil
	for name, text := range map[string]string{
		"on a terminal": terminalOf(t, tl), "on a terminal without a maneuver": terminalOf(t, &bare),
		"on the page": htmlOf(t, tl, Media{}), "on the page without a maneuver": htmlOf(t, &bare, Media{}),
	} {
		if strings.Contains(text, `""`) && !strings.Contains(name, "page") || strings.Contains(text, "“”") || strings.Contains(text, "></q>") || !strings.Contains(text, "dded by Robin") {
			t.Errorf("%s it says %s", name, shown(text))
		}
	}
}

func terminalOf(t *testing.T, tl *timeline.Timeline) string {
	t.Helper()
	var b strings.Builder
	if err := Terminal(&b, tl, TerminalOptions{}); err != nil {
		t.Fatal(err)
	}
	return b.String()
}
