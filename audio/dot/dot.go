// Package dot has the inner products that nine tenths of the time of listening
// to a file go into: of samples with the taps of a filter, of what a network
// hears with its weights. On amd64 they are taken eight at a time; BenchmarkDot
// tells what that is worth.
//
// Product takes the first len(taps) numbers of x, Four those of x, x[stride:],
// x[2*stride:] and x[3*stride:]. The number of taps is a positive multiple of
// 16. Both sum in the same order, so a sample does not depend on which of the
// two it fell to.
package dot

// dotGo keeps four sums, so that an addition need not wait for the one before it.
func dotGo(x, taps []float32) float32 {
	x = x[:len(taps)]
	var a, b, c, d float32
	for len(taps) >= 4 && len(x) >= 4 {
		a += taps[0] * x[0]
		b += taps[1] * x[1]
		c += taps[2] * x[2]
		d += taps[3] * x[3]
		taps, x = taps[4:], x[4:]
	}
	return (a + b) + (c + d)
}

func dot4Go(out *[4]float32, x []float32, stride int, taps []float32) {
	for i := range out {
		out[i] = dotGo(x[i*stride:], taps)
	}
}
