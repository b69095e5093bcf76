// Package train teaches a network of package meaning from sentences whose calls are
// marked. It is for contributors; cmd/meaningtrainer is its command.
package train

import (
	"math"
	"math/rand/v2"
	"sync"

	"sidetone/audio/dot"
	"sidetone/callouts/meaning"
)

// Token is a word of an example.
type Token struct {
	Row   int // of the vocabulary; 0 is a word not known
	Marks [meaning.Marks]float32
	Class int // the callout it belongs to, 0 for none, Any for what nobody can tell
	Meant int // the way it is meant, Any where it is not told
}

// Any is the class, or the way to mean it, of words from which nothing is learnt.
const Any = -1

// Example is what is said in one breath.
type Example []Token

// Model is a network while it learns. A word's vector is its public vector, turned,
// and one of its own.
type Model struct {
	Given  []float32 // public vectors, Public numbers a row; not learnt
	Public int
	Wide   int // numbers in the vector of a word
	Ways   int // outputs that tell how a callout is meant
	Turn   []float32
	Own    []float32
	Layers []meaning.Layer
}

// NewModel makes a model with weights drawn at random (He et al., "Delving Deep into
// Rectifiers", ICCV 2015).
//
// The first layer takes the words up to two away and gives hidden numbers; those after
// it each add what they make of words so far apart (the dilated convolutions of Yu and Koltun, ICLR 2016, in residual blocks as He et al., CVPR 2016).
func NewModel(given []float32, public, wide, hidden int, apart []int, classes, ways int, rng *rand.Rand) *Model {
	rows := len(given) / public
	m := &Model{Given: given, Public: public, Wide: wide, Ways: ways, Turn: make([]float32, wide*public), Own: make([]float32, rows*wide)}
	draw := func(x []float32, spread float64) {
		for i := range x {
			x[i] = float32(rng.NormFloat64() * spread)
		}
	}
	draw(m.Turn, math.Sqrt(1/float64(public)))
	draw(m.Own, 0.05)
	m.Layers = append(m.Layers, meaning.Layer{In: wide + meaning.Marks, Out: hidden, Width: 5, Apart: 1})
	for _, n := range apart {
		m.Layers = append(m.Layers, meaning.Layer{In: hidden, Out: hidden, Width: 3, Apart: n, Adds: true})
	}
	m.Layers = append(m.Layers, meaning.Layer{In: hidden, Out: classes + ways, Width: 1, Apart: 1})
	for i := range m.Layers {
		l := &m.Layers[i]
		l.Weights, l.Bias = make([]float32, l.In*l.Out*l.Width), make([]float32, l.Out)
		spread := math.Sqrt(2 / float64(l.In*l.Width))
		if l.Adds {
			spread /= math.Sqrt(float64(len(apart)))
		}
		draw(l.Weights, spread)
	}
	return m
}

// ownAt is where among the parameters the words' own vectors are.
const ownAt = 1

func (m *Model) parameters() [][]float32 {
	out := [][]float32{m.Turn, m.Own}
	for _, l := range m.Layers {
		out = append(out, l.Weights, l.Bias)
	}
	return out
}

// Vectors are those of the words as the network needs them.
func (m *Model) Vectors() []float32 {
	out := make([]float32, len(m.Own))
	for r := range len(m.Own) / m.Wide {
		m.vector(out[r*m.Wide:(r+1)*m.Wide], r, 1)
	}
	return out
}

func (m *Model) vector(out []float32, row int, own float32) {
	g := m.Given[row*m.Public : (row+1)*m.Public]
	for i := range out {
		out[i] = own*m.Own[row*m.Wide+i] + dot.Inner(g, m.Turn[i*m.Public:(i+1)*m.Public])
	}
}

// How a model is taught.
type How struct {
	Epochs   int
	Batch    int     // examples a step
	Rate     float64 // of the first steps; it falls to nothing along a cosine
	Decay    float64 // of the weights (Loshchilov and Hutter, ICLR 2019)
	Dropout  float64 // share of the hidden numbers left out
	OwnOut   float64 // share of the words that must do without their own vector
	Parallel int
	Seed     uint64
}

