package audio

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
