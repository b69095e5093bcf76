package dot

// Convolve gives the outputs, frame by frame, of a convolution over frames of in
// numbers each, as if there were nothing before and after. Weights are by output,
// then frame (width of them, an odd number), then input; an output has one bias.
func Convolve(x []float32, frames, in, out, width int, weights, bias []float32) []float32 {
	before := width / 2 * in
	padded := make([]float32, len(x)+2*before)
	copy(padded[before:], x)
	row := in * width
	y := make([]float32, frames*out)
	for o := range out {
		w := weights[o*row : (o+1)*row]
		t := 0
		var four [4]float32
		for ; row%16 == 0 && t+4 <= frames; t += 4 {
			Four(&four, padded[t*in:], in, w)
			for k, v := range four {
				y[(t+k)*out+o] = v + bias[o]
			}
		}
		for ; t < frames; t++ {
			y[t*out+o] = Inner(padded[t*in:], w) + bias[o]
		}
	}
	return y
}

// Rectify makes what is below 0 of x 0, as layers do between convolutions.
func Rectify(x []float32) {
	for i, v := range x {
		x[i] = max(v, 0)
	}
}

// Inner is Product for any number of weights.
func Inner(x, w []float32) float32 {
	whole := len(w) / 16 * 16
	sum := float32(0)
	if whole > 0 {
		sum = Product(x, w[:whole])
	}
	for i := whole; i < len(w); i++ {
		sum += x[i] * w[i]
	}
	return sum
}
