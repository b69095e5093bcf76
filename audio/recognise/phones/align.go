package phones

import "math"

// Span is the frames a sound lasts, End not included.
type Span struct{ Start, End int }

// Align lays sounds, given in rows (of words, say), over all the frames as they
// fit best, and gives the span of each row and how well it fits: the sum of its
// log-probabilities less that of the best phoneme of each of its frames. ok is
// false when there are more sounds than frames for them.
func Align(heard Heard, rows [][]Phone) (spans []Span, fit []float64, ok bool) {
	var sounds []Phone
	var row []int
	for i, r := range rows {
		for _, p := range r {
			sounds, row = append(sounds, p), append(row, i)
		}
	}
	spans, fit = make([]Span, len(rows)), make([]float64, len(rows))
	if len(sounds) == 0 || len(heard) == 0 {
		return spans, fit, len(sounds) == 0
	}
	// States, as in the paper's figure 3: a blank, a sound, a blank, a sound, ..., a blank.
	n := 2*len(sounds) + 1
	phone := func(s int) Phone {
		if s%2 == 0 {
			return 0
		}
		return sounds[s/2]
	}
	const no = float32(-1e30)
	score, next := make([]float32, n), make([]float32, n)
	for s := range score {
		score[s] = no
	}
	score[0], score[1] = heard[0][0], heard[0][sounds[0]]
	from := make([][]uint8, len(heard)) // how many states back
	for t := 1; t < len(heard); t++ {
		back := make([]uint8, n)
		for s := range next {
			best, step := score[s], uint8(0)
			if s > 0 && score[s-1] > best {
				best, step = score[s-1], 1
			}
			if s > 1 && s%2 == 1 && phone(s) != phone(s-2) && score[s-2] > best {
				best, step = score[s-2], 2
			}
			next[s], back[s] = best+heard[t][phone(s)], step
		}
		from[t] = back
		score, next = next, score
	}
	s := n - 1
	if score[n-2] > score[n-1] {
		s = n - 2
	}
	if score[s] <= no/2 {
		return spans, fit, false
	}
	for i := range spans {
		spans[i] = Span{-1, -1}
	}
	for t := len(heard) - 1; t >= 0; t-- {
		if s%2 == 1 {
			r := row[s/2]
			spans[r].Start = t
			if spans[r].End < 0 {
				spans[r].End = t + 1
			}
		}
		if i := min(s/2, len(sounds)-1); s%2 == 1 || i > 0 && row[i-1] == row[i] {
			fit[row[i]] += float64(heard[t][phone(s)] - best(&heard[t]))
		}
		if t > 0 {
			s -= int(from[t][s])
		}
	}
	// A row without sounds begins and ends where the one before it ends.
	for i := range spans {
		if spans[i].Start < 0 {
			end := 0
			if i > 0 {
				end = spans[i-1].End
			}
			spans[i] = Span{end, end}
		}
	}
	return spans, fit, true
}

func best(frame *[Count]float32) float32 {
	top := float32(math.Inf(-1))
	for _, v := range frame {
		top = max(top, v)
	}
	return top
}
