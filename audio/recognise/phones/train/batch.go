package train

import (
	"math"
	"math/rand/v2"

	"sidetone/audio/dot"
	"sidetone/audio/recognise/phones"
)

// batch holds what the layers make of some examples, one after the other in one
// long row of frames, with as many empty frames before, between and after them as
// the widest layer reaches beyond its frame.
type batch struct {
	net      *Net
	parallel int
	reach    int      // of the widest layer
	rows     int      // frames, the empty ones with them
	spans    [][2]int // rows of each example
	size     []int    // numbers in a row of x[i]
	x        []floats // x[i] is the input of layer i, x[len(layers)] the output of the last
	slopes   []floats // derivatives of the loss by x[i]; slopes[0] is not needed
	grads    [][]float32
	turned   []float32 // weights turned round, for the slopes
	flat     [2]floats // transposed, for the gradients
	heard    phones.Heard
	steep    phones.Heard
	lattices []lattice
}

type floats = []float32

// The uses of random numbers.
const (
	useNoise = iota
	useDropout
)

// up rounds up to what inner products take.
func up(n int) int { return (n + 15) / 16 * 16 }

// lay makes room, all of it zero where it must be.
func (b *batch) lay(n *Net, examples []Example, parallel int) {
	b.net, b.parallel = n, max(1, parallel)
	in := n.layers[0].In
	b.reach, b.size = 0, b.size[:0]
	for _, l := range n.layers {
		b.reach = max(b.reach, l.Width/2)
		b.size = append(b.size, l.In)
	}
	b.size = append(b.size, up(n.layers[len(n.layers)-1].Out))
	b.spans, b.rows = b.spans[:0], b.reach
	for _, e := range examples {
		frames := len(e.Frames) / in
		b.spans = append(b.spans, [2]int{b.rows, b.rows + frames})
		b.rows += frames + b.reach
	}
	if b.grads == nil {
		b.x, b.slopes = make([]floats, len(b.size)), make([]floats, len(b.size))
		for _, p := range n.parameters() {
			b.grads = append(b.grads, make([]float32, len(p)))
		}
		b.lattices = make([]lattice, b.parallel)
	}
	for i, size := range b.size {
		b.x[i] = zeros(b.x[i], b.rows*size)
		if i > 0 {
			b.slopes[i] = zeros(b.slopes[i], b.rows*size)
		}
	}
	if cap(b.heard) < b.rows {
		b.heard, b.steep = make(phones.Heard, b.rows), make(phones.Heard, b.rows)
	}
	b.heard, b.steep = b.heard[:b.rows], b.steep[:b.rows]
}

func zeros(s floats, n int) floats {
	if cap(s) < n {
		return make(floats, n, n+n/4)
	}
	s = s[:n]
	clear(s)
	return s
}

// fill puts the examples in, with noise.
func (b *batch) fill(examples []Example, noise float64, generator func(example, use int) *rand.Rand) {
	in := b.size[0]
	inParallel(b.parallel, len(examples), func(_, k int) {
		x := b.x[0][b.spans[k][0]*in : b.spans[k][1]*in]
		examples[k].Frames.Unpack(x[:0])
		if noise == 0 {
			return
		}
		rng := generator(k, useNoise)
		for i := range x {
			x[i] += float32(noise * rng.NormFloat64())
		}
	})
}

// forward runs the layers.
func (b *batch) forward(dropout float64, generator func(example, use int) *rand.Rand) {
	for i, l := range b.net.layers {
		inTiles := b.tiles()
		inParallel(b.parallel, len(inTiles), func(_, k int) {
			convolve(b.x[i+1], b.x[i], inTiles[k], b.size[i+1], l.Out, l.In, l.Width, l.Weights, l.Bias)
		})
		if i == len(b.net.layers)-1 {
			break
		}
		inParallel(b.parallel, len(b.spans), func(_, k int) {
			y := b.x[i+1][b.spans[k][0]*l.Out : b.spans[k][1]*l.Out]
			dot.Rectify(y)
			if dropout > 0 {
				drop(y, dropout, generator(k, useDropout+i))
			}
		})
	}
}

// drop leaves numbers out by chance and makes up for them with the others.
func drop(y floats, share float64, rng *rand.Rand) {
	limit, scale := uint32(share*(1<<16)), float32(1/(1-share))
	for len(y) > 0 {
		n := min(4, len(y))
		r := rng.Uint64()
		for j := range y[:n] {
			if uint32(r>>(16*j))&0xffff < limit {
				y[j] = 0
			} else {
				y[j] *= scale
			}
		}
		y = y[n:]
	}
}

// losses gives the mean loss and fills in the last slopes. The loss of an example
// is divided by its sounds, so that long ones do not drown short ones.
func (b *batch) losses(examples []Example) float64 {
	last := len(b.net.layers)
	size := b.size[last]
	each := make([]float64, len(examples))
	inParallel(b.parallel, len(examples), func(worker, k int) {
		from, to := b.spans[k][0], b.spans[k][1]
		if len(examples[k].Sounds) == 0 || from == to {
			return
		}
		for t := from; t < to; t++ {
			phones.LogSoftmax(&b.heard[t], b.x[last][t*size:])
		}
		loss, ok := b.lattices[worker].ctc(b.heard[from:to], examples[k].Sounds, b.steep[from:to])
		if !ok {
			return
		}
		share := 1 / float64(len(examples[k].Sounds)*len(examples))
		each[k] = loss * share
		for t := from; t < to; t++ {
			for p, v := range b.steep[t] {
				b.slopes[last][t*size+p] = v * float32(share)
			}
		}
	})
	sum := 0.0
	for _, v := range each {
		sum += v
	}
	return sum
}

// backward turns the last slopes into gradients of all layers.
func (b *batch) backward(dropout float64) {
	keep := float32(1 / (1 - dropout))
	for i := len(b.net.layers) - 1; i >= 0; i-- {
		l := b.net.layers[i]
		b.gradients(i)
		if i == 0 {
			return
		}
		b.turned = turn(b.turned, l, b.size[i+1])
		tiles := b.tiles()
		x, slope := b.x[i], b.slopes[i]
		inParallel(b.parallel, len(tiles), func(_, k int) {
			convolve(slope, b.slopes[i+1], tiles[k], l.In, l.In, b.size[i+1], l.Width, b.turned, nil)
			for j := tiles[k][0] * l.In; j < tiles[k][1]*l.In; j++ {
				if x[j] > 0 {
					slope[j] *= keep
				} else {
					slope[j] = 0
				}
			}
		})
	}
}

// shorten scales gradients that are longer than most.
func (b *batch) shorten(most float64) {
	sum := 0.0
	for _, g := range b.grads {
		for _, v := range g {
			sum += float64(v) * float64(v)
		}
	}
	if length := math.Sqrt(sum); most > 0 && length > most {
		scale := float32(most / length)
		for _, g := range b.grads {
			for k := range g {
				g[k] *= scale
			}
		}
	}
}
