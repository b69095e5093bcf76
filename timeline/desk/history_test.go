package desk

import (
	"bytes"
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"github.com/google/uuid"

	"sidetone/timeline/logbook"
)

func num(n int) *FactNumber { f := FactNumber(n); return &f }

// tell is what the history says last.
func tell(s *State) Change { return s.History[len(s.History)-1] }

func TestTheHistoryIsWrittenInPlainSentences(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	carve, at := wordAt(t, c.state(id), "carve"), 39.5
	on := func(f Fact) Fact { f.Maneuver, f.Step = "slow-flight-clean/1", "trim"; return f }
	for _, f := range []struct {
		change         Fact
		summary, short string
	}{
		{on(Fact{Kind: "verdict", Hand: "overrule", Verdict: "late", Reason: "I said \"trim now\"\nand <b>waited</b>."}),
			"Robin overruled the machine on “Trim set” at 0:45 in Slow flight, clean: late, because “I said \"trim now\" and <b>waited</b>.”", "Overruled Trim set"},
		{on(Fact{Kind: "verdict", Hand: "accept"}), "Robin agreed on “Trim set” at 0:45 in Slow flight, clean.", "Agreed on Trim set"},
		{on(Fact{Kind: "verdict", Hand: "listen-again"}), "Robin marked “come back to this” on “Trim set” at 0:45 in Slow flight, clean.", "Marked Trim set “come back to this”"},
		{on(Fact{Kind: "note", Text: "softly"}), "Robin wrote a note on “Trim set” at 0:45 in Slow flight, clean: “softly”.", "Note on Trim set: “softly”"},
		{Fact{Kind: "note", At: &at, Text: "Where is the glider?"}, "Robin wrote a note at 0:39: “Where is the glider?”", "Note at 0:39: “Where is the glider?”"},
		{word(carve, "carb"), "Robin wrote “carb” for “carve” at 0:25.", "Wrote “carb” for “carve”"},
		{word(carve, "carve"), "Robin let “carve” at 0:25 stand as it was heard.", "Wrote “carve” for “carve”"},
		{word(carve, ""), "Robin took out the word “carve” at 0:25.", "Took out the word “carve”"},
		{Fact{Kind: "work-on", Text: "Say it: \"power, pitch, trim\"."}, "Robin set what to work on next: “Say it: \"power, pitch, trim\".”.", "Work on next: “Say it: \"power, pitch, trim\".”"},
		{Fact{Kind: "work-on", Work: num(9), Done: true}, "Robin ticked off what was to be worked on: “Say it: \"power, pitch, trim\".”.", "Ticked off “Say it: \"power, pitch, trim\".”"},
		{Fact{Kind: "cover", Cover: &logbook.Cover{Student: ptr("Kim")}}, "Robin put the cover right: student “Kim”.", "Cover put right: student “Kim”"},
		{Fact{Kind: "undo", Undo: num(1)}, "Robin took back: Overruled Trim set.", "Took back: Overruled Trim set"},
		{Fact{Kind: "undo", Undo: num(12), Author: "Sam"}, "Sam brought back what Robin did: Overruled Trim set.", "Brought back: Overruled Trim set"},
		{Fact{Kind: "undo", Undo: num(13), Author: "Sam"}, "Sam took back what Robin did: Overruled Trim set.", "Took back: Overruled Trim set"},
	} {
		f.summary = strings.ReplaceAll(f.summary, ".”.", ".”") // a sentence ends once
		if h := tell(c.post(id, f.change, 201)); h.Summary != f.summary || h.Short != f.short {
			t.Errorf("%s %s:\n says %s | %s\nwant %s | %s", f.change.Kind, f.change.Hand, h.Summary, h.Short, f.summary, f.short)
		}
	}
}

// Robin wrote 1 and 3, Sam 2.
func TestOnlyOnesOwnLastChangeIsTakenBackBlindly(t *testing.T) {
	at := 1.0
	write := func(who string) Fact { return Fact{Kind: "note", Author: who, At: &at, Text: "by " + who} }
	last := func(who string, n int) Fact { return Fact{Kind: "undo", Author: who, Undo: num(n), Last: true} }
	plain := func(who string, n int) Fact { return Fact{Kind: "undo", Author: who, Undo: num(n)} }
	for name, c := range map[string]struct {
		first []Fact
		ask   Fact
		says  string // "": it is taken back
	}{
		"one's own last change":                      {nil, last("Robin", 3), ""},
		"one's own last, though another wrote since": {nil, last("Sam", 2), ""},
		"an earlier one of one's own":                {nil, last("Robin", 1), "not your last change"},
		"an earlier one, the last being taken back":  {[]Fact{last("Robin", 3)}, last("Robin", 1), ""},
		"another's last change":                      {nil, last("Sam", 3), "by Robin"},
		"another's, by one who wrote nothing":        {nil, last("Kim", 3), "by Robin"},
		"the same again":                             {[]Fact{last("Sam", 2)}, last("Sam", 2), "nothing of yours is left"},
		"another's, chosen in the history":           {nil, plain("Sam", 3), ""},
		"what another took back is brought back":     {[]Fact{plain("Sam", 3)}, plain("Robin", 4), ""},
	} {
		t.Run(name, func(t *testing.T) {
			d := start(t, t.TempDir(), nil)
			id := d.lesson("sound")
			for _, f := range append([]Fact{write("Robin"), write("Sam"), write("Robin")}, c.first...) {
				d.post(id, f, 201)
			}
			before := d.state(id).Revision
			c.ask.Key = uuid.NewString()
			b, _ := json.Marshal(c.ask)
			status, _, answer := d.do(http.MethodPost, "/lessons/"+id+"/facts", bytes.NewReader(b), nil)
			if c.says == "" && (status != http.StatusCreated || d.state(id).Revision != before+1) {
				t.Errorf("refused: %d %s", status, answer)
			}
			if c.says != "" && (status != http.StatusUnprocessableEntity || !strings.Contains(string(answer), c.says) || d.state(id).Revision != before) {
				t.Errorf("%d %s", status, answer)
			}
		})
	}
}
