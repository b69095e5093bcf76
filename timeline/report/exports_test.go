package report

import (
	"bytes"
	"encoding/csv"
	"html"
	"strconv"
	"strings"
	"testing"

	"github.com/asticode/go-astisub"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/timeline"
)

func TestCaptionsReadBackAsTheWordsOfTheLesson(t *testing.T) {
	tl := lesson()
	var b bytes.Buffer
	if err := WriteCaptions(&b, tl); err != nil {
		t.Fatal(err)
	}
	got, err := transcript.Read("x.vtt", &b)
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Utterances) != len(tl.Transcript) {
		t.Fatalf("%d utterances of %d", len(got.Utterances), len(tl.Transcript))
	}
	for i, u := range got.Utterances {
		if w := tl.Transcript[i]; u.Text != w.Text || u.Speaker != w.Speaker || u.Words[1].Start-w.Words[1].Start > 0.0006 {
			t.Errorf("%+v came back as %+v", w, u)
		}
	}
}

// cues are the chapters another reader, go-astisub, finds.
func cues(t *testing.T, tl *timeline.Timeline) []*astisub.Item {
	t.Helper()
	var b bytes.Buffer
	if err := WriteChapters(&b, tl); err != nil {
		t.Fatal(err)
	}
	s, err := astisub.ReadFromWebVTT(&b)
	if err != nil {
		t.Fatalf("%v\n%s", err, b.String())
	}
	return s.Items
}

// W3C WebVTT, "WebVTT file using only nested cues": of any two cues one lies in the
// other, or they do not overlap.
func TestChaptersAreTheManeuversWithTheirFindingsInside(t *testing.T) {
	tl := lesson()
	tl.Maneuvers[0].Findings = append(tl.Maneuvers[0].Findings,
		rules.Finding{Kind: "not-heard", At: ref(500.0), Message: "After its end --> & <b>."}, // drawn to the edge
		rules.Finding{Kind: "late", Message: "Without a moment."})
	tl.Maneuvers = append(tl.Maneuvers, rules.Assessment{Title: "Power-off stall", Start: 140, End: 150, Abandoned: &rules.Abandonment{At: 150}})
	items := cues(t, tl)
	if got := items[0].String(); got != "Slow flight, landing configuration" || items[0].StartAt.Seconds() != 9.5 || items[0].EndAt.Seconds() != 131 {
		t.Errorf("the first chapter is %q from %v to %v", got, items[0].StartAt, items[0].EndAt)
	}
	if last := items[len(items)-1]; last.String() != "Power-off stall (abandoned)" {
		t.Errorf("the last is %q", last)
	}
	all := ""
	for i, a := range items {
		all += a.String() + "\n"
		if a.EndAt <= a.StartAt {
			t.Errorf("%q lasts from %v to %v", a, a.StartAt, a.EndAt)
		}
		for _, b := range items[i+1:] {
			apart := a.EndAt <= b.StartAt || b.EndAt <= a.StartAt
			inside := a.StartAt <= b.StartAt && b.EndAt <= a.EndAt || b.StartAt <= a.StartAt && a.EndAt <= b.EndAt
			if !apart && !inside {
				t.Errorf("%q (%v to %v) and %q (%v to %v) overlap", a, a.StartAt, a.EndAt, b, b.StartAt, b.EndAt)
			}
		}
	}
	for _, f := range tl.Maneuvers[0].Findings {
		if f.At != nil && !strings.Contains(html.UnescapeString(all), f.Message) { // go-astisub leaves some of the escapes
			t.Errorf("no chapter says %q in\n%s", f.Message, all)
		}
	}
	if strings.Contains(all, "Without a moment.") {
		t.Error("a finding without a moment has one")
	}
}

// sheet is a table read back by encoding/csv, which reads RFC 4180.
func sheet(t *testing.T, b []byte, columns []string) []map[string]string {
	t.Helper()
	if n := bytes.Count(b, []byte("\n")); n != bytes.Count(b, []byte("\r\n")) {
		t.Error("lines do not end in CRLF (RFC 4180, section 2)")
	}
	rows, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(columns, rows[0]); d != "" {
		t.Fatalf("headings, -want +got:\n%s", d)
	}
	var out []map[string]string
	for _, r := range rows[1:] {
		m := map[string]string{}
		for i, c := range columns {
			m[c] = r[i]
		}
		out = append(out, m)
	}
	return out
}

