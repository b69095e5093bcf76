package phones

import (
	"math"
	"math/rand/v2"
	"testing"

	"sidetone/audio"
)

const testSize = 16 // numbers an encoder gives a frame

func features(samples []float32, frames int) []float32 {
	return Features(make([]float32, frames*testSize), testSize, samples)
}

func noise(n int, loud float64, rng *rand.Rand) []float32 {
	x := make([]float32, n)
	for i := range x {
		x[i] = float32(loud * rng.NormFloat64())
	}
	return x
}

func TestFramesOfTheEncoderComeWithMean0AndVariance1(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	got := Features(noise(3*testSize, 5, rng), testSize, noise(3*Hop, 0.1, rng))
	if len(got) != 3*(testSize+Spectrum) {
		t.Fatalf("3 frames gave %d numbers", len(got))
	}
	for f := range 3 {
		var sum, squares float64
		for _, v := range got[f*(testSize+Spectrum):][:testSize] {
			sum += float64(v)
			squares += float64(v) * float64(v)
		}
		if math.Abs(sum/testSize) > 1e-3 || math.Abs(squares/testSize-1) > 1e-3 {
			t.Errorf("frame %d has mean %v, mean square %v", f, sum/testSize, squares/testSize)
		}
	}
}

func TestTheSpectrumDoesNotDependOnHowLoudItIs(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 2))
	x := noise(audio.Rate, 0.2, rng)
	quiet := make([]float32, len(x))
	for i, v := range x {
		quiet[i] = v / 16
	}
	a, b := features(x, 40), features(quiet, 40)
	for i := range a {
		if math.Abs(float64(a[i]-b[i])) > 1e-3 {
			t.Fatalf("number %d is %v, of the sound 24 dB fainter %v", i, a[i], b[i])
		}
	}
}

// A tone lights up the band it lies in: its number in mel, of those between lowest
// and highest (O'Shaughnessy's formula: 1000 Hz is 1000 mel).
func TestAToneLightsUpItsBand(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	const at = 20 // the frame it begins with
	for _, hz := range []float64{300, 1000, 2500, 6000} {
		x := noise(audio.Rate, 1e-3, rng)
		for i := First + at*Hop - Hop/2; i < len(x); i++ {
			x[i] += float32(0.3 * math.Sin(2*math.Pi*hz*float64(i)/audio.Rate))
		}
		mels := func(hz float64) float64 { return 1127.01048 * math.Log(1+hz/700) }
		want := (mels(hz)-mels(lowest))/(mels(highest)-mels(lowest))*(bands+1) - 1
		got := features(x, 40)
		for _, f := range []int{at - 2, at + 2} {
			row := got[f*(testSize+Spectrum)+testSize:][:bands]
			best := 0
			for b, v := range row {
				if v > row[best] {
					best = b
				}
			}
			lit := math.Abs(float64(best)-want) <= 1 && row[best] > 1
			if lit != (f > at) {
				t.Errorf("%v Hz from frame %d on: in frame %d band %d is the brightest with %.1f; the tone lies in %.1f", hz, at, f, best, row[best], want)
			}
		}
	}
}

func TestASoundThatEndsBeforeItsFramesIsSilentThere(t *testing.T) {
	for name, samples := range map[string][]float32{"nothing": nil, "one sample": {0.5}, "all of it 0": make([]float32, 4*Hop)} {
		for i, v := range features(samples, 9) {
			if math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
				t.Fatalf("%s: number %d is %v", name, i, v)
			}
		}
	}
}
