package dot

import "golang.org/x/sys/cpu"

var haveAVX2 = cpu.X86.HasAVX2 && cpu.X86.HasFMA

//go:noescape
func dotAVX2(x, taps *float32, n int) float32

//go:noescape
func dot4AVX2(out, x *float32, stride int, taps *float32, n int)

// Product is the inner product of the taps with as many samples of x.
func Product(x, taps []float32) float32 {
	if !haveAVX2 {
		return dotGo(x, taps)
	}
	x = x[:len(taps)]
	return dotAVX2(&x[0], &taps[0], len(taps))
}

// Four puts the inner products of four rows with the taps into out, see the package comment.
func Four(out *[4]float32, x []float32, stride int, taps []float32) {
	if !haveAVX2 {
		dot4Go(out, x, stride, taps)
		return
	}
	x = x[:3*stride+len(taps)]
	dot4AVX2(&out[0], &x[0], stride, &taps[0], len(taps))
}
