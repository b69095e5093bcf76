package hear

import (
	"math"
	"slices"

	"sidetone/audio"
)

// unreduced keeps the last sound of a channel with its noise: turning noise down
// takes from a voice what it is told by.
type unreduced struct {
	cleaner *audio.Cleaner // what else is done to the sound, nil for nothing
	from    int            // number of the first sample that is kept
	samples []float32
}

// unreducedKept is longer than a segment is when it is handed on, in samples.
const unreducedKept = 60 * audio.Rate

// add takes the next samples, of which the first is number at of the recording.
func (u *unreduced) add(at int, x []float32) {
	if u.cleaner != nil {
		x = u.cleaner.Clean(x)
	}
	if u.from+len(u.samples) != at {
		u.from, u.samples = at, u.samples[:0]
	}
	u.samples = append(u.samples, x...)
	if over := len(u.samples) - unreducedKept; over > unreducedKept {
		u.from, u.samples = u.from+over, append(u.samples[:0], u.samples[over:]...)
	}
}

// of is a segment as it was before its noise was turned down.
func (u *unreduced) of(seg audio.Segment) audio.Segment {
	lo := int(math.Round(seg.Start*audio.Rate)) - u.from
	if hi := lo + len(seg.Samples); lo >= 0 && hi <= len(u.samples) {
		seg.Samples = slices.Clone(u.samples[lo:hi])
	}
	return seg
}
