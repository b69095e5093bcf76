// Package train teaches a network of package meaning from sentences whose calls are
// marked. It is for contributors; cmd/meaningtrainer is its command.
package train

import (
	"math"
	"math/rand/v2"
	"sync"

	"sidetone/callouts/meaning"
)

// Token is a word of an example.
type Token struct {
	Row   int // of the vocabulary; 0 is a word not known
	Marks [meaning.Marks]float32
	Class int // the callout it belongs to, 0 for none, Any for what nobody can tell
}

// Any is the class of words from which nothing is learnt.
const Any = -1

// Example is what is said in one breath.
type Example []Token

// Model is a network while it learns. A word's vector is its public vector, turned,
// and one of its own.
type Model struct {
	Given  []float32 // public vectors, Public numbers a row; not learnt
	Public int
	Wide   int // numbers in the vector of a word
	Turn   []float32
	Own    []float32
	Layers []meaning.Layer
}

// NewModel makes a model with weights drawn at random (He et al., "Delving Deep into
// Rectifiers", ICCV 2015).
func NewModel(given []float32, public, wide int, hidden [2]int, classes int, rng *rand.Rand) *Model {
	rows := len(given) / public
	m := &Model{Given: given, Public: public, Wide: wide, Turn: make([]float32, wide*public), Own: make([]float32, rows*wide)}
	draw := func(x []float32, spread float64) {
		for i := range x {
			x[i] = float32(rng.NormFloat64() * spread)
		}
	}
	draw(m.Turn, math.Sqrt(1/float64(public)))
	draw(m.Own, 0.05)
	in := wide + meaning.Marks
	for _, l := range []meaning.Layer{{In: in, Out: hidden[0], Width: 5}, {In: hidden[0], Out: hidden[1], Width: 3}, {In: hidden[1], Out: classes, Width: 1}} {
		l.Weights, l.Bias = make([]float32, l.In*l.Out*l.Width), make([]float32, l.Out)
		draw(l.Weights, math.Sqrt(2/float64(l.In*l.Width)))
		m.Layers = append(m.Layers, l)
	}
	return m
}

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
		sum := own * m.Own[row*m.Wide+i]
		for k, v := range m.Turn[i*m.Public : (i+1)*m.Public] {
			sum += v * g[k]
		}
		out[i] = sum
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
					for k := i; k < len(batch); k += len(workers) {
						rng := rand.New(rand.NewPCG(how.Seed, uint64(epoch)<<32|uint64(at+k)))
						w.learn(batch[k], how.Dropout, how.OwnOut, rng)
					}
				})
			}
			wg.Wait()
			n := 0
			for _, w := range workers {
				n += w.words
				loss += w.loss
			}
			words += n
			for _, w := range workers[1:] {
				for p := range workers[0].grads {
					for k, v := range w.grads[p] {
						workers[0].grads[p][k] += v
					}
				}
			}
			rate := how.Rate * 0.5 * (1 + math.Cos(math.Pi*min(1, float64(step)/float64(steps))))
			step++
			adam(params, workers[0].grads, moments, float32(1/float64(max(1, n))), step, rate, how.Decay)
		}
		tell(epoch, loss/float64(max(1, words)))
	}
}

// adam steps down the gradients (Kingma and Ba, ICLR 2015), weights decaying beside.
func adam(params, grads [][]float32, moments [2][][]float32, scale float32, step int, rate, decay float64) {
	const b1, b2, tiny = 0.9, 0.999, 1e-8
	pace := float32(rate / (1 - math.Pow(b1, float64(step))))
	even := float32(1 / (1 - math.Pow(b2, float64(step))))
	stay := float32(1 - rate*decay)
	for i, p := range params {
		m, v := moments[0][i], moments[1][i]
		for k, g := range grads[i] {
			g *= scale
			m[k] = b1*m[k] + (1-b1)*g
			v[k] = b2*v[k] + (1-b2)*g*g
			p[k] = stay*p[k] - pace*m[k]/(float32(math.Sqrt(float64(even*v[k])))+tiny)
		}
	}
}
