package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"sync"

	"gonum.org/v1/gonum/mat"

	"sidetone/audio/models"
	"sidetone/audio/recognise/onnx"
	"sidetone/callouts"
)

// weighed is a phrase that was found in a lesson, and whether it was said.
type weighed struct {
	onnx.Candidate
	lesson string
	said   bool
}

// fitEars listens to the lessons of a folder and fits what decides whether a phrase
// that was found was said. It prints the numbers for audio/recognise/onnx/believe.go,
// and how well they do on each lesson when fitted on the others.
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
	e, err := newEmbedded(set, lexicon, o, func(c onnx.Candidate) {
		mu.Lock()
		defer mu.Unlock()
		found = append(found, c)
	})
	if err != nil {
		return err
	}
	defer e.close()
	var all []weighed
	for _, m := range lessons {
		found = nil
		if err := e.hear(ctx, []*made{m}); err != nil {
			return err
		}
		for _, c := range found {
			all = append(all, weighed{c, m.name, m.wasSaid(c)})
		}
	}
	fmt.Fprintln(w)
	return reportFit(w, all)
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

var featureNames = []string{"atNought", "perMargin", "perEvidence", "perFit", "ifAgreed"}

func (c *weighed) features() []float64 {
	agreed := 0.0
	if c.Agreed {
		agreed = 1
	}
	return []float64{1, c.Margin, max(-onnx.MostEvidence, min(onnx.MostEvidence, c.Evidence)), c.Fit, agreed}
}

// logistic fits the log-odds of having been said as a weighted sum of features, by
// Newton's method on the likelihood with a slight pull to nought.
func logistic(all []weighed) ([]float64, error) {
	n := len(featureNames)
	b := make([]float64, n)
	const pull = 0.01
	for range 30 {
		h, g := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
		for i := range n {
			h.SetSym(i, i, pull)
			g.SetVec(i, -pull*b[i])
		}
		for k := range all {
			x := all[k].features()
			p := chance(b, x)
			y := 0.0
			if all[k].said {
				y = 1
			}
			for i := range n {
				g.SetVec(i, g.AtVec(i)+(y-p)*x[i])
				for j := i; j < n; j++ {
					h.SetSym(i, j, h.At(i, j)+p*(1-p)*x[i]*x[j])
				}
			}
		}
		var step mat.VecDense
		if err := step.SolveVec(h, g); err != nil {
			return nil, fmt.Errorf("too few phrases were found to fit anything: %w", err)
		}
		for i := range n {
			b[i] += step.AtVec(i)
		}
	}
	return b, nil
}

func chance(b, x []float64) float64 {
	z := 0.0
	for i := range b {
		z += b[i] * x[i]
	}
	return 1 / (1 + math.Exp(-z))
}

func reportFit(w io.Writer, all []weighed) error {
	b, err := logistic(all)
	if err != nil {
		return err
	}
	said := 0
	for _, c := range all {
		if c.said {
			said++
		}
	}
	fmt.Fprintf(w, "%d phrases found, %d of them said\n", len(all), said)
	for i, name := range featureNames {
		fmt.Fprintf(w, "\t%-11s = %.3f\n", name, b[i])
	}
	// Each lesson by what the others teach.
	type judged struct {
		p, now float64
		said   bool
	}
	var out []judged
	var names []string
	for _, c := range all {
		if !slices.Contains(names, c.lesson) {
			names = append(names, c.lesson)
		}
	}
	for _, name := range names {
		others := slices.DeleteFunc(slices.Clone(all), func(c weighed) bool { return c.lesson == name })
		b, err := logistic(others)
		if err != nil {
			return err
		}
		for i := range all {
			if all[i].lesson == name {
				out = append(out, judged{chance(b, all[i].features()), all[i].Likely, all[i].said})
			}
		}
	}
	for _, way := range []struct {
		name string
		p    func(judged) float64
	}{{"as it is", func(j judged) float64 { return j.now }}, {"fitted on the other lessons", func(j judged) float64 { return j.p }}} {
		loss := 0.0
		for _, j := range out {
			p := min(1-1e-6, max(1e-6, way.p(j)))
			if !j.said {
				p = 1 - p
			}
			loss -= math.Log(p)
		}
		fmt.Fprintf(w, "%s: %.3f nats a phrase\n", way.name, loss/float64(len(out)))
		for _, from := range []float64{0, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 0.95} {
			to := map[float64]float64{0: 0.1, 0.1: 0.2, 0.2: 0.35, 0.35: 0.5, 0.5: 0.65, 0.65: 0.8, 0.8: 0.9, 0.9: 0.95, 0.95: 1.01}[from]
			n, right, sum := 0, 0, 0.0
			for _, j := range out {
				if p := way.p(j); p >= from && p < to {
					n++
					sum += p
					if j.said {
						right++
					}
				}
			}
			if n > 0 {
				fmt.Fprintf(w, "  %.2f-%.2f  %5d  mean %.2f  said %.2f\n", from, min(1, to), n, sum/float64(n), float64(right)/float64(n))
			}
		}
	}
	return nil
}
