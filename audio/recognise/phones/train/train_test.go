package train

import (
	"bytes"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"sidetone/audio/recognise/phones"
)

var tiny = []Shape{{16, 32, 5}, {32, 16, 3}, {16, phones.Count, 1}}

// babble is speech of four sounds: a sound is three to six frames of its own
// numbers, with noise over them.
func babble(rng *rand.Rand, sounds int) Example {
	var e Example
	var states []float32
	frame := func(p phones.Phone) {
		for i := range 16 {
			v := 0.4 * rng.NormFloat64()
			if i == int(p) {
				v += 3
			}
			states = append(states, float32(v))
		}
	}
	for range sounds {
		p := phones.Phone(1 + rng.IntN(4))
		e.Sounds = append(e.Sounds, p)
		for range 3 + rng.IntN(4) {
			frame(p)
		}
		for range 1 + rng.IntN(2) {
			frame(0)
		}
	}
	e.Frames = Pack(states)
	return e
}

func babbles(seed uint64, n int) []Example {
	rng := rand.New(rand.NewPCG(seed, 0))
	out := make([]Example, n)
	for i := range out {
		out[i] = babble(rng, 2+rng.IntN(6))
	}
	return out
}

func TestGradientsAreThoseOfTheLoss(t *testing.T) {
	for name, shapes := range map[string][]Shape{
		"three layers":                      tiny,
		"one layer":                         {{16, phones.Count, 3}},
		"a wide layer after a narrow one":   {{16, 16, 1}, {16, phones.Count, 7}},
		"outputs that no product fits into": {{16, 16, 3}, {16, phones.Count, 1}},
	} {
		t.Run(name, func(t *testing.T) {
			net, err := NewNet(shapes, 3)
			if err != nil {
				t.Fatal(err)
			}
			examples := babbles(9, 5)
			none := func(int, int) *rand.Rand { return nil }
			var b batch
			loss := func() float64 {
				b.lay(net, examples, 2)
				b.fill(examples, 0, none)
				b.forward(0, none)
				return b.losses(examples)
			}
			loss()
			b.backward(0)
			for i, p := range net.parameters() {
				// Along the gradient, where the loss changes most, and little enough
				// that hardly any output begins or ceases to be 0.
				length := 0.0
				for _, g := range b.grads[i] {
					length += float64(g) * float64(g)
				}
				length = math.Sqrt(length)
				was := slices.Clone(p)
				moved := func(by float64) float64 {
					for k, g := range b.grads[i] {
						p[k] = was[k] + float32(by*float64(g)/length)
					}
					defer copy(p, was)
					return loss()
				}
				const h = 3e-3
				if got := (moved(h) - moved(-h)) / (2 * h); math.Abs(got-length) > 1e-2*length {
					t.Errorf("parameters %d: the loss changes by %v along the gradient, which says %v", i, got, length)
				}
			}
		})
	}
}

