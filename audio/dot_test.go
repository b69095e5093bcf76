package audio

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/blas/gonum"
)

func TestDotAgreesWithGonum(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	x := make([]float32, 2048)
	taps := make([]float32, 1024)
	for i := range x {
		x[i] = 2*rng.Float32() - 1
	}
	for i := range taps {
		taps[i] = 2*rng.Float32() - 1
	}
	for n := 32; n <= len(taps); n += 32 {
		for from := range 9 { // every alignment
			want := gonum.Implementation{}.Dsdot(n, x[from:], 1, taps, 1) // sums in float64
			for name, f := range map[string]func(x, taps []float32) float32{"dot": dot, "dotGo": dotGo} {
				if got := float64(f(x[from:], taps[:n])); math.Abs(got-want) > 1e-5*math.Sqrt(float64(n)) {
					t.Errorf("%s of %d from %d is %v, want %v", name, n, from, got, want)
				}
			}
		}
	}
}

func BenchmarkDot(b *testing.B) {
	x, taps := make([]float32, 4096), make([]float32, 384)
	for name, f := range map[string]func(x, taps []float32) float32{
		"dot": dot, "plain Go": dotGo,
		"gonum": func(x, taps []float32) float32 { return gonum.Implementation{}.Sdot(len(taps), x, 1, taps, 1) },
	} {
		b.Run(name, func(b *testing.B) {
			at := 0
			for b.Loop() {
				f(x[at:], taps)
				if at += 3; at > 3500 {
					at = 0
				}
			}
		})
	}
}
