package hear

import (
	"slices"
	"testing"

	"sidetone/audio"
)

// A segment as it was is the same stretch of the recording, wherever it was cut.
func TestVoicesAreToldBySoundWithItsNoise(t *testing.T) {
	x := make([]float32, 200*audio.Rate)
	for i := range x {
		x[i] = float32(i%1000) / 2000
	}
	u := &unreduced{}
	const block = 4096
	for at := 0; at+block <= len(x); at += block {
		u.add(at, x[at:at+block])
		for _, from := range []int{at + block - 12*audio.Rate, at, at + block - 10} { // up to 12 s ago
			if from < 0 {
				continue
			}
			n := at + block - from
			got := u.of(audio.Segment{Start: float64(from) / audio.Rate, Samples: make([]float32, n)})
			if !slices.Equal(got.Samples, x[from:from+n]) {
				t.Fatalf("the segment from sample %d to %d is another stretch", from, from+n)
			}
		}
	}
	reduced := audio.Segment{Start: 500, Samples: []float32{1, 2, 3}}
	if got := u.of(reduced); !slices.Equal(got.Samples, reduced.Samples) {
		t.Errorf("of a stretch that is not kept it gives %v", got.Samples)
	}
	u.add(300*audio.Rate, x[:block]) // nobody listened in between
	if got := u.of(audio.Segment{Start: 300, Samples: make([]float32, block)}); !slices.Equal(got.Samples, x[:block]) {
		t.Error("after a gap it gives another stretch")
	}
}
