package sound

// Line is a line of words with their phonemes end to end.
type Line struct {
	phones []Phone
	word   []int32 // of each phoneme
	start  []int32 // first phoneme of each word, and the total at the end
	broken []bool  // no phrase may run across the end of this word
}

// NewLine gives each word its phonemes through say (usually Say, or a cache of
// it). broken, when not nil, marks the words after which a phrase cannot go on.
func NewLine(words []string, say func(string) []Phone, broken []bool) *Line {
	l := &Line{broken: broken, start: make([]int32, 0, len(words)+1)}
	for i, w := range words {
		l.start = append(l.start, int32(len(l.phones)))
		for _, p := range say(w) {
			l.phones = append(l.phones, p)
			l.word = append(l.word, int32(i))
		}
	}
	l.start = append(l.start, int32(len(l.phones)))
	return l
}

func (l *Line) words() int { return len(l.start) - 1 }

// Phrase is a phrase to look for, in phonemes.
type Phrase struct {
	phones []Phone
	word   []int // of each phoneme
	final  []bool
	weigh  []float64 // weight of each word
	Weight float64   // what it would cost to hear nothing of it
}

// NewPhrase makes a phrase of plain words.
func NewPhrase(words []string) Phrase {
	var p Phrase
	for i, w := range words {
		said := Say(w)
		sum := 0.0
		for k, ph := range said {
			p.phones = append(p.phones, ph)
			p.word = append(p.word, i)
			p.final = append(p.final, k == len(said)-1)
			sum += drop(ph, k == len(said)-1)
		}
		p.weigh = append(p.weigh, sum)
		p.Weight += sum
	}
	return p
}

// Len is the number of phonemes.
func (p Phrase) Len() int { return len(p.phones) }

// Match is a stretch of words that sounds like a phrase.
type Match struct {
	Phrase     int     // index of the phrase
	First, End int     // words [First, End)
	Cost       float64 // sum of the alignment's costs; 0 is a perfect match
	Weight     float64 // the phrase's weight, the cost of hearing nothing of it
	Worst      float64 // cost over weight of the worst heard word, in [0,1]
}

// leftover is the share of the cost of an added phoneme that is paid for the
// rest of a heard word of which a phrase takes only part.
const leftover = 0.7

// hopeless is the cost over weight beyond which a match is no longer of use.
const hopeless = 0.45

// aligner holds the tables of one search so that they are made once.
type aligner struct {
	cost []float64
	from []uint8
}

const (
	fromStart uint8 = iota
	fromSub
	fromDrop
	fromAdd
)

// window finds the best matches of p that lie between phonemes lo and hi of
// line l, at most one for each stretch of words. lo and hi are word edges.
func (a *aligner) window(dst []Match, p *Phrase, id int, l *Line, lo, hi int) []Match {
	m, n := len(p.phones), hi-lo
	w := n + 1
	if cap(a.cost) < (m+1)*w {
		a.cost, a.from = make([]float64, 2*(m+1)*w), make([]uint8, 2*(m+1)*w)
	}
	cost, from := a.cost[:(m+1)*w], a.from[:(m+1)*w]
	// A phrase may start at any word; starting inside one costs what is left out.
	lead := 0.0
	for j := 0; j <= n; j++ {
		if j == n || l.start[l.word[lo+j]] == int32(lo+j) {
			lead = 0
		}
		cost[j], from[j] = lead, fromStart
		if j < n {
			lead += leftover * add(l.phones[lo+j])
		}
	}
	for i := 1; i <= m; i++ {
		ph, final := p.phones[i-1], p.final[i-1]
		d := drop(ph, final)
		row, prev := cost[i*w:(i+1)*w], cost[(i-1)*w:i*w]
		back := from[i*w : (i+1)*w]
		row[0], back[0] = prev[0]+d, fromDrop
		for j := 1; j <= n; j++ {
			h := l.phones[lo+j-1]
			c, f := prev[j-1]+substitute(ph, h, final), fromSub
			if x := prev[j] + d; x < c {
				c, f = x, fromDrop
			}
			if x := row[j-1] + add(h); x < c {
				c, f = x, fromAdd
			}
			row[j], back[j] = c, f
		}
	}
	return a.pick(dst, p, id, l, lo, n)
}

// pick reads the best non-overlapping matches out of the table.
func (a *aligner) pick(dst []Match, p *Phrase, id int, l *Line, lo, n int) []Match {
	m, w := len(p.phones), n+1
	first := len(dst)
	tail := 0.0
	for j := n; j >= 1; j-- {
		if j == n || l.start[l.word[lo+j]] == int32(lo+j) {
			tail = 0
		}
		total := a.cost[m*w+j] + tail
		tail += leftover * add(l.phones[lo+j-1])
		if total > hopeless*p.Weight {
			continue
		}
		mt := a.trace(p, id, l, lo, j, w, total)
		if mt.End <= mt.First || mt.Worst > 1 {
			continue
		}
		dst = keepBest(dst, first, mt)
	}
	return dst
}

// keepBest adds mt unless a cheaper match since index first overlaps it, and
// removes the dearer ones that do.
func keepBest(dst []Match, first int, mt Match) []Match {
	for _, o := range dst[first:] {
		if o.First < mt.End && mt.First < o.End && better(o, mt) {
			return dst
		}
	}
	k := first
	for _, o := range dst[first:] {
		if o.First < mt.End && mt.First < o.End {
			continue
		}
		dst[k] = o
		k++
	}
	return append(dst[:k], mt)
}

// better prefers the cheaper match, the shorter one of equals.
func better(a, b Match) bool {
	if a.Cost != b.Cost {
		return a.Cost < b.Cost
	}
	return a.End-a.First <= b.End-b.First
}

// trace follows the alignment back from its end at column j.
func (a *aligner) trace(p *Phrase, id int, l *Line, lo, j, w int, total float64) Match {
	m := len(p.phones)
	end := j
	var stack [16]float64
	spent := stack[:0]
	for range p.weigh {
		spent = append(spent, 0)
	}
	i := m
	firstUsed, lastUsed := -1, -1
	for i > 0 {
		at := i*w + j
		word := p.word[i-1]
		switch a.from[at] {
		case fromSub:
			spent[word] += a.cost[at] - a.cost[at-w-1]
			firstUsed = j - 1
			if lastUsed < 0 {
				lastUsed = j - 1
			}
			i, j = i-1, j-1
		case fromDrop:
			spent[word] += a.cost[at] - a.cost[at-w]
			i--
		case fromAdd:
			spent[word] += a.cost[at] - a.cost[at-1]
			j--
		}
	}
	mt := Match{Phrase: id, Cost: total, Weight: p.Weight}
	if firstUsed < 0 {
		return mt
	}
	spent[0] += a.cost[j]
	spent[len(spent)-1] += total - a.cost[m*w+end]
	mt.First, mt.End = int(l.word[lo+firstUsed]), int(l.word[lo+lastUsed])+1
	for k, c := range spent {
		// Very short words weigh as much as two phonemes, or one slip would
		// count as a whole word missed.
		mt.Worst = max(mt.Worst, min(1, c/max(p.weigh[k], 1.8)))
	}
	return mt
}
