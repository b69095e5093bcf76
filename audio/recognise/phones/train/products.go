package train

import (
	"sync"
	"sync/atomic"

	"sidetone/audio/dot"
	"sidetone/audio/recognise/phones"
)

// tiles cuts the examples into stretches of rows that fit a core's cache.
func (b *batch) tiles() [][2]int {
	const most = 96
	var out [][2]int
	for _, s := range b.spans {
		for from := s[0]; from < s[1]; from += most {
			out = append(out, [2]int{from, min(from+most, s[1])})
		}
	}
	return out
}

// convolve puts into rows of y, of size numbers, a convolution over time of the
// rows of x, of in numbers; weights by output, then frame, then input.
func convolve(y, x floats, rows [2]int, size, out, in, width int, weights, bias floats) {
	row := in * width
	first := (rows[0] - width/2) * in
	n := rows[1] - rows[0]
	for o := range out {
		w, add := weights[o*row:(o+1)*row], float32(0)
		if bias != nil {
			add = bias[o]
		}
		to := y[rows[0]*size+o:]
		t := 0
		var four [4]float32
		for ; t+4 <= n; t += 4 {
			dot.Four(&four, x[first+t*in:], in, w)
			to[t*size], to[(t+1)*size], to[(t+2)*size], to[(t+3)*size] = four[0]+add, four[1]+add, four[2]+add, four[3]+add
		}
		for ; t < n; t++ {
			to[t*size] = dot.Product(x[first+t*in:], w) + add
		}
	}
}

// turn arranges a layer's weights by input, then frame backwards, then output, of
// which there are size: a convolution with them takes slopes from outputs to inputs.
func turn(turned floats, l *phones.Layer, size int) floats {
	turned = zeros(turned, l.In*l.Width*size)
	for o := range l.Out {
		for k := range l.Width {
			from := l.Weights[(o*l.Width+k)*l.In:][:l.In]
			for i, w := range from {
				turned[(i*l.Width+l.Width-1-k)*size+o] = w
			}
		}
	}
	return turned
}

// gradients of layer i: for each weight the inner product, over time, of the slope
// of its output with its input, so both are transposed first.
func (b *batch) gradients(i int) {
	l := b.net.layers[i]
	weights, bias := b.grads[2*i], b.grads[2*i+1]
	clear(weights)
	// Time runs from the first row an example may have to the last; the input
	// reaches beyond. A row of numbers in time is no power of two long, or all
	// would fall to the same lines of the cache.
	n := up(b.rows - 2*b.reach)
	stride := n + 16
	if stride/16%2 == 0 {
		stride += 16
	}
	half := l.Width / 2
	b.flat[0] = b.flatten(b.flat[0], b.x[i], b.size[i], l.In, b.reach-half, stride)
	b.flat[1] = b.flatten(b.flat[1], b.slopes[i+1], b.size[i+1], l.Out, b.reach, stride)
	x, slope := b.flat[0], b.flat[1]
	const tile, inputs, outputs = 512, 4, 32
	shares := (l.Out + outputs - 1) / outputs
	inParallel(b.parallel, shares, func(_, share int) {
		low, high := share*outputs, min(l.Out, (share+1)*outputs)
		var four [4]float32
		for from := 0; from < n; from += tile {
			to := min(n, from+tile)
			for in := 0; in < l.In; in += inputs {
				for o := low; o < high; o++ {
					w := slope[o*stride+from : o*stride+to]
					g := weights[o*l.Width*l.In+in:]
					for k := range l.Width {
						dot.Four(&four, x[in*stride+from+k:], stride, w)
						g := g[k*l.In:][:4]
						g[0] += four[0]
						g[1] += four[1]
						g[2] += four[2]
						g[3] += four[3]
					}
				}
			}
		}
		for o := low; o < high; o++ {
			sum := float32(0)
			for _, v := range slope[o*stride : o*stride+n] {
				sum += v
			}
			bias[o] = sum
		}
	})
}

// flatten transposes the first so many columns of rows of size numbers, from a
// row on, into rows of stride numbers; what is left over of them is zero.
func (b *batch) flatten(out, in floats, size, columns, first, stride int) floats {
	out = zeros(out, columns*stride)
	const side = 16
	inParallel(b.parallel, (columns+side-1)/side, func(_, k int) {
		low, high := k*side, min(columns, (k+1)*side)
		for t := first; t < b.rows && t-first < stride; t++ {
			for c, v := range in[t*size+low : t*size+high] {
				out[(low+c)*stride+t-first] = v
			}
		}
	})
	return out
}

// inParallel calls do for 0 to n-1, each once, from so many goroutines.
func inParallel(workers, n int, do func(worker, i int)) {
	if workers <= 1 {
		for i := range n {
			do(0, i)
		}
		return
	}
	var next atomic.Int64
	var group sync.WaitGroup
	for w := range workers {
		group.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				do(w, i)
			}
		})
	}
	group.Wait()
}