func TestATinyNetworkLearnsFourSounds(t *testing.T) {
	net, err := NewNet(tiny, 1)
	if err != nil {
		t.Fatal(err)
	}
	set := Usual
	set.Rate, set.Steps, set.Parallel = 1e-2, 150, 2
	trainer := NewTrainer(net, set)
	data := babbles(1, 16*set.Steps)
	first := trainer.Step(data[:16])
	for at := 16; at < len(data); at += 16 {
		trainer.Step(data[at : at+16])
	}
	learnt, err := phones.Load(net.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	wrong, all := 0, 0
	for _, e := range babbles(2, 100) {
		wrong += Errors(e.Sounds, learnt.Hear(e.Frames.Unpack(nil)).Likeliest())
		all += len(e.Sounds)
	}
	if first < 2 || 20*wrong > all {
		t.Errorf("from a loss of %.2f: %d of %d sounds wrong", first, wrong, all)
	}
}

func TestTheSameSeedTeachesTheSame(t *testing.T) {
	taught := func(parallel int, seed uint64) []byte {
		net, err := NewNet(tiny, seed)
		if err != nil {
			t.Fatal(err)
		}
		set := Usual
		set.Steps, set.Parallel, set.Seed = 5, parallel, seed
		trainer := NewTrainer(net, set)
		data := babbles(1, 16*set.Steps)
		for i := range set.Steps {
			trainer.Step(data[16*i : 16*i+16])
		}
		return net.Bytes()
	}
	one := taught(1, 1)
	if !bytes.Equal(one, taught(2, 1)) {
		t.Error("two at work teach otherwise than one")
	}
	if bytes.Equal(one, taught(1, 2)) {
		t.Error("another seed teaches the same")
	}
}

func TestALoadedNetworkHearsWhatTheTaughtOneDoes(t *testing.T) {
	net, err := NewNet(tiny, 5)
	if err != nil {
		t.Fatal(err)
	}
	loaded, err := phones.Load(net.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	examples := babbles(4, 3)
	var b batch
	none := func(int, int) *rand.Rand { return nil }
	b.lay(net, examples, 1)
	b.fill(examples, 0, none)
	b.forward(0, none)
	b.losses(examples)
	for k, e := range examples {
		heard := loaded.Hear(e.Frames.Unpack(nil))
		for i, frame := range b.heard[b.spans[k][0]:b.spans[k][1]] {
			for p, want := range frame {
				// Weights are rounded to a 255th of the largest.
				if math.Abs(float64(want-heard[i][p])) > 0.05 {
					t.Fatalf("example %d, frame %d, class %d: %v, taught %v", k, i, p, heard[i][p], want)
				}
			}
		}
	}
}

func TestTheMeanLiesHalfwayBetweenTwoNetworks(t *testing.T) {
	var nets []*Net
	for seed := range uint64(2) {
		n, err := NewNet(tiny, seed)
		if err != nil {
			t.Fatal(err)
		}
		nets = append(nets, n)
	}
	a, b := nets[0], nets[1]
	if same := a.Mean(a); !bytes.Equal(same.Bytes(), a.Bytes()) {
		t.Error("halfway from a network to itself is another")
	}
	for i, l := range a.Mean(b).layers {
		for k, w := range l.Weights {
			if away, total := w-a.layers[i].Weights[k], b.layers[i].Weights[k]-a.layers[i].Weights[k]; math.Abs(float64(2*away-total)) > 1e-6 {
				t.Fatalf("layer %d, weight %d: %g of the way of %g", i, k, away, total)
			}
		}
		for k, v := range l.Bias {
			if want := (a.layers[i].Bias[k] + b.layers[i].Bias[k]) / 2; v != want {
				t.Fatalf("layer %d, bias %d: %g, want %g", i, k, v, want)
			}
		}
	}
}

func TestAnExampleWithTooManySoundsIsPassedOver(t *testing.T) {
	net, err := NewNet(tiny, 5)
	if err != nil {
		t.Fatal(err)
	}
	set := Usual
	set.Steps, set.Decay = 2, 0
	trainer := NewTrainer(net, set)
	e := babble(rand.New(rand.NewPCG(1, 1)), 2)
	e.Sounds = make([]phones.Phone, 100)
	for i := range e.Sounds {
		e.Sounds[i] = 1
	}
	before := net.Bytes()
	if loss := trainer.Step([]Example{e}); loss != 0 || !bytes.Equal(before, net.Bytes()) {
		t.Errorf("it has a loss of %v, or the network has changed", loss)
	}
}

func TestTheRateRisesAndFalls(t *testing.T) {
	s := Settings{Rate: 1, Steps: 1001}
	for step, want := range map[int]float64{1: 0.04, 151: 0.52, 301: 1, 651: 0.5, 1001: 0} {
		if got := s.rate(step); math.Abs(got-want) > 1e-3 {
			t.Errorf("rate of step %d is %v, want %v", step, got, want)
		}
	}
}

func TestPackedFramesAreNearlyWhatTheyWere(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	frames := make([]float32, 3*416)
	for i := range frames {
		frames[i] = float32(3 * rng.NormFloat64())
	}
	for i, v := range Pack(frames).Unpack(nil) {
		if math.Abs(float64(v-frames[i])) > math.Abs(float64(frames[i]))/256 {
			t.Errorf("number %d was %v, is %v", i, frames[i], v)
		}
	}
}

// BenchmarkStep learns from 16 examples of 6 seconds; the metric is of the inner
// products only.
func BenchmarkStep(b *testing.B) {
	net, err := NewNet(English, 1)
	if err != nil {
		b.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 1))
	const frames = 250
	examples := make([]Example, 16)
	for i := range examples {
		states := make([]float32, frames*416)
		for k := range states {
			states[k] = rng.Float32()
		}
		examples[i].Frames = Pack(states)
		for range 60 {
			examples[i].Sounds = append(examples[i].Sounds, phones.Phone(1+rng.IntN(39)))
		}
	}
	set := Usual
	set.Steps = 1000
	trainer := NewTrainer(net, set)
	products := 0
	for i, s := range English {
		n := 2
		if i > 0 {
			n = 3
		}
		products += n * s.In * s.Out * s.Width
	}
	for b.Loop() {
		trainer.Step(examples)
	}
	b.ReportMetric(float64(2*products*frames*len(examples)*b.N)/b.Elapsed().Seconds()/1e9, "GFLOP/s")
}
