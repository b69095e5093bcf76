package sound

// Line is a line of words with their phonemes end to end.
type Line struct {
	phones []Phone
	word   []int32 // of each phoneme
	start  []int32 // first phoneme of each word, and the total at the end
	broken []bool  // no phrase may run across the end of this word

	add  []float32 // what each phoneme costs where a phrase does not expect it
	adds []int32   // the same in units

	// What it costs to take no part of the phonemes of a word before (lead) or
	// from (rest) this one; 0 at the word's edge.
	lead, rest []float32
	leads      []int32  // lead in units
	sounds     []uint64 // the phonemes of each word, as a set
}

// has is the set of phonemes between phonemes lo and hi, which are word edges.
func (l *Line) has(lo, hi int) uint64 {
	var there uint64
	for w := l.word[lo]; w <= l.word[hi-1]; w++ {
		there |= l.sounds[w]
	}
	return there
}

// leftover is the share of the cost of an added phoneme that is paid for the
// rest of a heard word of which a phrase takes only part.
const leftover = 0.7

// lightness is the share of its cost a phoneme of a light word has.
const lightness = 0.1

// NewLine gives each word its phonemes through say (usually Say, or a cache of
// it). broken, when not nil, marks the words after which a phrase cannot go on;
// light marks those that may be put into any phrase ("carb heat is now on").
func NewLine(words []string, say func(string) []Phone, broken, light []bool) *Line {
	l := &Line{broken: broken, start: make([]int32, 0, len(words)+1)}
	for i, w := range words {
		l.start = append(l.start, int32(len(l.phones)))
		var sounds uint64
		for _, p := range say(w) {
			sounds |= 1 << p.Plain()
			l.phones = append(l.phones, p)
			l.word = append(l.word, int32(i))
			cost := addTable[p]
			if light != nil && light[i] {
				cost *= lightness
			}
			l.add = append(l.add, cost)
			l.adds = append(l.adds, int32(cost*unit))
		}
		l.sounds = append(l.sounds, sounds)
	}
	n := len(l.phones)
	l.start = append(l.start, int32(n))
	l.lead, l.rest = make([]float32, n+1), make([]float32, n+1)
	for j := 1; j < n; j++ {
		if l.word[j] == l.word[j-1] {
			l.lead[j] = l.lead[j-1] + leftover*addTable[l.phones[j-1]]
		}
	}
	l.leads = make([]int32, n+1)
	for j, c := range l.lead {
		l.leads[j] = int32(c * unit)
	}
	for j := n - 1; j > 0; j-- {
		if l.word[j] == l.word[j-1] {
			l.rest[j] = leftover * addTable[l.phones[j]]
			if j+1 < n && l.word[j+1] == l.word[j] {
				l.rest[j] += l.rest[j+1]
			}
		}
	}
	return l
}

// Phrase is a phrase to look for, in phonemes.
type Phrase struct {
	phones []Phone
	word   []int     // of each phoneme
	place  []uint8   // of each phoneme in its word: inner, final, onset
	weigh  []float64 // weight of each word
	Weight float64   // what it would cost to hear nothing of it
	limit  float64   // the cost beyond which a match is not worth telling
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
			switch {
			case k == len(said)-1:
				p.place = append(p.place, final)
			case k == 0:
				p.place = append(p.place, onset)
			default:
				p.place = append(p.place, inner)
			}
			sum += drop(ph, k == len(said)-1)
		}
		p.weigh = append(p.weigh, sum)
		p.Weight += sum
	}
	return p.From(0)
}

// From is the phrase with only such matches found as reach a probability by
// themselves: the more is asked, the faster the search. Nothing below Prospect
// is ever found.
func (p Phrase) From(probability float64) Phrase {
	p.limit = costAt(max(Prospect, probability), p.Weight)
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
	Head       float64 // cost over weight of the first word, in [0,1]
}

// aligner holds the tables of one search so that they are made once.
type aligner struct {
	table table
	rests []int32
	cost  []float32
	from  []uint8
}

const (
	fromStart uint8 = iota
	fromSub
	fromDrop
	fromAdd
)

// least is a floor under the cost of p in heard, from the phonemes there are in
// whatever order: of what follows each phoneme of p, and of all of p. It is in
// whole units, rounded down.
func (a *aligner) least(p *Phrase, there uint64) int32 {
	if cap(a.rests) < len(p.phones)+1 {
		a.rests = make([]int32, 2*len(p.phones)+1)
	}
	rests := a.rests[:len(p.phones)+1]
	sum := int32(0)
	rests[len(p.phones)] = 0
	for i := len(p.phones) - 1; i >= 0; i-- {
		ph := p.phones[i]
		if there&(1<<ph.Plain()) == 0 {
			t := &nearest[p.place[i]][ph&(codes-1)]
			switch {
			case there&t.like[0] != 0:
				sum += t.cost[0]
			case there&t.like[1] != 0:
				sum += t.cost[1]
			case there&t.like[2] != 0:
				sum += t.cost[2]
			default:
				sum += t.cost[3]
			}
		}
		rests[i] = sum
	}
	return sum
}

// A table holds the cost table of the phrase looked at last, row by row, from the
// start of its stretch on. A cost rests only on phonemes before it, so the next
// phrase with the same start goes on where it stops to begin like the last.
type table struct {
	phrase *Phrase // looked at last
	lo, hi int     // the phonemes of the line in it
	done   int     // rows that hold
	costs  []int32 // (1 + phonemes of the longest phrase) rows of hi-lo+1 columns
	least  [longest + 1]int32
}

