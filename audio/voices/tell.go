package voices

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"sidetone/audio/transcript"
)

// logs is how likely each voice is that of what is summed up, in nats, without what
// is believed beforehand; the last is for a voice never heard before. own is how much
// of it each voice holds already, which does not count.
func (e *ears) logs(u sums, voices []sums, own []float64) []float64 {
	none := e.ubm.none()
	out := make([]float64, 0, len(voices)+1)
	for k, v := range voices {
		if own != nil && own[k] > 0 {
			w := e.ubm.none()
			w.add(v, 1)
			w.add(u, -own[k])
			v = w
		}
		out = append(out, u.evidence(v, relevance*scale, shared*scale)-v.evidence(none, relevance*scale, shared*scale))
	}
	return append(out, u.evidence(none, relevance*scale, shared*scale))
}

// before is what is believed beforehand of so many voices, and of one never heard.
func before(voices int) []float64 {
	out := make([]float64, voices+1)
	for k := range voices {
		out[k] = math.Log((1 - other) / float64(voices))
	}
	out[voices] = math.Log(other)
	return out
}

// whose is how likely each voice is, and after them one never heard before.
func (e *ears) whose(u sums, voices []sums, own []float64) []float64 {
	out := e.logs(u, voices, own)
	floats.Add(out, before(len(voices)))
	return normal(out)
}

// normal turns logarithms into probabilities.
func normal(x []float64) []float64 {
	whole := floats.LogSumExp(x)
	for i := range x {
		x[i] = math.Exp(x[i] - whole)
	}
	return x
}

func best(p []float64) int { return floats.MaxIdx(p) }

// train lets the voices learn from what is told to be theirs, and gives how much of
// each utterance each voice took. What fits nobody becomes the voice of a stranger.
func (e *ears) train(us []transcript.Utterance, taught []Taught) (own [][]float64) {
	said := make([]sums, len(us))
	fixed := make([]bool, len(us))
	for i, u := range us {
		said[i] = e.said(u.Channel, u.Start, u.End)
		fixed[i] = e.labelled(u, taught) >= 0
	}
	e.voices = append([]sums{}, e.base...)
	own = make([][]float64, len(us))
	tell := func(learnt bool) {
		for i := range us {
			if fixed[i] {
				own[i] = make([]float64, len(e.voices)+1)
				continue
			}
			held := own[i]
			if !learnt {
				held = nil
			}
			own[i] = e.whose(said[i], e.voices, held)
		}
	}
	tell(false)
	for len(e.voices) < len(e.base)+strangers {
		at, most := -1, strange
		for i := range us {
			if p := own[i]; !fixed[i] && p[len(p)-1] > most && said[i].frames() > scale/FrameSeconds/3 {
				at, most = i, p[len(p)-1]
			}
		}
		if at < 0 {
			break
		}
		e.voices = append(e.voices, said[at])
		tell(false)
		own[at] = make([]float64, len(e.voices)+1)
		own[at][len(e.voices)-1] = 1
	}
	for range passes {
		next := make([]sums, len(e.voices))
		for k := range next {
			next[k] = e.ubm.none()
			if k < len(e.base) {
				next[k].add(e.base[k], 1)
			}
			for i := range us {
				if k >= len(e.base) || own[i][k] >= theirs {
					next[k].add(said[i], own[i][k])
				}
			}
		}
		e.voices = next
		tell(true)
	}
	// What the last pass took belongs to voices learnt before it.
	return own
}

// partSpoken is an utterance or a part of one, and who says it.
type partSpoken struct {
	transcript.Utterance
	who int // of the taught, nobody or unsure
}

const (
	nobody = -1
	unsure = -2
)

// part tells who says an utterance, in parts where the voice changes: a hidden
// Markov model over its pieces, of which the states are the voices (L. R. Rabiner, "A
// Tutorial on Hidden Markov Models and Selected Applications in Speech Recognition",
// Proc. IEEE 77(2), 1989).
func (e *ears) part(u transcript.Utterance, own []float64) (out []partSpoken) {
	own = own[:len(e.voices)]
	var ends []int // of each piece, in words
	for i := 1; i < len(u.Words); i++ {
		if u.Words[i].Start-u.Words[i-1].End >= pause {
			ends = append(ends, i)
		}
	}
	ends = append(ends, len(u.Words))
	pieces := make([]sums, len(ends))
	likely := make([][]float64, len(ends))
	from := 0
	for i, to := range ends {
		pieces[i] = e.said(u.Channel, u.Words[from].Start, u.Words[to-1].End)
		likely[i] = e.logs(pieces[i], e.voices, own)
		from = to
	}
	path := viterbi(likely, before(len(e.voices)), change)
	from = 0
	for i := 0; i < len(path); {
		j := i + 1
		for j < len(path) && path[j] == path[i] {
			j++
		}
		whole := e.ubm.none()
		for _, p := range pieces[i:j] {
			whole.add(p, 1)
		}
		p := partSpoken{Utterance: u, who: e.decide(e.whose(whole, e.voices, own))}
		p.Words = u.Words[from:ends[j-1]:ends[j-1]]
		if from > 0 {
			p.Start = p.Words[0].Start
		}
		if ends[j-1] < len(u.Words) {
			p.End = p.Words[len(p.Words)-1].End
		}
		p.Text = transcript.Join(p.Words)
		from, i = ends[j-1], j
		if n := len(out); n > 0 && out[n-1].who == p.who { // the same after all
			last := &out[n-1]
			last.Words, last.End = u.Words[from-len(last.Words)-len(p.Words):from:from], p.End
			last.Text = transcript.Join(last.Words)
			continue
		}
		out = append(out, p)
	}
	if len(out) == 1 {
		out[0].Utterance = u
	}
	return out
}

// decide is who is told by such probabilities.
func (e *ears) decide(p []float64) int {
	k := best(p)
	switch strange := floats.Sum(p[len(e.base):]); {
	case k < len(e.base) && p[k] >= Sure:
		return k
	case strange >= 0.5:
		return nobody
	}
	return unsure
}

// viterbi is the likeliest sequence of states, which change with that probability.
func viterbi(likely [][]float64, before []float64, change float64) []int {
	n := len(before)
	stay, move := math.Log(1-change), math.Log(change/float64(max(1, n-1)))
	score := make([]float64, n)
	copy(score, before)
	floats.Add(score, likely[0])
	back := make([][]int, len(likely))
	for t := 1; t < len(likely); t++ {
		next := make([]float64, n)
		back[t] = make([]int, n)
		top := best(score)
		for s := range next {
			from, v := s, score[s]+stay
			if top != s && score[top]+move > v {
				from, v = top, score[top]+move
			}
			next[s], back[t][s] = v+likely[t][s], from
		}
		score = next
	}
	path := make([]int, len(likely))
	path[len(path)-1] = best(score)
	for t := len(path) - 1; t > 0; t-- {
		path[t-1] = back[t][path[t]]
	}
	return path
}
