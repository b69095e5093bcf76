package train

import (
	"math"
	"math/rand/v2"

	"sidetone/callouts/meaning"
)

// worker reckons gradients of its share of a batch.
type worker struct {
	m      *Model
	grads  [][]float32
	loss   float64
	words  int
	x      [][]float32 // inputs of the layers, then the output
	slopes [][]float32
	owned  []float32 // how much of a word's own vector was used
}

func newWorker(m *Model) *worker {
	w := &worker{m: m, x: make([][]float32, len(m.Layers)+1), slopes: make([][]float32, len(m.Layers)+1)}
	for _, p := range m.parameters() {
		w.grads = append(w.grads, make([]float32, len(p)))
	}
	return w
}

func (w *worker) reset() {
	for _, g := range w.grads {
		clear(g)
	}
	w.loss, w.words = 0, 0
}

// learn adds the gradients of one example.
func (w *worker) learn(e Example, dropout, ownOut float64, rng *rand.Rand) {
	w.forward(e, dropout, ownOut, rng)
	last := len(w.m.Layers)
	classes := w.m.Layers[last-1].Out
	for t, tok := range e {
		z := w.x[last][t*classes : (t+1)*classes]
		slope := w.slopes[last][t*classes : (t+1)*classes]
		if tok.Class == Any {
			clear(slope)
			continue
		}
		top := z[0]
		for _, v := range z {
			top = max(top, v)
		}
		sum := 0.0
		for c, v := range z {
			p := math.Exp(float64(v - top))
			slope[c] = float32(p)
			sum += p
		}
		for c := range slope {
			slope[c] /= float32(sum)
		}
		w.loss -= math.Log(max(1e-30, float64(slope[tok.Class])))
		slope[tok.Class]--
		w.words++
	}
	w.backward(e, dropout)
}

func (w *worker) forward(e Example, dropout, ownOut float64, rng *rand.Rand) {
	m := w.m
	in := m.Layers[0].In
	w.x[0] = room(w.x[0], len(e)*in)
	w.owned = room(w.owned, len(e))
	for t, tok := range e {
		w.owned[t] = 1
		if ownOut > 0 && rng.Float64() < ownOut {
			w.owned[t] = 0
		}
		m.vector(w.x[0][t*in:t*in+m.Wide], tok.Row, w.owned[t])
		copy(w.x[0][t*in+m.Wide:], tok.Marks[:])
	}
	for i := range m.Layers {
		l := &m.Layers[i]
		w.x[i+1] = room(w.x[i+1], len(e)*l.Out)
		w.slopes[i+1] = room(w.slopes[i+1], len(e)*l.Out)
		forward(w.x[i+1], w.x[i], l, len(e))
		if i == len(m.Layers)-1 {
			break
		}
		keep := float32(1 / (1 - dropout))
		for k, v := range w.x[i+1] {
			switch {
			case v <= 0, dropout > 0 && rng.Float64() < dropout:
				w.x[i+1][k] = 0
			default:
				w.x[i+1][k] = v * keep
			}
		}
	}
}

func room(x []float32, n int) []float32 {
	if cap(x) < n {
		return make([]float32, n, 2*n)
	}
	return x[:n]
}

func forward(y, x []float32, l *meaning.Layer, words int) {
	half := l.Width / 2
	for t := range words {
		lo, hi := max(0, half-t), min(l.Width, words-t+half)
		for o := range l.Out {
			row := l.Weights[(o*l.Width+lo)*l.In : (o*l.Width+hi)*l.In]
			in := x[(t+lo-half)*l.In:][:len(row)]
			var a, b, c, d float32
			i := 0
			for ; i+4 <= len(row); i += 4 {
				a += row[i] * in[i]
				b += row[i+1] * in[i+1]
				c += row[i+2] * in[i+2]
				d += row[i+3] * in[i+3]
			}
			for ; i < len(row); i++ {
				a += row[i] * in[i]
			}
			y[t*l.Out+o] = l.Bias[o] + a + b + c + d
		}
	}
}

func (w *worker) backward(e Example, dropout float64) {
	m := w.m
	keep := float32(1 / (1 - dropout))
	for i := len(m.Layers) - 1; i >= 0; i-- {
		l := &m.Layers[i]
		x, dy := w.x[i], w.slopes[i+1]
		w.slopes[i] = room(w.slopes[i], len(x))
		dx := w.slopes[i]
		clear(dx)
		gw, gb := w.grads[2+2*i], w.grads[3+2*i]
		half := l.Width / 2
		for t := range e {
			lo, hi := max(0, half-t), min(l.Width, len(e)-t+half)
			for o := range l.Out {
				g := dy[t*l.Out+o]
				if g == 0 {
					continue
				}
				gb[o] += g
				from, to := (o*l.Width+lo)*l.In, (o*l.Width+hi)*l.In
				row, gr := l.Weights[from:to], gw[from:to]
				in, din := x[(t+lo-half)*l.In:][:len(row)], dx[(t+lo-half)*l.In:][:len(row)]
				for k, v := range row {
					gr[k] += g * in[k]
					din[k] += g * v
				}
			}
		}
		if i > 0 {
			for k, v := range x {
				if v > 0 {
					dx[k] *= keep
				} else {
					dx[k] = 0
				}
			}
		}
	}
	in := m.Layers[0].In
	for t, tok := range e {
		dv := w.slopes[0][t*in : t*in+m.Wide]
		g := m.Given[tok.Row*m.Public : (tok.Row+1)*m.Public]
		for i, d := range dv {
			w.grads[1][tok.Row*m.Wide+i] += d * w.owned[t]
			row := w.grads[0][i*m.Public : (i+1)*m.Public]
			for k, v := range g {
				row[k] += d * v
			}
		}
	}
}
