package train

import (
	"math"
	"math/rand/v2"

	"sidetone/callouts/meaning"
)

// worker reckons gradients of its share of a batch.
type worker struct {
	m     *Model
	grads [][]float32
	loss  float64
	words int

	tokens  []Token
	others  []Token     // of other workers, whose gradients were added
	first   []int       // of the examples' words, and the end
	x       [][]float32 // inputs of the layers, then the output
	kept    [][]float32 // by what each number of a layer is multiplied: nothing where it is rectified or left out
	owned   []float32   // how much of a word's own vector was used
	columns [][]float32 // of each layer, its inputs word by word
	slopes  [2][]float32
	scratch [4][]float32
}

func newWorker(m *Model) *worker {
	n := len(m.Layers)
	w := &worker{m: m, x: make([][]float32, n+1), kept: make([][]float32, n), columns: make([][]float32, n)}
	for _, p := range m.parameters() {
		w.grads = append(w.grads, make([]float32, len(p)))
	}
	return w
}

// reset forgets the gradients. Of the words' own vectors only those of the last
// examples have any.
func (w *worker) reset() {
	for i, g := range w.grads {
		if i != ownAt {
			clear(g)
		}
	}
	for _, tok := range append(w.tokens, w.others...) {
		clear(w.grads[ownAt][tok.Row*w.m.Wide : (tok.Row+1)*w.m.Wide])
	}
	w.loss, w.words, w.tokens, w.others = 0, 0, w.tokens[:0], w.others[:0]
}

// learn reckons the gradients of examples.
func (w *worker) learn(es []Example, dropout, ownOut float64, rng *rand.Rand) {
	w.forward(es, dropout, ownOut, rng)
	if len(w.tokens) == 0 {
		return
	}
	last := len(w.m.Layers)
	all := w.m.Layers[last-1].Out
	classes := all - w.m.Ways
	w.slopes[0] = room(w.slopes[0], len(w.tokens)*all)
	for t, tok := range w.tokens {
		z, slope := w.x[last][t*all:(t+1)*all], w.slopes[0][t*all:(t+1)*all]
		clear(slope)
		if tok.Class != Any {
			w.loss += softmax(slope[:classes], z[:classes], tok.Class)
			w.words++
		}
		if tok.Meant != Any {
			w.loss += softmax(slope[classes:], z[classes:], tok.Meant)
		}
	}
	w.backward()
}

// softmax puts the slopes into p and gives what the class costs, in nats.
func softmax(p, z []float32, class int) float64 {
	top := z[0]
	for _, v := range z {
		top = max(top, v)
	}
	sum := 0.0
	for c, v := range z {
		e := math.Exp(float64(v - top))
		p[c] = float32(e)
		sum += e
	}
	for c := range p {
		p[c] /= float32(sum)
	}
	cost := -math.Log(max(1e-30, float64(p[class])))
	p[class]--
	return cost
}

func (w *worker) forward(es []Example, dropout, ownOut float64, rng *rand.Rand) {
	m := w.m
	w.tokens, w.first = w.tokens[:0], append(w.first[:0], 0)
	for _, e := range es {
		w.tokens = append(w.tokens, e...)
		w.first = append(w.first, len(w.tokens))
	}
	in := m.Layers[0].In
	w.x[0], w.owned = room(w.x[0], len(w.tokens)*in), room(w.owned, len(w.tokens))
	for t, tok := range w.tokens {
		w.owned[t] = 1
		if ownOut > 0 && rng.Float64() < ownOut {
			w.owned[t] = 0
		}
		m.vector(w.x[0][t*in:t*in+m.Wide], tok.Row, w.owned[t])
		copy(w.x[0][t*in+m.Wide:], tok.Marks[:])
	}
	keep := float32(1 / (1 - dropout))
	for i := range m.Layers {
		l := &m.Layers[i]
		w.x[i+1] = room(w.x[i+1], len(w.tokens)*l.Out)
		w.columns[i] = w.lay(w.columns[i], w.x[i], l)
		k := l.In * l.Width
		w.scratch[0] = padded(w.scratch[0], l.Weights, l.Out, k)
		y := w.x[i+1]
		times(y, w.columns[i], w.scratch[0], len(w.tokens), l.Out, whole(k))
		for t := range w.tokens {
			for o, b := range l.Bias {
				y[t*l.Out+o] += b
			}
		}
		if i == len(m.Layers)-1 {
			break
		}
		w.kept[i] = room(w.kept[i], len(y))
		for n, v := range y {
			by := float32(0)
			if v > 0 && (dropout == 0 || rng.Float64() >= dropout) {
				by = keep
			}
			w.kept[i][n] = by
			y[n] = v * by
			if l.Adds {
				y[n] += w.x[i][n]
			}
		}
	}
}

