package stance

import (
	"cmp"
	"math"
	"slices"
)

// Example is what is seen in a sentence, and the stance it is known to have.
type Example struct {
	Facts  []Fact
	Stance Stance
	Count  float64 // how often it counts; 0 is once
}

// Fit finds the weights that make the examples likeliest, less what it costs to
// leave what the facts mean (meanings.go): spread is the standard deviation the
// weights are expected to have around it, in nats. Plain gradient ascent with
// momentum: there are few examples.
func Fit(examples []Example, spread float64) Model {
	index := map[string]int{always: 0}
	names := []string{always}
	type row struct {
		at   []int
		much []float64
		is   int

		count float64
	}
	var rows []row
	for _, e := range examples {
		r := row{at: []int{0}, much: []float64{1}, is: slices.Index(All[:], e.Stance), count: cmp.Or(e.Count, 1)}
		for _, f := range e.Facts {
			k, ok := index[f.Name]
			if !ok {
				k = len(names)
				index[f.Name] = k
				names = append(names, f.Name)
			}
			r.at, r.much = append(r.at, k), append(r.much, f.Much)
		}
		rows = append(rows, r)
	}
	for _, m := range meanings {
		if _, ok := index[m.fact]; !ok {
			index[m.fact] = len(names)
			names = append(names, m.fact)
		}
	}
	n := len(names)
	mean := make([][len(All)]float64, n)
	for _, m := range meanings {
		for _, l := range m.leans {
			mean[index[m.fact]][slices.Index(All[:], l.to)] = l.nats
		}
	}
	w, speed := make([][len(All)]float64, n), make([][len(All)]float64, n)
	copy(w, mean)
	const (
		rounds   = 3000
		momentum = 0.9
	)
	// The steepest slope grows with the examples: longer steps overshoot.
	step := min(0.02, 3/float64(len(rows)+1))
	for range rounds {
		grad := make([][len(All)]float64, n)
		for _, r := range rows {
			var sum [len(All)]float64
			for i, k := range r.at {
				for s := range sum {
					sum[s] += w[k][s] * r.much[i]
				}
			}
			p := softmax(sum)
			for i, k := range r.at {
				for s := range p {
					is := 0.0
					if s == r.is {
						is = 1
					}
					grad[k][s] += r.count * r.much[i] * (is - p[s])
				}
			}
		}
		for k := range w {
			for s := range w[k] {
				g := grad[k][s] - (w[k][s]-mean[k][s])/(spread*spread)
				speed[k][s] = momentum*speed[k][s] + step*g
				w[k][s] += speed[k][s]
			}
		}
	}
	m := Model{}
	for k, name := range names {
		m[name] = map[Stance]float64{}
		for s, v := range w[k] {
			if v = math.Round(v*100) / 100; v != 0 {
				m[name][All[s]] = v
			}
		}
	}
	return m
}
