package transcript

// A chain pairs words of two sequences, each once and in the order of both, so that
// most speaks for the pairs: a heaviest common subsequence. Pairs are offered by the
// words of the one, in order (Hunt and Szymanski, "A fast algorithm for computing
// longest common subsequences", 1977), and a tree of prefix maxima over the words of
// the other holds the best chain so far (Fenwick, 1994).
type chain struct{ tree []*link }

// link is a pair at the end of a chain.
type link struct {
	word, heard int
	weight      float64 // of the whole chain
	before      *link
}

func newChain(heard int) *chain { return &chain{make([]*link, heard+1)} }

// lengthen offers the pairs of a word with each of some heard words, which weigh more
// than 0 if they may be.
func (c *chain) lengthen(word int, heard []int, weight func(heard int) float64) {
	var links []*link
	for _, k := range heard {
		if w := weight(k); w > 0 {
			l := &link{word: word, heard: k, weight: w, before: c.upTo(k)}
			if l.before != nil {
				l.weight += l.before.weight
			}
			links = append(links, l)
		}
	}
	for _, l := range links { // only now: the word stands for one of them
		for i := l.heard + 1; i < len(c.tree); i += i & -i {
			if c.tree[i] == nil || c.tree[i].weight < l.weight {
				c.tree[i] = l
			}
		}
	}
}

// upTo is the best chain that ends before a heard word, nil for none.
func (c *chain) upTo(heard int) (best *link) {
	for i := heard; i > 0; i -= i & -i {
		if l := c.tree[i]; l != nil && (best == nil || l.weight > best.weight) {
			best = l
		}
	}
	return best
}

func (c *chain) best() *link { return c.upTo(len(c.tree) - 1) }