// lay puts what a layer takes for each word side by side.
func (w *worker) lay(out, x []float32, l *meaning.Layer) []float32 {
	k := whole(l.In * l.Width)
	out = room(out, len(w.tokens)*k)
	clear(out)
	w.reach(l, func(t, from, place int) {
		copy(out[t*k+place*l.In:], x[from*l.In:(from+1)*l.In])
	})
	return out
}

// reach tells for each word t which words a layer takes, and in which place.
func (w *worker) reach(l *meaning.Layer, tell func(t, from, place int)) {
	for e := range len(w.first) - 1 {
		lo, hi := w.first[e], w.first[e+1]
		for t := lo; t < hi; t++ {
			for place := range l.Width {
				if from := t + (place-l.Width/2)*l.Apart; from >= lo && from < hi {
					tell(t, from, place)
				}
			}
		}
	}
}

func (w *worker) backward() {
	m := w.m
	n := len(w.tokens)
	dy := w.slopes[0]
	for i := len(m.Layers) - 1; i >= 0; i-- {
		l := &m.Layers[i]
		k := l.In * l.Width
		dz := dy
		if i < len(m.Layers)-1 {
			w.scratch[3] = room(w.scratch[3], len(dy))
			dz = w.scratch[3]
			for j, v := range dy {
				dz[j] = v * w.kept[i][j]
			}
		}
		gw, gb := w.grads[2+2*i], w.grads[3+2*i]
		for t := range n {
			for o := range gb {
				gb[o] += dz[t*l.Out+o]
			}
		}
		// what each weight did: over the words
		w.scratch[0] = turned(w.scratch[0], dz, n, l.Out)
		w.scratch[1] = turned(w.scratch[1], w.columns[i], n, whole(k))
		times(gw, w.scratch[0], w.scratch[1], l.Out, k, whole(n))
		// what each input did: over the outputs
		w.scratch[0] = turned(w.scratch[0], l.Weights, l.Out, k)
		w.scratch[1] = padded(w.scratch[1], dz, n, l.Out)
		w.scratch[2] = room(w.scratch[2], n*k)
		times(w.scratch[2], w.scratch[1], w.scratch[0], n, k, whole(l.Out))
		w.slopes[1] = room(w.slopes[1], n*l.In)
		dx := w.slopes[1]
		if l.Adds {
			copy(dx, dy)
		} else {
			clear(dx)
		}
		w.reach(l, func(t, from, place int) {
			for j, v := range w.scratch[2][t*k+place*l.In : t*k+(place+1)*l.In] {
				dx[from*l.In+j] += v
			}
		})
		w.slopes[0], w.slopes[1] = w.slopes[1], w.slopes[0]
		dy = w.slopes[0]
	}
	w.spread(dy)
}

// spread gives the slopes of the words' vectors to what they are made of.
func (w *worker) spread(dx []float32) {
	m := w.m
	in := m.Layers[0].In
	n := len(w.tokens)
	w.scratch[0], w.scratch[1] = room(w.scratch[0], n*m.Wide), room(w.scratch[1], n*m.Public)
	for t, tok := range w.tokens {
		dv := dx[t*in : t*in+m.Wide]
		copy(w.scratch[0][t*m.Wide:], dv)
		copy(w.scratch[1][t*m.Public:], m.Given[tok.Row*m.Public:(tok.Row+1)*m.Public])
		for i, d := range dv {
			w.grads[ownAt][tok.Row*m.Wide+i] += d * w.owned[t]
		}
	}
	w.scratch[2] = turned(w.scratch[2], w.scratch[0], n, m.Wide)
	w.scratch[3] = turned(w.scratch[3], w.scratch[1], n, m.Public)
	times(w.grads[0], w.scratch[2], w.scratch[3], m.Wide, m.Public, whole(n))
}
