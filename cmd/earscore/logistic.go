package main

import (
	"fmt"
	"io"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// logistic fits the log-odds of having been said as a weighted sum of features, by
// Newton's method on the likelihood with a slight pull to nought.
func logistic(all []weighed) ([]float64, error) {
	if len(all) == 0 {
		return nil, fmt.Errorf("nothing was found to fit anything to")
	}
	n := len(all[0].features)
	b := make([]float64, n)
	const pull = 0.01
	for range 30 {
		h, g := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
		for i := range n {
			h.SetSym(i, i, pull)
			g.SetVec(i, -pull*b[i])
		}
		for k := range all {
			x := all[k].features
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
			return nil, fmt.Errorf("too little was found to fit anything to: %w", err)
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

// reportFit prints what is fitted to all, and how well it does on each lesson when
// fitted to the others.
func reportFit(w io.Writer, names []string, all []weighed) error {
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
	fmt.Fprintf(w, "%d found, %d of them said\n", len(all), said)
	for i, name := range names {
		fmt.Fprintf(w, "\t%-11s = %.3f\n", name, b[i])
	}
	// Each lesson by what the others teach.
	type judged struct {
		p, now float64
		said   bool
	}
	var out []judged
	var lessons []string
	for _, c := range all {
		if !slices.Contains(lessons, c.lesson) {
			lessons = append(lessons, c.lesson)
		}
	}
	for _, name := range lessons {
		others := slices.DeleteFunc(slices.Clone(all), func(c weighed) bool { return c.lesson == name })
		b, err := logistic(others)
		if err != nil {
			return err
		}
		for i := range all {
			if all[i].lesson == name {
				out = append(out, judged{chance(b, all[i].features), all[i].now, all[i].said})
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
		fmt.Fprintf(w, "%s: %.3f nats each\n", way.name, loss/float64(len(out)))
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
