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
	ways    []string       // to mean one
	layers  []Layer
	belief  Belief

	mu    sync.Mutex
	known map[int][]float32 // what a word gives the first layer at each place
}

// Layer is a convolution over words: weights by output, then word, then input. All
// but the last are rectified.
type Layer struct {
	In, Out, Width int
	Apart          int  // from one of the words it takes to the next
	Adds           bool // what it takes is added to what it makes of it
	Weights, Bias  []float32
}

// Marks are what follows a word beside its vector: a comma, the end of a sentence,
// the end of a breath, a question mark.
const Marks = 4

// Classes are the names of the callouts it knows, after "" for none.
func (n *Net) Classes() []string { return n.classes }

// Ways are the names of the ways to mean a callout.
func (n *Net) Ways() []string { return n.ways }

// Read gives, for each word, the log-probability of each class, and of each way it is
// meant if the word belongs to a callout.
func (n *Net) Read(words []Word) (odds, meant [][]float32) {
	odds, meant = make([][]float32, len(words)), make([][]float32, len(words))
	reach := n.reach()
	var parts sync.WaitGroup
	for from := 0; from < len(words); from += piece {
		to := min(len(words), from+piece)
		parts.Go(func() {
			lo, hi := max(0, from-reach), min(len(words), to+reach)
			o, m := n.read(words, lo, hi)
			copy(odds[from:to], o[from-lo:])
			copy(meant[from:to], m[from-lo:])
		})
	}
	parts.Wait()
	return odds, meant
}

// piece is how many words are read at once, on a processor each.
const piece = 1024

// reach is how many words before and after one count for it.
func (n *Net) reach() int {
	sum := 0
	for _, l := range n.layers {
		sum += l.Width / 2 * l.Apart
	}
	return sum
}

// read reads words [lo, hi) as if nothing were said before and after.
func (n *Net) read(words []Word, lo, hi int) (odds, meant [][]float32) {
	marks := make([][Marks]float32, hi-lo)
	for i := range marks {
		marks[i] = MarksOf(words, lo+i)
	}
	words = words[lo:hi]
	x := n.first(words, marks)
	for i := 1; i < len(n.layers); i++ {
		if !n.layers[i-1].Adds {
			dot.Rectify(x)
		}
		l := &n.layers[i]
		y := l.convolve(x, len(words))
		if l.Adds {
			dot.Rectify(y)
			for k, v := range x {
				y[k] += v
			}
		}
		x = y
	}
	c, all := len(n.classes), len(n.classes)+len(n.ways)
	odds, meant = make([][]float32, len(words)), make([][]float32, len(words))
	for t := range words {
		odds[t] = logSoftmax(x[t*all : t*all+c : t*all+c])
		meant[t] = logSoftmax(x[t*all+c : (t+1)*all])
	}
	return odds, meant
}

// convolve takes words apart from each other as a convolution over every so manieth of
// them.
func (l *Layer) convolve(x []float32, words int) []float32 {
	if l.Apart == 1 {
		return dot.Convolve(x, words, l.In, l.Out, l.Width, l.Weights, l.Bias)
	}
	y := make([]float32, words*l.Out)
	for from := range min(l.Apart, words) {
		var part []float32
		for t := from; t < words; t += l.Apart {
			part = append(part, x[t*l.In:(t+1)*l.In]...)
		}
		part = dot.Convolve(part, len(part)/l.In, l.In, l.Out, l.Width, l.Weights, l.Bias)
		for t := from; t < words; t += l.Apart {
			copy(y[t*l.Out:], part[:l.Out])
			part = part[l.Out:]
		}
	}
	return y
}

// first is the first layer: what each word gives at each place around it is
// reckoned once, for people use the same words over and over.
func (n *Net) first(words []Word, follow [][Marks]float32) []float32 {
	l := &n.layers[0]
	half := l.Width / 2
	y := make([]float32, len(words)*l.Out)
	for t := range words {
		copy(y[t*l.Out:], l.Bias)
	}
	wide := l.In - Marks
	for at, w := range words {
		given := n.gives(Row(n.words, w.Text))
		marks := follow[at]
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
	n.mu.Lock()
	defer n.mu.Unlock()
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
	if words[at].Question {
		m[3] = 1
	}
	if words[at].Breath || at == len(words)-1 {
		m[2] = 1
	}
	return m
}

// faint is so far below the likeliest class, in nats, that it adds nothing.
const faint = 17

func logSoftmax(x []float32) []float32 {
	if len(x) == 0 {
		return nil
	}
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
func New(words []string, vectors []float32, classes, ways []string, layers []Layer, belief Belief) (*Net, error) {
	n := &Net{words: map[string]int{}, vectors: vectors, classes: classes, ways: ways, layers: layers, belief: belief, known: map[int][]float32{}}
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
		case l.Apart < 1:
			return nil, fmt.Errorf("layer %d takes words %d apart: at least 1", i+1, l.Apart)
		case l.Adds && (l.In != l.Out || i == 0 || i == len(layers)-1):
			return nil, fmt.Errorf("layer %d cannot add what it takes to what it makes", i+1)
		case i == 0 && l.Apart != 1:
			return nil, fmt.Errorf("the first layer takes words %d apart, not next to each other", l.Apart)
		case i > 0 && l.In != layers[i-1].Out:
			return nil, fmt.Errorf("layer %d takes %d numbers, the one before gives %d", i+1, l.In, layers[i-1].Out)
		case len(l.Weights) != l.In*l.Out*l.Width || len(l.Bias) != l.Out:
			return nil, fmt.Errorf("layer %d has %d weights and %d biases", i+1, len(l.Weights), len(l.Bias))
		}
	}
	if last := layers[len(layers)-1].Out; last != len(classes)+len(ways) {
		return nil, fmt.Errorf("%d outputs for %d classes and %d ways to mean them", last, len(classes), len(ways))
	}
	return n, nil
}
