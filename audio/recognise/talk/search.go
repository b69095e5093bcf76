package talk

import (
	"math"
	"slices"

	"sidetone/audio/recognise/phones"
)

// How phonemes, the model and another reading are weighed, in nats; fitted on
// sentences of testdata/meanings and the tuning lessons, spoken at 20 and 10 dB.
const (
	// ownWord is what a word is likelier that the other reading has too, and ownPair
	// what one is more that follows the same word there.
	ownWord = 2.0
	ownPair = 1.5
	// strange is the log-probability of a word of the other reading that the model
	// does not know.
	strange = -9.2
	// beam is how far behind the best a way is given up, and width how many are kept.
	beam  = 14
	width = 800
	// slack is how far below that a way may begin: what is behind in one frame may
	// be ahead in the next.
	slack = 5
)

const never = float32(-1e9)

// Said is a word that was said, in its place.
type Said struct {
	Text string
	phones.Span
	Odds float64 // log-probability of it after the words before, by the model alone
	Ends bool    // a sentence ends with it
}

// Read gives the words that were likeliest said, by their phonemes and by what is
// usually said. own is another reading of the same, by a model that was taught on
// everyday speech: in small letters, figures spoken out. It is a search through all
// readings but for the beam (token passing over a tree of words, with the model
// looked ahead into: Ortmanns, Ney and Eiden, "Language-model look-ahead for large
// vocabulary speech recognition", ICSLP 1996).
func (v *Vocabulary) Read(heard phones.Heard, own []string) []Said {
	s := &search{model: v.model, own: map[int32]bool{}, pairs: map[uint64]bool{}, numbers: map[uint64]int32{}, slots: map[uint64]int32{}}
	var others []string
	last := begin
	for _, w := range own {
		id, ok := v.model.number[w]
		if !ok {
			k := slices.Index(others, w)
			if k < 0 {
				k, others = len(others), append(others, w)
			}
			id = int32(len(v.model.words) + k)
		}
		s.own[id], s.pairs[joined(last, id)] = true, true
		last = id
	}
	s.nodes = v.with(others, strange+ownWord).nodes
	var out []Said
	for at := s.run(heard).from; at >= 0; at = s.spoken[at].from {
		w := s.spoken[at]
		text := ""
		if n := int(w.word) - len(v.model.words); n >= 0 {
			text = others[n]
		} else {
			text = v.model.words[w.word]
		}
		out = append(out, Said{text, w.Span, float64(w.odds), w.ends})
	}
	slices.Reverse(out)
	return out
}

// spoken is a word at the end of a way.
type spoken struct {
	phones.Span
	word, from int32 // the word before, -1 for none
	odds       float32
	ends       bool // a sentence, with it
}

// trail is a way to be at a place.
type trail struct {
	score       float32
	from, start int32 // the word before, -1 for none, and where this one begins
}

func better(a, b trail) trail {
	if b.score > a.score {
		return b
	}
	return a
}

// token is a way that is within a word.
type token struct {
	after, node  int32 // the two words before, by their number; the node
	sound, blank trail // in the node's phoneme, in the blank after it
}

func (t *token) best() float32 { return max(t.sound.score, t.blank.score) }

type search struct {
	model   *Model
	nodes   []node
	own     map[int32]bool
	pairs   map[uint64]bool
	afters  [][2]int32 // two words, by number
	numbers map[uint64]int32
	spoken  []spoken
	between []trail // ways that are between words, by the two words before
	next    []trail
	tokens  []token
	spare   []token          // their places of the frame before
	slots   map[uint64]int32 // of a token in the new ones
	scores  []float32
}

// after numbers two words a way may be after.
func (s *search) after(a, b int32) int32 {
	n, ok := s.numbers[joined(a, b)]
	if !ok {
		n = int32(len(s.afters))
		s.afters, s.numbers[joined(a, b)] = append(s.afters, [2]int32{a, b}), n
		s.between, s.next = append(s.between, trail{never, -1, 0}), append(s.next, trail{never, -1, 0})
	}
	return n
}

// odds is the log-probability of a word.
func (s *search) odds(a, b, w int32) float32 {
	if int(w) < len(s.model.words) {
		return float32(math.Log(s.model.likely(a, b, w)))
	}
	return strange
}

