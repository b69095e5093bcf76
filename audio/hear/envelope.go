package hear

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"sidetone/audio"
)

// envelopes are how loud each channel listened to is in the band of voices, a
// number for each 20 ms. An hour of two channels takes 1.4 MB.
type envelopes struct {
	channels map[int]*envelope
}

type envelope struct {
	band   *audio.VoiceBand
	powers []float32 // mean square of each step of the recording
	sum    float64   // of the step under way
	n      int
}

const (
	envelopeStep    = audio.Rate / 50
	envelopeSeconds = float64(envelopeStep) / audio.Rate
)

// add takes the next samples of a channel, of which the first is number at of the
// recording.
func (e *envelopes) add(channel, at int, x []float32) {
	if e.channels == nil {
		e.channels = map[int]*envelope{}
	}
	c := e.channels[channel]
	if c == nil {
		c = &envelope{band: audio.NewVoiceBand()}
		e.channels[channel] = c
	}
	for len(c.powers) < at/envelopeStep { // nobody listened to it until now
		c.powers = append(c.powers, 0)
	}
	for _, v := range c.band.Filter(x) {
		c.sum += float64(v) * float64(v)
		if c.n++; c.n == envelopeStep {
			c.powers = append(c.powers, float32(c.sum/envelopeStep))
			c.sum, c.n = 0, 0
		}
	}
}

// between is the part of a channel's envelope from one second to another.
func (e *envelopes) between(channel int, from, to float64) []float32 {
	c := e.channels[channel]
	if c == nil {
		return nil
	}
	lo := min(max(int(from/envelopeSeconds), 0), len(c.powers))
	hi := min(max(int(math.Ceil(to/envelopeSeconds)), lo), len(c.powers))
	return c.powers[lo:hi]
}

// power is the mean of it, 0 where there is none.
func (e *envelopes) power(channel int, from, to float64) float64 {
	sum := 0.0
	p := e.between(channel, from, to)
	for _, v := range p {
		sum += float64(v)
	}
	return sum / float64(max(1, len(p)))
}

// floor is the noise under a channel: what a tenth of it stays below.
func (e *envelopes) floor(channel int) float64 {
	c := e.channels[channel]
	if c == nil || len(c.powers) == 0 {
		return 0
	}
	p := slices.Sorted(slices.Values(c.powers))
	return float64(p[len(p)/10])
}

// alike is how much two channels rise and fall together: the correlation of their
// envelopes, 0 where they are too short to tell. Noise that is steady does not
// change it, nor how loud the two are, nor the milliseconds sound takes from one
// microphone to the other.
func (e *envelopes) alike(a, b int, from, to float64) float64 {
	x, y := e.between(a, from, to), e.between(b, from, to)
	n := min(len(x), len(y))
	if n < 8 {
		return 0
	}
	p, q := make([]float64, n), make([]float64, n)
	for i := range n {
		p[i], q[i] = float64(x[i]), float64(y[i])
	}
	if r := stat.Correlation(p, q, nil); !math.IsNaN(r) {
		return r
	}
	return 0
}
