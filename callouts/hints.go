package callouts

import (
	"math"
	"slices"

	"sidetone/audio/transcript"
	"sidetone/callouts/english"
)

const (
	// leastHint is the probability, by what words mean, from which they hint at a call,
	// and leastDone that, if it is one, of its being done.
	leastHint = 0.015
	leastDone = 0.3
	// farBelow is how much less likely than its likeliest word, in nats, words before and
	// after are no part of it.
	farBelow = 2.3
)

// hintsBeside are the hints at calls that were not told, and those told that are perhaps
// done all the same.
func hintsBeside(told, hints []Call) []Call {
	out := Untold(hints, told)
	for _, c := range told {
		if p := c.Meant.Of(Done); c.Stance != Done && p >= leastHint {
			c.Stance, c.Perhaps, c.Confidence = Done, true, p*c.Confidence
			out = append(out, c)
		}
	}
	slices.SortStableFunc(out, byTime)
	return out
}

// hints gives the calls that words may mean, by the network of meanings, but not for
// certain enough to be told.
func (h *hearing) hints(t *transcript.Transcript) []Call {
	if h.odds == nil {
		return nil
	}
	var out []Call
	done := slices.Index(h.finder.meaning.Ways(), string(Done))
	least := float32(math.Log(leastHint))
	for callout, known := range h.finder.freely {
		if known.class == 0 {
			continue
		}
		for first := 0; first < len(h.odds); first++ {
			if h.odds[first][known.class] < least {
				continue
			}
			end, top, meant := first, least, 0.0
			for ; end < len(h.odds) && h.odds[end][known.class] >= least && (end == first || !h.stream.tokens[end-1].broken); end++ {
				top = max(top, h.odds[end][known.class])
				if done >= 0 {
					meant = max(meant, math.Exp(float64(h.ways[end][done])))
				}
			}
			next := end
			for h.odds[first][known.class] < top-farBelow {
				first++
			}
			for h.odds[end-1][known.class] < top-farBelow {
				end--
			}
			if meant >= leastDone && h.says(first, end) {
				if c, ok := h.meantAt(callout, first, end, math.Exp(float64(top))); ok {
					out = append(out, h.perhaps(t, c))
				}
			}
			first = next - 1
		}
	}
	return out
}

// perhaps is a candidate as a hint.
func (h *hearing) perhaps(t *transcript.Transcript, c candidate) Call {
	c.stance = Done
	call := h.call(t, &c)
	call.Perhaps = true
	return call
}

// says tells whether words [first, end) hold one that is more than a "now" or an "okay".
func (h *hearing) says(first, end int) bool {
	return slices.ContainsFunc(h.stream.text(first, end), func(w string) bool {
		return !fill[w] && !acknowledgements[w] && !english.Is(w, english.Discourse)
	})
}
