package train

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"sidetone/audio/recognise/phones"
)

// randomly gives log-probabilities that sum to 1 in each frame, only the first
// few classes of any weight.
func randomly(rng *rand.Rand, frames, classes int) phones.Heard {
	heard := make(phones.Heard, frames)
	for t := range heard {
		var x [phones.Count]float32
		for p := range x {
			x[p] = -20
			if p < classes {
				x[p] = float32(2 * rng.NormFloat64())
			}
		}
		phones.LogSoftmax(&heard[t], x[:])
	}
	return heard
}

// everyWay sums the probability of every string of classes that reads as sounds
// once repetitions and blanks are left out.
func everyWay(heard phones.Heard, classes int, sounds []phones.Phone) float64 {
	sum := 0.0
	way := make([]phones.Phone, len(heard))
	for {
		var read []phones.Phone
		p := 0.0
		for t, c := range way {
			p += float64(heard[t][c])
			if c != blank && (t == 0 || way[t-1] != c) {
				read = append(read, c)
			}
		}
		if slices.Equal(read, sounds) {
			sum += math.Exp(p)
		}
		t := 0
		for ; t < len(way); t++ {
			if way[t]++; int(way[t]) < classes {
				break
			}
			way[t] = 0
		}
		if t == len(way) {
			return sum
		}
	}
}

func TestLossIsThatOfEveryWayToLayTheSounds(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		name   string
		frames int
		sounds []phones.Phone
	}{
		{"one sound in one frame", 1, []phones.Phone{1}},
		{"one sound in five frames", 5, []phones.Phone{2}},
		{"two sounds in two frames leave one way", 2, []phones.Phone{1, 2}},
		{"three sounds in six frames", 6, []phones.Phone{1, 3, 2}},
		{"two alike need a blank between them", 3, []phones.Phone{2, 2}},
		{"two alike among others", 7, []phones.Phone{1, 2, 2, 1}},
		{"a sound that comes again after another", 6, []phones.Phone{1, 2, 1}},
		{"no sound at all", 4, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			const classes = 4
			heard := randomly(rng, c.frames, classes)
			var l lattice
			loss, ok := l.ctc(heard, c.sounds, make(phones.Heard, c.frames))
			want := -math.Log(everyWay(heard, classes, c.sounds))
			if !ok || math.Abs(loss-want) > 1e-6 {
				t.Errorf("loss %v (%v), want %v", loss, ok, want)
			}
		})
	}
}

func TestTooFewFramesAreTold(t *testing.T) {
	for _, sounds := range [][]phones.Phone{{1, 2, 3}, {1, 1}} {
		heard := randomly(rand.New(rand.NewPCG(1, 3)), 2, 4)
		var l lattice
		if loss, ok := l.ctc(heard, sounds, make(phones.Heard, 2)); ok {
			t.Errorf("%v in two frames has loss %v", sounds, loss)
		}
	}
}

func TestSlopeIsThatOfTheLoss(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 5))
	const frames = 6
	x := make([][phones.Count]float32, frames)
	for t := range x {
		for p := range x[t] {
			x[t][p] = float32(rng.NormFloat64())
		}
	}
	sounds := []phones.Phone{3, 7, 7}
	var l lattice
	slope := make(phones.Heard, frames)
	loss := func() float64 {
		heard := make(phones.Heard, frames)
		for t := range x {
			phones.LogSoftmax(&heard[t], x[t][:])
		}
		v, _ := l.ctc(heard, sounds, slope)
		return v
	}
	loss()
	got := slices.Clone(slope)
	for f := range x {
		for p := range x[f] {
			const h = 1e-2
			was := x[f][p]
			x[f][p] = was + h
			above := loss()
			x[f][p] = was - h
			below := loss()
			x[f][p] = was
			if want := (above - below) / (2 * h); math.Abs(want-float64(got[f][p])) > 1e-3 {
				t.Errorf("slope of frame %d, class %d is %v, want %v", f, p, got[f][p], want)
			}
		}
	}
}
