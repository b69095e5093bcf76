package train

import (
	"math"
	"math/rand/v2"
	"testing"

	"sidetone/callouts/meaning"
)

func small(rng *rand.Rand) (*Model, Example) {
	given := make([]float32, 5*6)
	for i := range given {
		given[i] = float32(rng.NormFloat64())
	}
	m := NewModel(given, 6, 4, 5, []int{1, 2}, 3, 2, rng)
	e := Example{{Row: 1, Class: 0, Meant: Any}, {Row: 2, Class: 1, Marks: [meaning.Marks]float32{1}}, {Row: 4, Class: 2, Meant: 1}, {Row: 2, Class: Any, Meant: Any}, {Row: 3, Class: 1, Meant: Any, Marks: [meaning.Marks]float32{0, 1, 1, 1}}}
	return m, e
}

func TestTheGradientIsTheSlopeOfTheLoss(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	m, e := small(rng)
	w := newWorker(m)
	w.reset()
	w.learn([]Example{e, e[1:]}, 0, 0, rng)
	loss := func() float64 {
		v := newWorker(m)
		v.learn([]Example{e, e[1:]}, 0, 0, rng)
		return v.loss
	}
	const h = 5e-4 // small, for the slope breaks where a number is rectified
	for p, x := range m.parameters() {
		for k := range x {
			was := x[k]
			x[k] = was + h
			up := loss()
			x[k] = was - h
			down := loss()
			x[k] = was
			slope := (up - down) / (2 * h)
			if d := math.Abs(slope - float64(w.grads[p][k])); d > 0.02+0.05*math.Abs(slope) {
				t.Errorf("parameter %d[%d]: gradient %.4f, the loss rises by %.4f", p, k, w.grads[p][k], slope)
			}
		}
	}
}

func TestTheNetworkWrittenReadsAsTheModelLearnt(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	m, e := small(rng)
	words := []string{"a", "b", "c", "d"}
	classes := []string{"", "x", "y"}
	n, err := meaning.Load(meaning.Write(words, m.Vectors(), classes, []string{"done", "denied"}, m.Layers, meaning.Belief{}))
	if err != nil {
		t.Fatal(err)
	}
	said := []meaning.Word{{Text: "a"}, {Text: "b", Comma: true}, {Text: "d"}, {Text: "b"}, {Text: "c", Stop: true, Question: true}}
	got, meant := n.Read(said)
	w := newWorker(m)
	w.forward([]Example{e}, 0, 0, rng)
	for i := range e {
		z := w.x[len(w.x)-1][i*5 : i*5+5]
		for _, part := range []struct {
			name   string
			z, got []float32
		}{{"class", z[:3], got[i]}, {"way", z[3:], meant[i]}} {
			sum := 0.0
			for _, v := range part.z {
				sum += math.Exp(float64(v))
			}
			for c, v := range part.z {
				want := float64(v) - math.Log(sum)
				if d := math.Abs(want - float64(part.got[c])); d > 0.1 { // int8
					t.Errorf("word %d, %s %d: %.3f, the model gives %.3f", i, part.name, c, part.got[c], want)
				}
			}
		}
	}
}

func TestAModelLearnsWhatItIsShown(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	m, e := small(rng)
	all := make([]Example, 64)
	for i := range all {
		all[i] = e
	}
	var first, last float64
	Teach(m, func(int) []Example { return all }, How{Epochs: 12, Batch: 4, Rate: 0.02, Parallel: 2}, func(epoch int, loss float64) {
		if epoch == 0 {
			first = loss
		}
		last = loss
	})
	if last > 0.05 || first < last {
		t.Errorf("loss %.3f, then %.3f nats a word", first, last)
	}
}
