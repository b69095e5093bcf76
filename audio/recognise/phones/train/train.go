// Package train teaches the network of phonemes from examples that do not say
// when each sound was made, only which came after which: connectionist temporal
// classification (Graves, Fernández, Gomez and Schmidhuber, "Connectionist
// Temporal Classification: Labelling Unsegmented Sequence Data with Recurrent
// Neural Networks", ICML 2006).
//
// Nearly all of the time goes into inner products, forward as well as back; the
// gradients are arranged so that they are inner products too, over transposed
// copies. What comes out depends on the seed alone, not on how many work at it.
package train

import (
	"math"
	"math/rand/v2"

	"sidetone/audio/recognise/phones"
)

// Example is what the encoder made of some speech, and the sounds of it in order.
type Example struct {
	Frames Frames
	Sounds []phones.Phone
}

// Settings of the teaching.
type Settings struct {
	Rate     float64 // the highest learning rate
	Decay    float64 // of the weights, as a share of the learning rate
	Dropout  float64 // share of the hidden numbers left out at each step
	Noise    float64 // standard deviation of what is added to the input, whose own is 1
	Clip     float64 // longest gradient
	Steps    int     // batches to come, for the rise and fall of the rate
	Seed     uint64
	Parallel int // goroutines
}

// Usual are settings that served well; Steps is left to the caller.
var Usual = Settings{Rate: 2e-3, Decay: 1e-4, Dropout: 0.1, Noise: 0.02, Clip: 5, Parallel: 1}

// Trainer teaches a network.
type Trainer struct {
	net  *Net
	set  Settings
	step int
	adam adam
	work batch
}

// NewTrainer teaches net from where it is.
func NewTrainer(net *Net, set Settings) *Trainer {
	return &Trainer{net: net, set: set, adam: newAdam(net)}
}

// Step learns from a batch and gives its mean loss in nats a sound. Examples with
// more sounds than their frames can hold are passed over.
func (t *Trainer) Step(examples []Example) float64 {
	b := &t.work
	b.lay(t.net, examples, t.set.Parallel)
	b.fill(examples, t.set.Noise, t.generator)
	b.forward(t.set.Dropout, t.generator)
	loss := b.losses(examples)
	b.backward(t.set.Dropout)
	b.shorten(t.set.Clip)
	t.step++
	t.adam.learn(t.net, b.grads, t.step, t.set.rate(t.step), t.set.Decay)
	return loss
}

// generator of random numbers of one example of this step.
func (t *Trainer) generator(example, use int) *rand.Rand {
	return rand.New(rand.NewPCG(t.set.Seed, uint64(t.step)<<16|uint64(example)<<4|uint64(use)))
}

// rate of a step, from 1: it rises for three tenths of the time and falls for
// the rest, both as a cosine does (Smith and Topin, "Super-Convergence: Very Fast
// Training of Neural Networks Using Large Learning Rates", 2018).
func (s Settings) rate(step int) float64 {
	const rising, first, last = 0.3, 1.0 / 25, 1e-5
	at := float64(step-1) / math.Max(1, float64(s.Steps-1))
	from, to, share := first, 1.0, at/rising
	if at > rising {
		from, to, share = 1, last, math.Min(1, (at-rising)/(1-rising))
	}
	return s.Rate * (to + (from-to)*(1+math.Cos(math.Pi*share))/2)
}
