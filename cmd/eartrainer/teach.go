package main

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"time"

	"sidetone/audio/recognise/phones"
	"sidetone/audio/recognise/phones/train"
)

// batchSize is how many examples are learnt from at once.
const batchSize = 16

// heldExamples is how many of a voice are listened to for the report.
const heldExamples = 100

// lessonPlan is what is learnt from and what is only listened to.
type lessonPlan struct {
	learn []example
	ears  []ear
}

// ear is examples that tell how well is heard.
type ear struct {
	name     string
	examples []example
}

// split keeps the held voices back, and a few examples of the others. What is
// listened to is by chance, the same for a seed.
func split(all, human []example, held []string, seed uint64) (lessonPlan, error) {
	rng := rand.New(rand.NewPCG(seed, streamOrder))
	rng.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	byVoice := map[string][]example{}
	var p lessonPlan
	for _, e := range all {
		if slices.Contains(held, e.voice) {
			byVoice[e.voice] = append(byVoice[e.voice], e)
		} else {
			p.learn = append(p.learn, e)
		}
	}
	n := min(heldExamples, len(p.learn)/10)
	p.ears = append(p.ears, ear{"voices learnt from", p.learn[:n]})
	p.learn = p.learn[n:]
	for _, v := range held {
		if len(byVoice[v]) == 0 {
			return p, fmt.Errorf("there is no voice %q to hold back", v)
		}
		p.ears = append(p.ears, ear{v, byVoice[v][:min(heldExamples, len(byVoice[v]))]})
	}
	if len(human) > 0 {
		p.ears = append(p.ears, ear{promptVoice, human})
	}
	if len(p.learn) == 0 {
		return p, fmt.Errorf("nothing is left to learn from")
	}
	return p, nil
}

// teach goes through the examples so many times and calls save after each; with half
// of what another network knows, unless that is nil.
func teach(ctx context.Context, net, other *train.Net, p lessonPlan, epochs int, set train.Settings, report io.Writer, save func([]byte) error) error {
	set.Steps = epochs * ((len(p.learn) + batchSize - 1) / batchSize)
	trainer := train.NewTrainer(net, set)
	rng := rand.New(rand.NewPCG(set.Seed, streamOrder))
	for epoch := range epochs {
		begun := time.Now()
		batches := batches(p.learn, rng)
		sum := 0.0
		for i, b := range batches {
			if ctx.Err() != nil {
				return context.Cause(ctx)
			}
			for k := range b {
				b[k] = masked(b[k], rng)
			}
			sum += trainer.Step(b)
			if (i+1)%200 == 0 {
				fmt.Fprintf(report, "  batch %d of %d: loss %.3f\n", i+1, len(batches), sum/float64(i+1))
			}
		}
		file := net.Bytes()
		if other != nil {
			file = net.Mean(other).Bytes()
		}
		taught, err := phones.Load(file)
		if err != nil {
			return err
		}
		fmt.Fprintf(report, "time %d of %d through: loss %.3f, sounds wrong:", epoch+1, epochs, sum/float64(len(batches)))
		for _, e := range p.ears {
			fmt.Fprintf(report, " %s %.1f %%;", e.name, e.wrong(taught))
		}
		fmt.Fprintf(report, " %.0f s\n", time.Since(begun).Seconds())
		if err := save(file); err != nil {
			return err
		}
	}
	return nil
}

// batches puts examples of like length together, in an order by chance.
func batches(from []example, rng *rand.Rand) [][]train.Example {
	const about = 30 // frames' numbers are taken for alike
	type one struct {
		length float64
		e      train.Example
	}
	order := make([]one, len(from))
	for i, e := range from {
		order[i] = one{float64(len(e.Frames)/train.English[0].In) + about*rng.Float64(), e.Example}
	}
	slices.SortStableFunc(order, func(a, b one) int { return cmp.Compare(a.length, b.length) })
	var out [][]train.Example
	for some := range slices.Chunk(order, batchSize) {
		var b []train.Example
		for _, o := range some {
			b = append(b, o.e)
		}
		out = append(out, b)
	}
	rng.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	return out
}

// wrong is how many in a hundred sounds are missing, too many or others, when the
// likeliest class of each frame is taken.
func (e ear) wrong(net *phones.Net) float64 {
	wrong, all := 0, 0
	for _, x := range e.examples {
		wrong += train.Errors(x.Sounds, net.Hear(x.Frames.Unpack(nil)).Likeliest())
		all += len(x.Sounds)
	}
	return 100 * float64(wrong) / float64(max(1, all))
}
