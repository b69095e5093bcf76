package dot

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/blas/gonum"
)

func TestDotAgreesWithGonum(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	x := make([]float32, 4096)
	taps := make([]float32, 1024)
	for i := range x {
		x[i] = 2*rng.Float32() - 1
	}
	for i := range taps {
		taps[i] = 2*rng.Float32() - 1
	}
	for n := 16; n <= len(taps); n += 16 {
		for from := range 9 { // every alignment
			for _, stride := range []int{1, 3, 441} {
				var four, fourGo [4]float32
				Four(&four, x[from:], stride, taps[:n])
				dot4Go(&fourGo, x[from:], stride, taps[:n])
				for i := range four {
					part := x[from+i*stride:]
					want := gonum.Implementation{}.Dsdot(n, part, 1, taps, 1) // sums in float64
					one := Product(part, taps[:n])
					if one != four[i] {
						t.Fatalf("dot of %d from %d is %v, Four gives %v", n, from+i*stride, one, four[i])
					}
					for _, got := range []float32{one, fourGo[i], dotGo(part, taps[:n])} {
						if math.Abs(float64(got)-want) > 1e-5*math.Sqrt(float64(n)) {
							t.Errorf("dot of %d from %d is %v, want %v", n, from+i*stride, got, want)
						}
					}
				}
			}
		}
	}
}

// BenchmarkDot takes four inner products, as for four samples from 48 kHz.
func BenchmarkDot(b *testing.B) {
	x, taps := make([]float32, 4096), make([]float32, 384)
	var out [4]float32
	for name, f := range map[string]func(x []float32){
		"Four":     func(x []float32) { Four(&out, x, 3, taps) },
		"plain Go": func(x []float32) { dot4Go(&out, x, 3, taps) },
		"gonum": func(x []float32) {
			for i := range out {
				out[i] = gonum.Implementation{}.Sdot(len(taps), x[3*i:], 1, taps, 1)
			}
		},
	} {
		b.Run(name, func(b *testing.B) {
			at := 0
			for b.Loop() {
				f(x[at:])
				if at += 12; at > 3500 {
					at = 0
				}
			}
		})
	}
}
