package train

import (
	"math"

	"sidetone/audio/recognise/phones"
)

// blank is the class of no sound, phoneme 0.
const blank = 0

// ctc gives the negative log of the probability that frames with these
// log-probabilities hold the sounds, over all the ways they may be laid out, and
// puts the derivative by what the softmax was taken of into slope (equations 6 to
// 16 of the paper, in logarithms). ok is false when there are too few frames.
func (c *lattice) ctc(heard phones.Heard, sounds []phones.Phone, slope phones.Heard) (loss float64, ok bool) {
	frames, states := len(heard), 2*len(sounds)+1
	c.lay(frames, states)
	label := func(s int) phones.Phone {
		if s%2 == 0 {
			return blank
		}
		return sounds[s/2]
	}
	// skips says whether state s may follow s-2: a sound after another one.
	skips := func(s int) bool { return s%2 == 1 && s > 1 && sounds[s/2] != sounds[s/2-1] }

	// ahead[t][s]: of frames 0 to t that end in state s.
	for t := range frames {
		row := c.ahead[t*states : (t+1)*states]
		for s := range row {
			switch {
			case t == 0 && s > 1:
				row[s] = never
				continue
			case t == 0:
				row[s] = float64(heard[0][label(s)])
				continue
			}
			last := c.ahead[(t-1)*states : t*states]
			a, b, d := last[s], never, never
			if s > 0 {
				b = last[s-1]
			}
			if skips(s) {
				d = last[s-2]
			}
			if a = logSum(a, b, d); a > never {
				a += float64(heard[t][label(s)])
			}
			row[s] = a
		}
	}
	end := c.ahead[(frames-1)*states:]
	total := end[states-1]
	if states > 1 {
		total = logSum(total, end[states-2], never)
	}
	if total == never {
		return 0, false
	}

	// behind[s]: of the frames after t, when frame t is in state s.
	behind, before := c.behind[:states], c.before[:states]
	for s := range behind {
		behind[s] = never
		if s >= states-2 {
			behind[s] = 0
		}
	}
	for t := frames - 1; t >= 0; t-- {
		var share [phones.Count]float64 // the probability of each class in this frame
		row := c.ahead[t*states : (t+1)*states]
		for s, a := range row {
			if a > never && behind[s] > never {
				share[label(s)] += math.Exp(a + behind[s] - total)
			}
		}
		for p := range slope[t] {
			slope[t][p] = float32(math.Exp(float64(heard[t][p])) - share[p])
		}
		for s := range states {
			in := func(to int) float64 {
				if behind[to] == never {
					return never
				}
				return behind[to] + float64(heard[t][label(to)])
			}
			a, b, d := in(s), never, never
			if s+1 < states {
				b = in(s + 1)
			}
			if s+2 < states && skips(s+2) {
				d = in(s + 2)
			}
			before[s] = logSum(a, b, d)
		}
		behind, before = before, behind
	}
	return -total, true
}

// lattice has the tables of ctc, kept from one call to the next.
type lattice struct{ ahead, behind, before []float64 }

func (c *lattice) lay(frames, states int) {
	if cap(c.ahead) < frames*states {
		c.ahead = make([]float64, frames*states)
	}
	if cap(c.behind) < states {
		c.behind, c.before = make([]float64, states), make([]float64, states)
	}
	c.ahead = c.ahead[:frames*states]
	c.behind, c.before = c.behind[:cap(c.behind)], c.before[:cap(c.before)]
}

var never = math.Inf(-1)

// logSum is the log of the sum of what a, b and c are the logs of.
func logSum(a, b, c float64) float64 {
	if b > a {
		a, b = b, a
	}
	if c > a {
		a, c = c, a
	}
	sum := 1.0
	const negligible = -40
	if d := b - a; d > negligible {
		sum += math.Exp(d)
	}
	if d := c - a; d > negligible {
		sum += math.Exp(d)
	}
	if sum == 1 {
		return a
	}
	return a + math.Log(sum)
}
