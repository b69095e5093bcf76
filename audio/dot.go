package audio

// Nine tenths of the time it takes to listen to a file go into inner products
// of samples with taps, so on amd64 they are taken eight at a time; see
// BenchmarkDot for what that is worth. There are two:
//
//	dot(x, taps)                 with the first len(taps) samples of x
//	dot4(out, x, stride, taps)   with x, x[stride:], x[2*stride:], x[3*stride:]
//
// The number of taps is a positive multiple of 16. Both sum in the same order,
// so a sample does not depend on which of the two it fell to.

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
