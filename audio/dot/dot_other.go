//go:build !amd64

package dot

// Product is the inner product of the taps with as many samples of x.
func Product(x, taps []float32) float32 { return dotGo(x, taps) }

// Four puts the inner products of four rows with the taps into out, see the package comment.
func Four(out *[4]float32, x []float32, stride int, taps []float32) {
	dot4Go(out, x, stride, taps)
}
