package onnx

import (
	"context"
	"fmt"
	"math"

	"sidetone/audio"
	"sidetone/audio/recognise/phones"
	"sidetone/audio/transcript"
)

// shortest is the least sound the encoder takes, in samples; shorter segments
// are filled up with silence.
const shortest = audio.Rate / 2

// faintest is the least peak, of full scale, that may be speech: below it is
// the noise of a converter, of which the model is not sure that it is silence.
const faintest = 1e-3

// Recognise implements recognise.Recogniser.
func (r *Recogniser) Recognise(ctx context.Context, seg audio.Segment) (transcript.Utterance, error) {
	u := transcript.Utterance{Start: seg.Start, End: seg.End(), Channel: seg.Channel}
	samples := centred(seg.Samples)
	if !audible(samples) {
		return u, nil
	}
	words, err := r.listen(ctx, samples, seg, recuts)
	if err != nil {
		return u, fmt.Errorf("listening at %.1f s: %w", seg.Start, err)
	}
	u.Words, u.Text = words, transcript.Join(words)
	return u, nil
}

// listen gives the words of samples, which are those of seg. Where the model goes
// astray they are cut in two and heard anew, and those parts again, so many times.
func (r *Recogniser) listen(ctx context.Context, samples []float32, seg audio.Segment, recuts int) ([]transcript.Word, error) {
	if len(samples) < shortest {
		samples = append(append(make([]float32, 0, shortest), samples...), make([]float32, shortest-len(samples))...)
	}
	hidden, err := r.encode(samples)
	if err != nil {
		return nil, err
	}
	defer hidden.Destroy()
	limit := int(math.Ceil(float64(len(samples))/audio.Rate*tokensPerSecond)) + 2
	free, err := r.decode(ctx, hidden, limit)
	if err != nil {
		return nil, err
	}
	words := r.words(free.tokens)
	var heard phones.Heard
	if r.spotter != nil {
		heard = r.spotter.hear(hidden, samples)
		free.astray = free.astray || r.spotter.tooFew(words, heard)
	}
	if free.astray && recuts > 0 && len(seg.Samples) >= 2*shortest {
		at := quietest(samples[:len(seg.Samples)])
		first, second := seg, seg
		first.Samples = seg.Samples[:at]
		second.Samples, second.Start = seg.Samples[at:], seg.Start+float64(at)/audio.Rate
		words, err := r.listen(ctx, samples[:at], first, recuts-1)
		if err != nil {
			return nil, err
		}
		more, err := r.listen(ctx, samples[at:len(seg.Samples)], second, recuts-1)
		return append(words, more...), err
	}
	if r.spotter == nil {
		setTimes(words, seg)
		return words, nil
	}
	return r.understand(hidden, heard, decoded{words, free.logProb()}, seg)
}

// recuts is how often a segment is cut in two: eight parts at most.
const recuts = 3

// quietest is where to cut samples in two: the middle of the least tenth of a
// second of their middle half.
func quietest(samples []float32) int {
	const wide, step = audio.Rate / 10, audio.Rate / 100
	best, least := len(samples)/2, math.Inf(1)
	for from := len(samples) / 4; from+wide <= len(samples)*3/4; from += step {
		sum := 0.0
		for _, v := range samples[from : from+wide] {
			sum += float64(v) * float64(v)
		}
		if sum < least {
			best, least = from+wide/2, sum
		}
	}
	return best
}

// centred takes out the offset of a converter, of which the model makes words.
func centred(samples []float32) []float32 {
	sum := 0.0
	for _, v := range samples {
		sum += float64(v)
	}
	mean := float32(sum / float64(max(1, len(samples))))
	out := make([]float32, len(samples))
	for i, v := range samples {
		out[i] = v - mean
	}
	return out
}

func audible(samples []float32) bool {
	for _, v := range samples {
		if v > faintest || v < -faintest {
			return true
		}
	}
	return false
}