// Teach teaches the model. examples gives those of an epoch, new ones each time;
// tell is told the mean loss of each epoch, in nats a word.
func Teach(m *Model, examples func(epoch int) []Example, how How, tell func(epoch int, loss float64)) {
	params := m.parameters()
	moments := [2][][]float32{}
	for k := range moments {
		for _, p := range params {
			moments[k] = append(moments[k], make([]float32, len(p)))
		}
	}
	workers := make([]*worker, max(1, how.Parallel))
	for i := range workers {
		workers[i] = newWorker(m)
	}
	step, steps := 0, 0
	for epoch := range how.Epochs {
		all := examples(epoch)
		if steps == 0 {
			steps = how.Epochs * ((len(all) + how.Batch - 1) / how.Batch)
		}
		loss, words := 0.0, 0
		for at := 0; at < len(all); at += how.Batch {
			batch := all[at:min(at+how.Batch, len(all))]
			var wg sync.WaitGroup
			for i, w := range workers {
				wg.Go(func() {
					w.reset()
					var part []Example
					for k := i; k < len(batch); k += len(workers) {
						part = append(part, batch[k])
					}
					rng := rand.New(rand.NewPCG(how.Seed, uint64(epoch)<<32|uint64(at+i)))
					w.learn(part, how.Dropout, how.OwnOut, rng)
				})
			}
			wg.Wait()
			n := 0
			for _, w := range workers {
				n += w.words
				loss += w.loss
			}
			words += n
			touched := m.gather(workers)
			rate := how.Rate * 0.5 * (1 + math.Cos(math.Pi*min(1, float64(step)/float64(steps))))
			step++
			a := newAdam(step, rate, how.Decay, n)
			for p := range params {
				if p != ownAt {
					a.step(params[p], workers[0].grads[p], moments[0][p], moments[1][p])
				}
			}
			for _, row := range touched {
				from, to := row*m.Wide, (row+1)*m.Wide
				a.step(params[ownAt][from:to], workers[0].grads[ownAt][from:to], moments[0][ownAt][from:to], moments[1][ownAt][from:to])
			}
		}
		tell(epoch, loss/float64(max(1, words)))
	}
}

// gather adds the gradients of all workers to those of the first, and gives the rows of
// the words that have any.
func (m *Model) gather(workers []*worker) (rows []int) {
	seen := map[int]bool{}
	for i, w := range workers {
		for p := range w.grads {
			if i == 0 || p == ownAt {
				continue
			}
			for k, v := range w.grads[p] {
				workers[0].grads[p][k] += v
			}
		}
		own := map[int]bool{}
		for _, tok := range w.tokens {
			if own[tok.Row] {
				continue
			}
			own[tok.Row] = true
			if !seen[tok.Row] {
				seen[tok.Row] = true
				rows = append(rows, tok.Row)
			}
			if i > 0 {
				to := workers[0].grads[ownAt][tok.Row*m.Wide:]
				for k, v := range w.grads[ownAt][tok.Row*m.Wide : (tok.Row+1)*m.Wide] {
					to[k] += v
				}
			}
		}
	}
	// the first worker forgets them with its own
	for _, w := range workers[1:] {
		workers[0].others = append(workers[0].others, w.tokens...)
	}
	return rows
}

// adam steps down the gradients (Kingma and Ba, ICLR 2015), weights decaying beside.
type adam struct{ scale, pace, even, stay float32 }

const beta1, beta2 = 0.9, 0.999

func newAdam(step int, rate, decay float64, words int) adam {
	return adam{
		scale: float32(1 / float64(max(1, words))),
		pace:  float32(rate / (1 - math.Pow(beta1, float64(step)))),
		even:  float32(1 / (1 - math.Pow(beta2, float64(step)))),
		stay:  float32(1 - rate*decay),
	}
}

func (a adam) step(p, grads, m, v []float32) {
	const tiny = 1e-8
	for k, g := range grads {
		g *= a.scale
		m[k] = beta1*m[k] + (1-beta1)*g
		v[k] = beta2*v[k] + (1-beta2)*g*g
		p[k] = a.stay*p[k] - a.pace*m[k]/(float32(math.Sqrt(float64(a.even*v[k])))+tiny)
	}
}
