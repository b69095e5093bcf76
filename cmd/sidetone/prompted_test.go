package main

import (
	"path/filepath"
	"strings"
	"testing"
)

const ownFlow = `id: our-flow
title: Our flow
phases:
  - title: Entry
    steps:
      - {id: carb, title: Carb heat on, call: carb-heat-on, by: student, reference: "common practice, no source"}
      - {id: power, title: Power back, call: power-back, by: student, reference: "common practice, no source"}
      - {id: trim, title: Trim set, call: trim-set, reference: "common practice, no source"}
`

// What needs to be known of speakers, in the table, the page and the JSON.
func TestWhoIsPromptedAndWhatCannotBeApplied(t *testing.T) {
	for _, c := range []struct {
		name        string
		who         [2]string // orders, does
		says, lacks []string
	}{
		{"the seats are known", [2]string{"<v instructor>", "<v student>"},
			[]string{"prompted", "answering the order at 0:01"}, []string{"could not be applied", "not known"}},
		{"nobody is known", [2]string{"", ""},
			[]string{"prompted", "which seat spoke is not known", "could not be applied to 2 steps", "the call counts"}, []string{"not heard"}},
		{"the student asks, and the instructor does it", [2]string{"<v student>", "<v instructor>"},
			[]string{"it is the student's to say"}, []string{"prompted", "answering"}},
	} {
		dir := t.TempDir()
		flow := put(t, filepath.Join(dir, "our-flow.yaml"), []byte(ownFlow))
		words := put(t, filepath.Join(dir, "lesson.vtt"), []byte("WEBVTT\n\n"+
			"00:01.000 --> 00:02.500\n"+c.who[0]+"Give me carb heat on, please.\n\n"+
			"00:04.000 --> 00:05.000\n"+c.who[1]+"Carb heat on.\n\n"+
			"00:16.000 --> 00:17.000\n"+c.who[1]+"Power back.\n\n"+
			"00:30.000 --> 00:31.000\n"+c.who[1]+"Trim set.\n"))
		page, data := filepath.Join(dir, "page.html"), filepath.Join(dir, "lesson.json")
		code, table, stderr := sidetone(t, "debrief", words, "--procedure", flow, "--html", page, "--json", data)
		if code != 0 {
			t.Fatalf("%s: status %d, %s", c.name, code, stderr)
		}
		shown := map[string]string{"the table": table, "the page": read(t, page), "the JSON": read(t, data)}
		for where, text := range shown {
			if where == "the page" {
				text = text[strings.Index(text, "<body"):] // without its style
				if i := strings.Index(text, "<footer"); i > 0 {
					text = text[:i]
				}
			}
			text = strings.Join(strings.Fields(strings.ReplaceAll(text, "&#39;", "'")), " ")
			if where == "the JSON" {
				text = strings.ReplaceAll(text, `"prompted": false`, "")
				text = strings.ReplaceAll(text, `"prompted": true`, "prompted")
			}
			for _, want := range c.says {
				if !strings.Contains(text, want) {
					t.Errorf("%s: %s does not say %q", c.name, where, want)
				}
			}
			if where != "the page" { // which explains its words and has a caution
				for _, lacks := range c.lacks {
					if strings.Contains(text, lacks) && !(lacks == "not heard" && where == "the table") {
						t.Errorf("%s: %s says %q:\n%s", c.name, where, lacks, text)
					}
				}
			}
		}
	}
}
