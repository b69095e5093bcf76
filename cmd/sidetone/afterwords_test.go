package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"sidetone/audio/transcript"
	"sidetone/callouts"
	scripts "sidetone/cmd/internal/lesson"
	"sidetone/rules/library"
	"sidetone/timeline"
)

// Everything between the words and the timeline, of a lesson of two hours and
// 20,000 words: the tuning lessons one after the other, again and again, at a word
// in 0.36 s, with all built-in procedures looked for.
func BenchmarkStagesAfterWords(b *testing.B) {
	words := longTranscript(b, 20000, 0.36)
	lexicon, err := callouts.Builtin()
	if err != nil {
		b.Fatal(err)
	}
	procedures, err := library.Procedures()
	if err != nil {
		b.Fatal(err)
	}
	aircraft, err := library.DefaultAircraft()
	if err != nil {
		b.Fatal(err)
	}
	judge, err := timeline.NewJudge(lexicon, procedures, aircraft)
	if err != nil {
		b.Fatal(err)
	}
	last := words.Utterances[len(words.Utterances)-1].End
	maneuvers := 0
	for b.Loop() {
		tl := judge.Debrief(timeline.Recording{Duration: last}, words, nil, nil)
		maneuvers = len(tl.Maneuvers)
	}
	b.ReportMetric(float64(maneuvers), "maneuvers")
}

var mark = regexp.MustCompile(`\{[^:}]*: ([^}]*)\}`)

// longTranscript is so many words of the tuning lessons.
func longTranscript(tb testing.TB, count int, perWord float64) *transcript.Transcript {
	tb.Helper()
	files, err := filepath.Glob("../../testdata/lessons/tuning/*.yaml")
	if err != nil || len(files) == 0 {
		tb.Fatalf("no lessons: %v", err)
	}
	var lines []scripts.Line
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			tb.Fatal(err)
		}
		s, err := scripts.Parse(f, text)
		if err != nil {
			tb.Fatal(err)
		}
		lines = append(lines, s.Lines...)
	}
	t := &transcript.Transcript{}
	at := 0.0
	for i := 0; count > 0; i++ {
		l := lines[i%len(lines)]
		u := transcript.Utterance{Start: at, Text: mark.ReplaceAllString(l.Say, "$1")}
		for _, w := range strings.Fields(u.Text) {
			u.Words = append(u.Words, transcript.Word{Text: w, Start: at, End: at + 0.9*perWord, Confidence: 0.9})
			at += perWord
			count--
		}
		if u.End = at - 0.1*perWord; len(u.Words) > 0 {
			t.Utterances = append(t.Utterances, u)
		}
	}
	return t
}
