package main

import "math"

// stretch plays samples faster (above 1) or slower, voice and all: each comes from
// those around its place in the original, through a low-pass filter of a windowed
// sinc that keeps what is played faster from folding over.
func stretch(x []float64, faster float64) []float64 {
	const half = 16 // samples the filter reaches each way, at its usual width
	cut := math.Min(1, 1/faster)
	reach := float64(half) / cut
	out := make([]float64, int(float64(len(x))/faster))
	for i := range out {
		at := float64(i) * faster
		low, high := max(0, int(math.Ceil(at-reach))), min(len(x)-1, int(at+reach))
		sum := 0.0
		for k := low; k <= high; k++ {
			sum += x[k] * sincs.at((at-float64(k))*cut)
		}
		out[i] = sum * cut
	}
	return out
}

// sincTable is a sinc under a Hann window of 16 samples each way.
type sincTable [16*sincSteps + 2]float64

const sincSteps = 256 // a sample

var sincs = func() *sincTable {
	var t sincTable
	for i := range t {
		x := float64(i) / sincSteps
		switch {
		case i == 0:
			t[i] = 1
		case x < 16:
			t[i] = math.Sin(math.Pi*x) / (math.Pi * x) * (1 + math.Cos(math.Pi*x/16)) / 2
		}
	}
	return &t
}()

func (t *sincTable) at(x float64) float64 {
	x = math.Abs(x) * sincSteps
	i := int(x)
	if i >= len(t)-1 {
		return 0
	}
	return t[i] + (x-float64(i))*(t[i+1]-t[i])
}
