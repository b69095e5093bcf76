//go:build !amd64

package audio

// dot is the inner product of taps, of which there is a positive multiple of
// 32, with as many samples of x.
func dot(x, taps []float32) float32 { return dotGo(x, taps) }
