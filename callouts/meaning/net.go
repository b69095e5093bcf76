package meaning

import (
	_ "embed"
	"errors"
	"fmt"
	"math"
	"sync"

	"sidetone/audio/dot"
)

//go:embed english.net
var english []byte

// English is the network that comes with the program.
var English = sync.OnceValue(func() *Net {
	n, err := Load(english)
	if err != nil {
		panic(fmt.Sprintf("meaning: english.net is damaged, build the program again: %v", err))
	}
	return n
})

// Net tells the callouts of words. It is safe for use by several goroutines.
type Net struct {
	words   map[string]int // row of vectors
	vectors []float32      // Wide numbers a word; row 0 is of words not known
	classes []string       // names of the callouts; 0 is none
	layers  []Layer
	belief  Belief

	mu    sync.Mutex
	known map[int][]float32 // what a word gives the first layer at each place
}

// Layer is a convolution over words: weights by output, then word, then input. All
// but the last are rectified.
type Layer struct {
	In, Out, Width int
	Weights, Bias  []float32
}

// Marks are what follows a word beside its vector: a comma, the end of a sentence,
// nothing more at all.
const Marks = 3

// Classes are the names of the callouts it knows, after "" for none.
func (n *Net) Classes() []string { return n.classes }

// Read gives the log-probability of each class for each word said in one breath.
func (n *Net) Read(words []Word) [][]float32 {
	if len(words) == 0 {
		return nil
	}
	x := n.first(words)
	for i := 1; i < len(n.layers); i++ {
		for k, v := range x {
			x[k] = max(v, 0)
		}
		l := &n.layers[i]
		x = dot.Convolve(x, len(words), l.In, l.Out, l.Width, l.Weights, l.Bias)
	}
	c := len(n.classes)
	out := make([][]float32, len(words))
	for t := range out {
		out[t] = logSoftmax(x[t*c : (t+1)*c])
	}
	return out
}

// first is the first layer: what each word gives at each place around it is
// reckoned once, for people use the same words over and over.
func (n *Net) first(words []Word) []float32 {
	l := &n.layers[0]
	half := l.Width / 2
	y := make([]float32, len(words)*l.Out)
	for t := range words {
		copy(y[t*l.Out:], l.Bias)
	}
	wide := l.In - Marks
	n.mu.Lock()
	defer n.mu.Unlock()
	for at, w := range words {
		given := n.gives(Row(n.words, w.Text))
		marks := MarksOf(words, at)
		for k := range l.Width {
			t := at - k + half
			if t < 0 || t >= len(words) {
				continue
			}
			row := y[t*l.Out : (t+1)*l.Out]
			for o, v := range given[k*l.Out : (k+1)*l.Out] {
				row[o] += v
			}
			for m, v := range marks {
				if v != 0 {
					for o := range row {
						row[o] += v * l.Weights[(o*l.Width+k)*l.In+wide+m]
					}
				}
			}
		}
	}
	return y
}

func (n *Net) gives(row int) []float32 {
	if g := n.known[row]; g != nil {
		return g
	}
	l := &n.layers[0]
	wide := l.In - Marks
	v := n.vectors[row*wide : (row+1)*wide]
	g := make([]float32, l.Width*l.Out)
	for k := range l.Width {
		for o := range l.Out {
			g[k*l.Out+o] = dot.Inner(v, l.Weights[(o*l.Width+k)*l.In:][:wide])
		}
	}
	n.known[row] = g
	return g
}

// MarksOf is what follows word at.
func MarksOf(words []Word, at int) [Marks]float32 {
	var m [Marks]float32
	if words[at].Comma {
		m[0] = 1
	}
	if words[at].Stop {
		m[1] = 1
	}
	if at == len(words)-1 {
		m[2] = 1
	}
	return m
}

// faint is so far below the likeliest class, in nats, that it adds nothing.
const faint = 17

func logSoftmax(x []float32) []float32 {
	top := x[0]
	for _, v := range x {
		top = max(top, v)
	}
	sum := 0.0
	for _, v := range x {
		if v > top-faint {
			sum += math.Exp(float64(v - top))
		}
	}
	log := top + float32(math.Log(sum))
	for i := range x {
		x[i] -= log
	}
	return x
}

// New makes a network of its parts: words[i] has row i+1 of vectors, and row 0 is of
// words not known.
func New(words []string, vectors []float32, classes []string, layers []Layer, belief Belief) (*Net, error) {
	n := &Net{words: map[string]int{}, vectors: vectors, classes: classes, layers: layers, belief: belief, known: map[int][]float32{}}
	for i, w := range words {
		n.words[w] = i + 1
	}
	if len(layers) == 0 {
		return nil, errors.New("no layers")
	}
	if wide := layers[0].In - Marks; len(vectors) != (len(words)+1)*wide {
		return nil, fmt.Errorf("%d numbers for %d words of %d", len(vectors), len(words)+1, wide)
	}
	for i, l := range layers {
		switch {
		case l.Width%2 == 0:
			return nil, fmt.Errorf("layer %d is %d words wide: an odd number is in the middle of its word", i+1, l.Width)
		case i > 0 && l.In != layers[i-1].Out:
			return nil, fmt.Errorf("layer %d takes %d numbers, the one before gives %d", i+1, l.In, layers[i-1].Out)
		case len(l.Weights) != l.In*l.Out*l.Width || len(l.Bias) != l.Out:
			return nil, fmt.Errorf("layer %d has %d weights and %d biases", i+1, len(l.Weights), len(l.Bias))
		}
	}
	if last := layers[len(layers)-1].Out; last != len(classes) {
		return nil, fmt.Errorf("%d outputs for %d classes", last, len(classes))
	}
	return n, nil
}
