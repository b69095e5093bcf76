package onnx

import (
	"context"
	"fmt"
	"math"
	"strings"

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
	samples := seg.Samples
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
	tokens, err := r.understand(ctx, hidden, len(samples), limit)
	if err != nil {
		return u, fmt.Errorf("listening at %.1f s: %w", seg.Start, err)
	}
	u.Words = r.words(tokens)
	setTimes(u.Words, seg)
	texts := make([]string, len(u.Words))
	for i, w := range u.Words {
		texts[i] = w.Text
	}
	u.Text = strings.Join(texts, " ")
	return u, nil
}

func audible(samples []float32) bool {
	for _, v := range samples {
		if v > faintest || v < -faintest {
			return true
		}
	}
	return false
}
