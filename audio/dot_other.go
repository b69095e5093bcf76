//go:build !amd64

package audio

func dot(x, taps []float32) float32 { return dotGo(x, taps) }

func dot4(out *[4]float32, x []float32, stride int, taps []float32) {
	dot4Go(out, x, stride, taps)
}
