package audio

import "golang.org/x/sys/cpu"

var haveAVX2 = cpu.X86.HasAVX2 && cpu.X86.HasFMA

//go:noescape
func dotAVX2(x, taps *float32, n int) float32

// dot is the inner product of taps, of which there is a positive multiple of
// 32, with as many samples of x. Nine tenths of the time it takes to listen to
// a file is spent here; see BenchmarkDot for what the assembly is worth.
func dot(x, taps []float32) float32 {
	if !haveAVX2 {
		return dotGo(x, taps)
	}
	x = x[:len(taps)]
	return dotAVX2(&x[0], &taps[0], len(taps))
}