// shared is what the other reading adds to a word's.
func (s *search) shared(b, w int32) float32 {
	v := float32(0)
	if s.own[w] {
		v += ownWord
	}
	if s.pairs[joined(b, w)] {
		v += ownPair
	}
	return v
}

// run goes through all frames and gives the best way between words after them.
func (s *search) run(heard phones.Heard) trail {
	start := s.after(begin, begin)
	s.between[start] = trail{0, -1, 0}
	for t := range heard {
		s.step(int32(t), &heard[t])
	}
	best := trail{never, -1, 0}
	for _, b := range s.between {
		best = better(best, b)
	}
	return best
}

// bar is the least score that is followed on.
func (s *search) bar() float32 {
	top := never
	for i := range s.between {
		top = max(top, s.between[i].score)
	}
	s.scores = s.scores[:0]
	for i := range s.tokens {
		v := s.tokens[i].best()
		top = max(top, v)
		s.scores = append(s.scores, v)
	}
	bar := top - beam
	if len(s.scores) > width {
		slices.Sort(s.scores)
		bar = max(bar, s.scores[len(s.scores)-width])
	}
	return bar
}

func (s *search) step(now int32, e *[phones.Count]float32) {
	bar := s.bar()
	grown := s.spare[:0]
	clear(s.slots)
	at := func(after, node int32) *token {
		k := uint64(after)<<32 | uint64(node)
		i, ok := s.slots[k]
		if !ok {
			i = int32(len(grown))
			s.slots[k] = i
			grown = append(grown, token{after, node, trail{never, -1, 0}, trail{never, -1, 0}})
		}
		return &grown[i]
	}
	for i := range s.tokens {
		o := &s.tokens[i]
		if o.best() < bar {
			continue
		}
		n := &s.nodes[o.node]
		w := at(o.after, o.node)
		rest := better(o.sound, o.blank)
		w.sound = better(w.sound, o.sound.plus(e[n.phone]))
		w.blank = better(w.blank, rest.plus(e[0]))
		for _, c := range n.next {
			child := &s.nodes[c]
			in := rest
			if child.phone == n.phone { // a blank parts two sounds alike
				in = o.blank
			}
			if in = in.plus(e[child.phone] + child.ahead - n.ahead); in.score > bar-slack {
				w := at(o.after, c)
				w.sound = better(w.sound, in)
			}
		}
	}
	for after, in := range s.between {
		s.next[after] = trail{never, -1, 0}
		if in.score < bar {
			continue
		}
		s.next[after] = in.plus(e[0])
		in.start = now
		for _, c := range s.nodes[0].next {
			child := &s.nodes[c]
			if in := in.plus(e[child.phone] + child.ahead); in.score > bar-slack {
				w := at(int32(after), c)
				w.sound = better(w.sound, in)
			}
		}
	}
	s.finish(now+1, grown)
	s.tokens, s.spare = grown, s.tokens
	s.between, s.next = s.next, s.between
}

func (t trail) plus(v float32) trail {
	t.score += v
	return t
}

// finish lets the words of tokens end.
func (s *search) finish(now int32, tokens []token) {
	bar := never
	for i := range tokens {
		bar = max(bar, tokens[i].sound.score)
	}
	bar -= beam
	for i := range tokens {
		t := &tokens[i]
		n := &s.nodes[t.node]
		if len(n.words) == 0 || t.sound.score < bar {
			continue
		}
		a, b := s.afters[t.after][0], s.afters[t.after][1]
		for _, w := range n.words {
			odds := s.odds(a, b, w)
			score := t.sound.score - n.ahead + odds + s.shared(b, w)
			said := spoken{phones.Span{Start: int(t.sound.start), End: int(now)}, w, t.sound.from, odds, false}
			s.enter(s.after(b, w), score, said)
			// A sentence may end with it.
			said.ends = true
			s.enter(s.after(begin, begin), score+float32(math.Log(s.model.likely(b, w, end))), said)
		}
	}
}

func (s *search) enter(after int32, score float32, w spoken) {
	if score <= s.next[after].score {
		return
	}
	s.spoken = append(s.spoken, w)
	s.next[after] = trail{score, int32(len(s.spoken) - 1), 0}
}