func TestTheTableOfStepsReadsBackAsItWas(t *testing.T) {
	tl := lesson()
	tl.Calls[0].Heard = "=1+1, \"and\" clear"
	tl.Maneuvers[0].Steps[0].Call, tl.Maneuvers[0].Steps[0].At = ref(0), ref(tl.Calls[0].Start)
	tl.Recording.Starts, _ = timeline.ParseClock("14:32:05Z")
	var b bytes.Buffer
	if err := WriteStepsCSV(&b, tl); err != nil {
		t.Fatal(err)
	}
	rows := sheet(t, b.Bytes(), StepColumns)
	m := tl.Maneuvers[0]
	if len(rows) != len(m.Steps) {
		t.Fatalf("%d rows for %d steps", len(rows), len(m.Steps))
	}
	for i, r := range rows {
		s := m.Steps[i]
		number := func(column string) *float64 {
			if r[column] == "" {
				return nil
			}
			v, err := strconv.ParseFloat(r[column], 64)
			if err != nil {
				t.Errorf("%s is %q", column, r[column])
			}
			return &v
		}
		got := rules.StepResult{ID: r["step"], Title: r["step_title"], Verdict: rules.Verdict(r["verdict"]), Waived: rules.Waiver(r["waived"]),
			Prompted: r["prompted"] == "yes", At: number("at"), Value: number("value"), Confidence: *number("confidence"), Reason: r["reason"], Call: s.Call}
		if d := cmp.Diff(s, got, cmpopts.IgnoreUnexported(rules.StepResult{})); d != "" { // those are the judge's own
			t.Errorf("step %s, -want +got:\n%s", s.ID, d)
		}
		if r["phase"] != m.Phases[i] || r["maneuver"] != "1" || r["procedure"] != m.Procedure || *number("maneuver_start") != m.Start || r["abandoned"] != "no" {
			t.Errorf("row %v", r)
		}
	}
	if r := rows[0]; r["heard"] != "'=1+1, \"and\" clear" { // no formula of a spreadsheet
		t.Errorf("heard is %q", r["heard"])
	}
	if r := rows[6]; r["clock"] != "0:33" || r["time_of_day"] != "14:32:38Z" || r["file"] != "lesson.wav" || r["estimated"] != "no" || r["heard"] != "carved heed on" {
		t.Errorf("row %v", r)
	}
}

func TestTheTableOfCallsReadsBackAsItWas(t *testing.T) {
	tl := lesson()
	tl.Calls[3].Estimated = true
	tl.Calls[4].Speaker = "Smith, \"Jo\"\r\nJunior"
	var b bytes.Buffer
	if err := WriteCallsCSV(&b, tl); err != nil {
		t.Fatal(err)
	}
	rows := sheet(t, b.Bytes(), CallColumns)
	if len(rows) != len(tl.Calls) {
		t.Fatalf("%d rows for %d calls", len(rows), len(tl.Calls))
	}
	tl.Calls[4].Speaker = "Smith, \"Jo\" Junior" // a cell is one line
	for i, r := range rows {
		c := tl.Calls[i]
		number := func(s string) float64 {
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Errorf("%q is no number", s)
			}
			return v
		}
		got := callouts.Call{ID: r["call"], Start: number(r["start"]), End: c.End, Speaker: r["speaker"], Stance: callouts.Stance(r["stance"]),
			Unit: r["unit"], Confidence: number(r["confidence"]), Heard: r["heard"], Estimated: r["estimated"] == "yes", Utterance: c.Utterance}
		if r["value"] != "" {
			got.Value = ref(number(r["value"]))
		}
		if d := cmp.Diff(c, got, cmp.FilterPath(func(p cmp.Path) bool {
			return p.Last().String() == ".named" || p.Last().String() == ".bare"
		}, cmp.Ignore())); d != "" {
			t.Errorf("call %d, -want +got:\n%s", i, d)
		}
		if e := number(r["end"]); e-c.End > 0.0006 || c.End-e > 0.0006 {
			t.Errorf("call %d ends at %s", i, r["end"])
		}
	}
}

func TestEstimatedTimesAreMarked(t *testing.T) {
	tl := lesson()
	for name, estimated := range map[string]bool{"times of words": false, "times of lines": true} {
		for i := range tl.Calls {
			tl.Calls[i].Estimated = estimated
		}
		var table, page bytes.Buffer
		if err := Terminal(&table, tl, TerminalOptions{Width: 80}); err != nil {
			t.Fatal(err)
		}
		if err := HTML(&page, tl, Media{}, PageOptions{}); err != nil {
			t.Fatal(err)
		}
		for what, got := range map[string]bool{
			"~ before the time":     strings.Contains(table.String(), "~0:33  Carburettor heat on"),
			"what ~ means":          strings.Contains(table.String(), "A time with ~ before it is estimated."),
			"the page says so":      strings.Contains(page.String(), `<span class="due">estimated</span>`),
			"a verdict without one": strings.Contains(table.String(), "~-"),
		} {
			if want := estimated && what != "a verdict without one"; got != want {
				t.Errorf("%s: %s: %v", name, what, got)
			}
		}
		for _, line := range strings.Split(table.String(), "\n") {
			if len([]rune(line)) > 80 {
				t.Errorf("%s: a line of %d columns: %s", name, len([]rune(line)), line)
			}
		}
	}
}

func TestItIsSaidWhereTheSoundWent(t *testing.T) {
	for sent, want := range map[string]string{
		"":             "The audio stayed on the machine that made this debrief.",
		"ears.example": "The speech in it was sent to ears.example to be recognised.",
	} {
		tl := lesson()
		tl.Recording.SentTo = sent
		var table, page bytes.Buffer
		if err := Terminal(&table, tl, TerminalOptions{Width: 80}); err != nil {
			t.Fatal(err)
		}
		if err := HTML(&page, tl, Media{}, PageOptions{}); err != nil {
			t.Fatal(err)
		}
		for name, text := range map[string]string{"table": table.String(), "page": page.String()} {
			text = strings.Join(strings.Fields(text), " ")
			if !strings.Contains(text, want) || sent != "" && strings.Contains(text, "stayed on the machine") {
				t.Errorf("sent to %q: the %s does not say %q", sent, name, want)
			}
		}
		if got := written(t, tl); (sent != "") != (got["recording"].(map[string]any)["sent_to"] == sent) {
			t.Errorf("sent to %q: the JSON says %v", sent, got["recording"])
		}
	}
}
