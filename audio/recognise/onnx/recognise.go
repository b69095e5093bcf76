package onnx

import (
	"context"
	"fmt"
	"math"

	"sidetone/audio"
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
	if len(samples) < shortest {
		samples = append(append(make([]float32, 0, shortest), samples...), make([]float32, shortest-len(samples))...)
	}
	hidden, err := r.encode(samples)
	if err != nil {
		return u, fmt.Errorf("listening at %.1f s: %w", seg.Start, err)
	}
	defer hidden.Destroy()
	limit := int(math.Ceil(float64(len(samples))/audio.Rate*tokensPerSecond)) + 2
	free, err := r.decode(ctx, hidden, limit)
	if err != nil {
		return u, fmt.Errorf("listening at %.1f s: %w", seg.Start, err)
	}
	u.Words = r.words(free.tokens)
	if r.spotter == nil {
		setTimes(u.Words, seg)
	} else if u.Words, err = r.understand(hidden, u.Words, seg); err != nil {
		return u, fmt.Errorf("listening at %.1f s: %w", seg.Start, err)
	}
	u.Text = transcript.Join(u.Words)
	return u, nil
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
