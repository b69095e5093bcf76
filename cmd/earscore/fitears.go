package main

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"

	"sidetone/audio/models"
	"sidetone/audio/recognise/onnx"
	"sidetone/callouts"
)

// weighed is a phrase or a word that was heard in a lesson, and whether it was said.
type weighed struct {
	features []float64
	now      float64 // how likely it is taken to be
	lesson   string
	said     bool
}

// fitEars listens to the lessons of a folder and fits what decides whether a phrase
// that was found, and a word that was read, was said. It prints the numbers for
// believe.go and reread.go of audio/recognise/onnx, and how well they do on each lesson
// when fitted on the others.
func fitEars(ctx context.Context, w io.Writer, folder string, o options, lexicon *callouts.Lexicon) error {
	set, err := models.Find(o.models)
	if err != nil {
		return err
	}
	lessons, done, err := prepare(folder, o)
	if err != nil {
		return err
	}
	defer done()
	var mu sync.Mutex
	var found []onnx.Candidate
	var read []onnx.WordEvidence
	e, err := newEmbedded(set, lexicon, o, func(c onnx.Candidate) {
		mu.Lock()
		defer mu.Unlock()
		found = append(found, c)
	}, func(e onnx.WordEvidence) {
		mu.Lock()
		defer mu.Unlock()
		read = append(read, e)
	})
	if err != nil {
		return err
	}
	defer e.close()
	var phrases, words []weighed
	for _, m := range lessons {
		found, read = nil, nil
		if err := e.hear(ctx, []*made{m}); err != nil {
			return err
		}
		for _, c := range found {
			phrases = append(phrases, weighed{features(c), c.Likely, m.name, m.wasSaid(c)})
		}
		right := m.wereSaid(read)
		for i, e := range read {
			words = append(words, weighed{e.Features(), e.Likely, m.name, right[i]})
		}
	}
	fmt.Fprintln(w, "\nPhrases:")
	if err := reportFit(w, phraseFeatures, phrases); err != nil {
		return err
	}
	fmt.Fprintln(w, "\nWords:")
	return reportFit(w, wordFeatures, words)
}

// wereSaid tells which of the words that were read are those said there, by the
// alignment of both that has the fewest wrong.
func (m *made) wereSaid(read []onnx.WordEvidence) []bool {
	slices.SortStableFunc(read, func(a, b onnx.WordEvidence) int { return cmp.Compare(a.Start, b.Start) })
	var said, heard []string
	for _, l := range m.truth.Lines {
		for _, w := range l.Words {
			said = append(said, plain([]string{w.Text})...)
		}
	}
	var of []int
	for i, e := range read {
		for _, w := range plain([]string{e.Text}) {
			heard, of = append(heard, w), append(of, i)
		}
	}
	right := make([]bool, len(read))
	for i := range right {
		right[i] = true
	}
	for _, e := range align(said, heard) {
		if e.hyp >= 0 && e.wrong {
			right[of[e.hyp]] = false
		}
	}
	return right
}

// nearPhrase is how far from a phrase, in seconds, its words are looked for.
const nearPhrase = 0.6

// wasSaid tells whether the words of a phrase were said about where it was found,
// or others that make its call.
func (m *made) wasSaid(c onnx.Candidate) bool {
	id, _, _ := strings.Cut(c.Means, "=")
	for _, call := range m.truth.Calls {
		if call.Is(id) && call.Start < c.End && c.Start < call.End && (call.Value == nil || !strings.Contains(c.Means, "=")) {
			return true
		}
	}
	var words []string
	for _, l := range m.truth.Lines {
		for _, w := range l.Words {
			if w.End > c.Start-nearPhrase && w.Start < c.End+nearPhrase {
				words = append(words, plain([]string{w.Text})...)
			}
		}
	}
	return strings.Contains(" "+strings.Join(words, " ")+" ", " "+strings.Join(plain(strings.Fields(c.Phrase)), " ")+" ")
}

var phraseFeatures = []string{"atNought", "perMargin", "perEvidence", "perFit", "ifAgreed"}

var wordFeatures = []string{"wordFit", "wordAgreed", "wordOwn", "wordOdds", "wordClear", "wordShort", "wordNought"}

func features(c onnx.Candidate) []float64 {
	agreed := 0.0
	if c.Agreed {
		agreed = 1
	}
	return []float64{1, c.Margin, max(-onnx.MostEvidence, min(onnx.MostEvidence, c.Evidence)), c.Fit, agreed}
}