// begin makes the table ready for stretches that start at lo and end at hi at the
// latest.
func (t *table) begin(l *Line, lo, hi int) {
	t.phrase, t.lo, t.hi, t.done = nil, lo, hi, 0
	w := hi - lo + 1
	if need := (longest + 1) * w; cap(t.costs) < need {
		t.costs = make([]int32, 2*need)
	}
	row := t.costs[:w]
	copy(row, l.leads[lo:hi])
	row[w-1] = 0
}

// promising says whether p can match between the start of the table and phoneme hi
// of l at all. It computes the cost table in whole numbers for speed, and gives up
// as soon as a whole row, with the least that the rest of the phrase costs, is past
// hope, since costs only grow.
func (a *aligner) promising(p *Phrase, l *Line, hi int) bool {
	t := &a.table
	limit := int32(p.limit*unit) + int32(len(p.phones)) // rounding
	if a.least(p, l.has(t.lo, hi)) > limit {
		return false
	}
	if t.phrase != nil {
		t.done = min(t.done, common(t.phrase, p))
	}
	t.phrase = p
	for i := range p.phones {
		if i >= t.done {
			t.row(p, l, i)
			t.done = i + 1
		}
		if t.least[i]+a.rests[i+1] > limit {
			return false
		}
	}
	w, n := t.hi-t.lo+1, hi-t.lo
	row := t.costs[len(p.phones)*w:][:n+1]
	for j := 1; j < n; j++ {
		if row[j]+int32(l.rest[t.lo+j]*unit) <= limit {
			return true
		}
	}
	return row[n] <= limit
}

// row computes the row of phoneme i of p from the one above it.
func (t *table) row(p *Phrase, l *Line, i int) {
	w := t.hi - t.lo + 1
	above, row := t.costs[i*w:][:w], t.costs[(i+1)*w:][:w]
	ph, place := p.phones[i], p.place[i]
	costs, d := &subUnits[place][ph&(codes-1)], dropUnits[place][ph&(codes-1)]
	diagonal := above[0]
	left := diagonal + d
	least := left
	row[0] = left
	heard := l.phones[t.lo:t.hi]
	adds := l.adds[t.lo:t.hi][:len(heard)] // lengths the compiler can see
	above, row = above[1:][:len(heard)], row[1:][:len(heard)]
	for j, h := range heard {
		up := above[j]
		c := min(diagonal+costs[h&(codes-1)], up+d, left+adds[j])
		diagonal, left = up, c
		row[j] = c
		least = min(least, c)
	}
	t.least[i] = least
}

// common is how many phonemes two phrases begin with alike.
func common(p, q *Phrase) int {
	n := min(len(p.phones), len(q.phones))
	for i := range n {
		if p.phones[i] != q.phones[i] || p.place[i] != q.place[i] {
			return i
		}
	}
	return n
}

// window finds the best matches of p that lie between phonemes lo and hi of
// line l, which are word edges, at most one for each stretch of words. A phrase
// may start and end inside a word, at the price of what it leaves over.
func (a *aligner) window(dst []Match, p *Phrase, id int, l *Line, lo, hi int) []Match {
	m, n := len(p.phones), hi-lo
	w := n + 1
	if cap(a.cost) < (m+1)*w {
		a.cost, a.from = make([]float32, 2*(m+1)*w), make([]uint8, 2*(m+1)*w)
	}
	cost, from := a.cost[:(m+1)*w], a.from[:(m+1)*w]
	copy(cost, l.lead[lo:hi])
	cost[n] = 0
	clear(from[:w])
	for i := 1; i <= m; i++ {
		ph, f := p.phones[i-1], p.place[i-1]
		d := dropTable[f][ph]
		row, prev := cost[i*w:(i+1)*w], cost[(i-1)*w:i*w]
		back := from[i*w : (i+1)*w]
		row[0], back[0] = prev[0]+d, fromDrop
		for j := 1; j <= n; j++ {
			h := l.phones[lo+j-1]
			c, k := prev[j-1]+subTable[f][ph][h], fromSub
			if x := prev[j] + d; x < c {
				c, k = x, fromDrop
			}
			if x := row[j-1] + l.add[lo+j-1]; x < c {
				c, k = x, fromAdd
			}
			row[j], back[j] = c, k
		}
	}
	return a.pick(dst, p, id, l, lo, n)
}

// pick reads the best non-overlapping matches out of the table.
func (a *aligner) pick(dst []Match, p *Phrase, id int, l *Line, lo, n int) []Match {
	m, w := len(p.phones), n+1
	limit := float32(p.limit)
	first := len(dst)
	for j := n; j >= 1; j-- {
		total := a.cost[m*w+j]
		if j < n {
			total += l.rest[lo+j]
		}
		if total > limit {
			continue
		}
		mt := a.trace(p, id, l, lo, j, w, float64(total))
		if mt.End > mt.First {
			dst = keepBest(dst, first, mt)
		}
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
	var costs [maxPhraseWords]float32
	var heard [maxPhraseWords]bool
	spent := costs[:len(p.weigh)]
	i := m
	firstUsed, lastUsed := -1, -1
	for i > 0 {
		at := i*w + j
		word := p.word[i-1]
		switch a.from[at] {
		case fromSub:
			spent[word] += a.cost[at] - a.cost[at-w-1]
			heard[word] = true
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
	spent[len(spent)-1] += float32(total) - a.cost[m*w+end]
	mt.First, mt.End = int(l.word[lo+firstUsed]), int(l.word[lo+lastUsed])+1
	for k, c := range spent {
		// Very short words weigh as much as two phonemes, or one slip would
		// count as a whole word missed.
		share := min(1, float64(c)/max(p.weigh[k], 1.8))
		if !heard[k] {
			share = 1
		}
		mt.Worst = max(mt.Worst, share)
		if k == 0 {
			mt.Head = share
		}
	}
	return mt
}
