package desk

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"html"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/google/go-cmp/cmp"

	"sidetone/rules"
	"sidetone/timeline"
	"sidetone/timeline/logbook"
)

var markup = regexp.MustCompile(`(?s)<(script|style)>.*?</(script|style)>|<[^>]*>`)

// read is the text of a page as a reader sees it.
func read(page []byte) string {
	return strings.Join(strings.Fields(html.UnescapeString(markup.ReplaceAllString(string(page), " "))), " ")
}

// maneuver is the only one of a debrief.
func maneuver(t *testing.T, debrief json.RawMessage) rules.Assessment {
	t.Helper()
	var tl timeline.Timeline
	if err := json.Unmarshal(debrief, &tl); err != nil || len(tl.Maneuvers) != 1 {
		t.Fatalf("%d maneuvers, %v", len(tl.Maneuvers), err)
	}
	return tl.Maneuvers[0]
}

// rowOf is the row of a step in the table that is handed on.
func rowOf(t *testing.T, c *client, id, step string) map[string]string {
	t.Helper()
	_, _, b := c.get("/lessons/" + id + "/export.csv")
	rows, err := csv.NewReader(strings.NewReader(string(b))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows[1:] {
		row := map[string]string{}
		for i, column := range rows[0] {
			row[column] = r[i]
		}
		if row["step"] == step {
			return row
		}
	}
	t.Fatalf("no row of %s", step)
	return nil
}

func on(step string) Fact { return Fact{Kind: "verdict", Maneuver: "slow-flight-clean/1", Step: step} }

func overruled(author, step, verdict, reason string) Fact {
	f := on(step)
	f.Author, f.Hand, f.Verdict, f.Reason = author, "overrule", verdict, reason
	return f
}

// The machine did not hear carb heat on, and heard another airspeed than is asked for.
func TestAPersonsVerdictCountsEverywhere(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	heard := 0
	for _, s := range maneuver(t, c.state(id).Timeline).Steps {
		if s.Verdict == rules.Heard {
			heard++
		}
	}
	listed := func() string {
		var all []Listed
		if _, _, b := c.get("/lessons"); json.Unmarshal(b, &all) != nil || len(all) != 1 {
			t.Fatalf("%s", b)
		}
		return all[0].Result
	}
	chapters := func() string { _, _, b := c.get("/lessons/" + id + "/export.vtt?chapters=1"); return string(b) }
	page := func() string { _, _, b := c.get("/lessons/" + id + "/export.html"); return read(b) }
	due := maneuver(t, c.state(id).Timeline).Findings[0].At
	if m := maneuver(t, c.state(id).Timeline); len(m.Findings) != 2 || !strings.Contains(chapters(), "Carb heat on: not heard") {
		t.Fatalf("the lesson is no test: %+v", m.Findings)
	}

	s := c.post(id, overruled("Robin", "carb-heat-on", "heard", "she mumbled"), 201)
	m := maneuver(t, s.Timeline)
	want := rules.Person{Author: "Robin", How: rules.Overruled, Was: rules.NotHeard, Reason: "she mumbled", At: due}
	i := slices.IndexFunc(m.Steps, func(s rules.StepResult) bool { return s.ID == "carb-heat-on" })
	if p := m.Steps[i].Person; p == nil || !cmp.Equal(*p, want) || len(m.Findings) != 1 {
		t.Errorf("overruled to heard: %+v, to talk about %+v", p, m.Findings)
	}
	if got := listed(); !strings.HasPrefix(got, fmt.Sprint(heard+1)+" of "+fmt.Sprint(heard+2)+" calls as they should be") || !strings.HasSuffix(got, "1 overruled by people") {
		t.Errorf("the list says %s", got)
	}
	if text := page(); !strings.Contains(text, fmt.Sprint(heard+1)+" heard") || strings.Contains(text, "1 not heard") || !strings.Contains(text, "Carb heat on heard "+rules.Clock(*due)+" was due was: not heard, overruled by Robin: “she mumbled”") ||
		!strings.Contains(text, "To talk about Important off value") {
		t.Errorf("the page says %s", text)
	}
	if strings.Contains(chapters(), "Carb heat on") {
		t.Errorf("a chapter is left: %s", chapters())
	}
	row := rowOf(t, c, id, "carb-heat-on")
	for column, want := range map[string]string{"verdict": "heard", "machine_verdict": "not-heard", "person_verdict": "heard", "person_reason": "she mumbled", "person": "Robin"} {
		if row[column] != want {
			t.Errorf("the table says %s %q", column, row[column])
		}
	}

	s = c.post(id, overruled("Robin", "trim", "late", "after the turn"), 201)
	if m = maneuver(t, s.Timeline); len(m.Findings) != 2 || m.Findings[1].Kind != "late" || m.Findings[1].Step != "trim" ||
		m.Findings[1].Message != "Trim set at 0:45: late, as Robin says: “after the turn”" || m.Findings[1].Severity != rules.Important {
		t.Errorf("overruled to late, to talk about are %+v", m.Findings)
	}
	if got := listed(); !strings.Contains(got, "1 late") {
		t.Errorf("the list says %s", got)
	}
	if text := page(); !strings.Contains(text, "1 late") || !strings.Contains(text, "Trim set late 0:45 was: heard, overruled by Robin: “after the turn”") {
		t.Errorf("the page says %s", text)
	}
	if !strings.Contains(chapters(), "late: Trim set at 0:45") {
		t.Errorf("no chapter: %s", chapters())
	}
	if err := checkDebrief(s.Timeline); err != nil {
		t.Error(err)
	}
	f := on("trim")
	f.Kind, f.Text = "note", "softly"
	c.post(id, f, 201)
	if notes := rowOf(t, c, id, "trim")["notes"]; notes != "Robin: softly" {
		t.Errorf("the table's notes are %q", notes)
	}
	if s = c.post(id, Fact{Kind: "undo", Undo: num(1)}, 201); len(maneuver(t, s.Timeline).Findings) != 3 {
		t.Errorf("taken back, to talk about are %+v", maneuver(t, s.Timeline).Findings)
	}
}

func TestALineCountedOtherwiseIsPutRightWhenTheLessonIsOpened(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	if err := c.desk.book.Summarise(t.Context(), 1, nil, "counted otherwise"); err != nil {
		t.Fatal(err)
	}
	c.state(id)
	if _, _, b := c.get("/lessons"); strings.Contains(string(b), "counted otherwise") || !strings.Contains(string(b), "as they should be") {
		t.Errorf("%s", b)
	}
}

func TestWhoseVerdictCounts(t *testing.T) {
	agrees := func(author string) Fact { f := on("carb-heat-on"); f.Author, f.Hand = author, "accept"; return f }
	again := func(author string) Fact { f := on("carb-heat-on"); f.Author, f.Hand = author, "listen-again"; return f }
	says := func(author, v string) Fact { return overruled(author, "carb-heat-on", v, "so it was") }
	for name, c := range map[string]struct {
		hands []Fact
		want  rules.Verdict
		by    string
	}{
		"nobody's: the machine's":                             {nil, rules.NotHeard, ""},
		"the student's, while the instructor says nothing":    {[]Fact{says("Sam", "late")}, rules.Late, "Sam"},
		"the instructor's, though the student wrote since":    {[]Fact{says("Robin", "heard"), says("Sam", "late")}, rules.Heard, "Robin"},
		"the instructor's, though the student wrote before":   {[]Fact{says("Sam", "late"), says("Robin", "heard")}, rules.Heard, "Robin"},
		"the machine's, when the instructor agrees with it":   {[]Fact{says("Sam", "late"), agrees("Robin")}, rules.NotHeard, ""},
		"the instructor's, though somebody wants to listen":   {[]Fact{says("Robin", "heard"), again("Sam")}, rules.Heard, "Robin"},
		"the machine's, when the one who overruled only asks": {[]Fact{says("Robin", "heard"), again("Robin")}, rules.NotHeard, ""},
		"of others the last":                                  {[]Fact{says("Sam", "late"), says("Kim", "heard")}, rules.Heard, "Kim"},
		"the machine's, when a person says the same":          {[]Fact{says("Robin", "not-heard")}, rules.NotHeard, ""},
	} {
		t.Run(name, func(t *testing.T) {
			d := start(t, t.TempDir(), nil)
			id := d.lesson("sound")
			d.post(id, Fact{Kind: "cover", Author: "Sam", Cover: &logbook.Cover{Instructor: ptr("Robin")}}, 201)
			for _, f := range c.hands {
				d.post(id, f, 201)
			}
			for _, s := range maneuver(t, d.state(id).Timeline).Steps {
				if s.ID != "carb-heat-on" {
					continue
				}
				by := ""
				if s.Person != nil {
					by = s.Person.Author
				}
				if s.Verdict != c.want || by != c.by {
					t.Errorf("%s by %q", s.Verdict, by)
				}
			}
		})
	}
}

func TestAnAddedCallIsNobodysHearing(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	due := maneuver(t, c.state(id).Timeline).Findings[0].At
	at := 26.0
	s := c.post(id, Fact{Kind: "call", Callout: "carb-heat-on", At: &at, Speaker: "student"}, 201)
	want := rules.Person{Author: "Robin", How: rules.Added, Was: rules.NotHeard, At: due}
	for _, step := range maneuver(t, s.Timeline).Steps {
		if step.ID == "carb-heat-on" && (step.Person == nil || !cmp.Equal(*step.Person, want) || step.Reason != "Added by Robin at 0:26.") {
			t.Errorf("the debrief says %+v, %q", step.Person, step.Reason)
		}
	}
	_, _, page := c.get("/lessons/" + id + "/export.html")
	if text := read(page); !strings.Contains(text, "was: not heard, call added by Robin") || strings.Contains(text, "Heard at 0:26") || strings.Contains(string(page), "<q class=\"heard\"></q>") {
		t.Errorf("the page says %s", text)
	}
	row := rowOf(t, c, id, "carb-heat-on")
	for column, want := range map[string]string{"verdict": "heard", "machine_verdict": "not-heard", "person": "Robin", "person_reason": "added the call", "confidence": "", "heard": "", "reason": "Added by Robin at 0:26."} {
		if row[column] != want {
			t.Errorf("the table says %s %q", column, row[column])
		}
	}
	if _, _, calls := c.get("/lessons/" + id + "/export.csv?calls=1"); !strings.Contains(string(calls), "carb-heat-on,26,26,0:26,no,,slow flight.mov,26,student,done,,,,,Robin\r\n") {
		t.Errorf("the table of calls says %s", calls)
	}
}

func addedCallShown(t *testing.T, one context.Context) {
	c, id, ctx := sit(t, one)
	at := 26.0
	c.post(id, Fact{Kind: "call", Callout: "carb-heat-on", At: &at, Speaker: "student"}, 201)
	seen(t, ctx, `document.querySelector('[data-step="carb-heat-on"]').textContent.includes("call added by Robin; the machine: not heard")`)
	seen(t, ctx, `document.querySelector('[data-said="carb-heat-on"]').textContent.includes("added by Robin") && !document.querySelector('[data-said="carb-heat-on"] q')`)
	do(t, ctx, chromedp.Navigate(c.srv.URL+"/lessons/"+id+"/print"))
	seen(t, ctx, `document.querySelector('[data-step="carb-heat-on"]')?.textContent.includes("call added by Robin; the machine: not heard") ?? false`)
}

func countedShown(t *testing.T, one context.Context) {
	c, id, ctx := sit(t, one)
	counts := `[document.querySelector(".card .tally").textContent, document.getElementById("tab-talk").textContent, document.querySelectorAll(".find").length].join(" | ")`
	seen(t, ctx, counts+` === "11 heard, 1 not heard, 1 off value | To talk about (2) | 2"`)
	c.post(id, overruled("Robin", "carb-heat-on", "heard", "mumbled"), 201)
	seen(t, ctx, counts+` === "12 heard, 1 off value | To talk about (1) | 1"`)
	c.post(id, overruled("Robin", "trim", "late", "after the turn"), 201)
	seen(t, ctx, counts+` === "11 heard, 1 late, 1 off value | To talk about (2) | 2"`)
	seen(t, ctx, `document.getElementById("panel-talk").textContent.includes("late, as Robin says: “after the turn”")`)
	seen(t, ctx, `(() => { const e = document.querySelector('[data-step="trim"]'); return e.querySelector(".struck").textContent.endsWith("heard") && e.textContent.includes("“after the turn”") })()`)
	do(t, ctx, chromedp.Navigate(c.srv.URL+"/lessons/"+id+"/print"))
	seen(t, ctx, `document.querySelector(".card .tally")?.textContent === "11 heard, 1 late, 1 off value" && document.querySelectorAll(".sheet-find").length === 2`)
}
