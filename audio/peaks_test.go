package audio

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Whatever the length and the blocks, the buckets hold exactly the extremes of
// the samples they stand for.
func TestPeaksHoldTheExtremesOfTheirSamples(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		limit := rapid.IntRange(2, 41).Draw(t, "buckets")
		n := rapid.IntRange(0, 30000).Draw(t, "samples")
		block := rapid.IntRange(1, 3000).Draw(t, "block")
		seed := rapid.Uint32().Draw(t, "seed")
		x := make([]float32, n)
		for i := range x {
			seed = seed*1664525 + 1013904223
			x[i] = float32(int32(seed)) / (1 << 31)
		}
		p := NewPeaks(limit)
		for part := range slices.Chunk(x, block) {
			p.Add(part)
		}
		mins, maxs, width := p.Extremes()
		if p.Len() != n {
			t.Fatalf("%d samples taken, want %d", p.Len(), n)
		}
		if want := (n + width - 1) / width; len(mins) != want || len(maxs) != want || want > limit {
			t.Fatalf("%d and %d buckets of %d for %d samples, at most %d", len(mins), len(maxs), width, n, limit)
		}
		if n > 64*limit && len(mins) < limit/2 {
			t.Fatalf("only %d of %d buckets used", len(mins), limit)
		}
		for i := range mins {
			part := x[i*width : min((i+1)*width, n)]
			if mins[i] != slices.Min(part) || maxs[i] != slices.Max(part) {
				t.Fatalf("bucket %d holds %v to %v, its samples %v to %v", i, mins[i], maxs[i], slices.Min(part), slices.Max(part))
			}
		}
	})
}
