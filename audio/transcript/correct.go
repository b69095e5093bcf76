package transcript

import (
	"cmp"
	"math"
	"slices"
	"sort"
	"strings"
	"unicode"
)

// Correct gives the words of edited their times from heard: what a recogniser heard,
// put right by hand. A word that was left as it was, but for its marks and capitals,
// keeps its time, channel and confidence. One that was changed gets the time of what
// it stands for, one that was put in the pause where it stands, and their confidence
// is 1, since somebody said so. Lines are those of edited, and so are speakers where
// it names them. Neither is changed.
//
// Times of lines in edited need be good to a few seconds only; lines without any
// (Start and End 0) are found by their words.
func Correct(heard, edited *Transcript) *Transcript {
	c := newCorrection(heard, edited)
	out := &Transcript{}
	for i, u := range edited.Utterances {
		out.Utterances = append(out.Utterances, c.line(i, u)...)
	}
	slices.SortStableFunc(out.Utterances, func(a, b Utterance) int { return cmp.Compare(a.Start, b.Start) })
	return out
}

// Correct is u with another text; see the function Correct. It has no words when the
// text has none.
func (u Utterance) Correct(text string) Utterance {
	line := u
	line.Text, line.Words = text, Spread(text, u.Start, u.End)
	c := newCorrection(&Transcript{[]Utterance{u}}, &Transcript{[]Utterance{line}})
	if got := c.line(0, line); len(got) > 0 {
		line = got[0]
	}
	line.Start, line.End = min(u.Start, line.Start), max(u.End, line.End)
	return line
}

const (
	// lineSlack is how far from the times of its line a word may have been heard, in
	// seconds: lines are timed to the second, and shown early or for too long.
	lineSlack = 5.0
	// closely spread words, over so many seconds, are timed as well as a recogniser does.
	closely = 1.0
	// putIn is how long a word that was put in takes at most, in seconds.
	putIn = 0.4
)

// place is a word that was heard, and the utterance it is in.
type place struct {
	Word
	of int
}

type correction struct {
	heard *Transcript
	words []place
	lines [][]Word // of edited
	kept  [][]int  // for each of them, the word it is, or -1
	next  int      // words before it are spoken for
}

func newCorrection(heard, edited *Transcript) *correction {
	c := &correction{heard: heard}
	said := map[string][]int{} // where each word was heard
	long := 0.0                // the longest utterance, in seconds
	for i, u := range heard.Utterances {
		long = max(long, u.End-u.Start)
		for _, w := range wordsOf(u) {
			said[bare(w)] = append(said[bare(w)], len(c.words))
			c.words = append(c.words, place{w, i})
		}
	}
	chain := newChain(len(c.words))
	n := 0 // words of edited
	for _, u := range edited.Utterances {
		words := wordsOf(u)
		c.lines = append(c.lines, words)
		for _, w := range words {
			chain.lengthen(n, c.around(u, said[bare(w)], long), func(k int) float64 { return c.likeness(u, w, k) })
			n++
		}
	}
	same := make([]int, n)
	for i := range same {
		same[i] = -1
	}
	for l := chain.best(); l != nil; l = l.before {
		same[l.word] = l.heard
	}
	for _, words := range c.lines {
		c.kept = append(c.kept, same[:len(words):len(words)])
		same = same[len(words):]
	}
	return c
}

// around leaves out words heard in utterances too far from a line to be in it.
// Utterances are ordered by their start, and none is longer than long.
func (c *correction) around(u Utterance, heard []int, long float64) []int {
	if !timed(u) {
		return heard
	}
	begins := func(after float64) int {
		return sort.Search(len(heard), func(i int) bool { return c.heard.Utterances[c.words[heard[i]].of].Start > after })
	}
	return heard[begins(u.Start-lineSlack-long):begins(u.End+lineSlack)]
}

// bare is a word without its marks and capitals.
func bare(w Word) string {
	return strings.ToLower(strings.TrimFunc(w.Text, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }))
}

// likeness tells how much speaks for word k of those heard being w, in the line u:
// 1 for the word itself, and up to a half for its time. It is 0 too far away.
func (c *correction) likeness(u Utterance, w Word, k int) float64 {
	h := c.words[k]
	if !timed(u) {
		return 1
	}
	if h.End < u.Start-lineSlack || h.Start > u.End+lineSlack {
		return 0
	}
	return 1 + 0.5/(1+math.Abs(h.Start-w.Start))
}

func wordsOf(u Utterance) []Word {
	if len(u.Words) == 0 {
		return Spread(u.Text, u.Start, u.End)
	}
	return u.Words
}

func timed(u Utterance) bool { return u.End > u.Start }

// line times one line of the edited words; none when it has no words.
func (c *correction) line(i int, u Utterance) []Utterance {
	words, kept := slices.Clone(c.lines[i]), c.kept[i]
	if len(words) == 0 {
		return nil
	}
	u = c.seat(u, kept)
	for from := 0; from < len(words); {
		if k := kept[from]; k >= 0 {
			words[from] = c.words[k].as(words[from].Text)
			if or := words[from].Or; or != nil && !together(kept[from:], or.Words) {
				words[from].Or = nil // it stood in place of words that are no more
			}
			c.next = k + 1
			from++
			continue
		}
		to := from
		for to < len(words) && kept[to] < 0 {
			to++
		}
		c.time(words, from, to, i, u)
		from = to
	}
	u.Words, u.Text = words, Join(words)
	u.Start, u.End = words[0].Start, words[0].End
	for _, w := range words {
		u.Start, u.End = min(u.Start, w.Start), max(u.End, w.End)
	}
	return []Utterance{u}
}

// together tells whether the first n words are kept one behind the other.
func together(kept []int, n int) bool {
	if n > len(kept) {
		return false
	}
	for i := 1; i < n; i++ {
		if kept[i] != kept[i-1]+1 {
			return false
		}
	}
	return true
}

func (p place) as(text string) Word {
	w := p.Word
	w.Text = text
	return w
}

// seat gives a line the channel and speaker its words were heard with.
func (c *correction) seat(u Utterance, kept []int) Utterance {
	from := -1
	for _, k := range kept {
		if k >= 0 {
			from = c.words[k].of
			break
		}
	}
	if most := 0.0; from < 0 {
		for i, h := range c.heard.Utterances {
			if both := min(h.End, u.End) - max(h.Start, u.Start); both > most {
				from, most = i, both
			}
		}
	}
	if from < 0 {
		return u
	}
	h := c.heard.Utterances[from]
	if u.Channel == 0 {
		u.Channel = h.Channel
	}
	if u.Speaker == "" && u.Channel == h.Channel {
		u.Speaker = h.Speaker
	}
	return u
}

// time gives words[from:to] of line i their times: none of them was heard as it
// stands there.
func (c *correction) time(words []Word, from, to, i int, u Utterance) {
	limit := len(c.words) // the first heard word that is kept after them
	for l, j := i, to; l < len(c.kept); l, j = l+1, 0 {
		if at := slices.IndexFunc(c.kept[l][min(j, len(c.kept[l])):], func(k int) bool { return k >= 0 }); at >= 0 {
			limit = c.kept[l][j+at]
			break
		}
	}
	var instead []Word // what they stand for
	for k := c.next; k < limit; k++ {
		if w := c.words[k]; c.heard.Utterances[w.of].Channel == u.Channel && within(u, w.Word) {
			instead = append(instead, w.Word)
			c.next = k + 1
		}
	}
	texts := make([]string, 0, to-from)
	for _, w := range words[from:to] {
		texts = append(texts, w.Text)
	}
	var timedWords []Word
	switch n := len(instead); {
	case n == len(texts):
		for k, text := range texts {
			w := instead[k]
			w.Text, w.Confidence, w.Or = text, 1, nil
			timedWords = append(timedWords, w)
		}
	case n > 0:
		timedWords = spreadClosely(texts, instead[0].Start, instead[n-1].End)
	default:
		lo, hi := c.pause(words, from, to, i, u)
		timedWords = spreadClosely(texts, lo, hi)
	}
	copy(words[from:to], timedWords)
}

// within tells whether a heard word lies in a line itself.
func within(u Utterance, w Word) bool {
	mid := (w.Start + w.End) / 2
	return !timed(u) || mid >= u.Start-closely && mid <= u.End+closely
}

// pause is the room for words that were put in at words[from:to]: after the word
// before them, or else before the one after them, or else the line itself.
func (c *correction) pause(words []Word, from, to, i int, u Utterance) (lo, hi float64) {
	room := putIn * float64(to-from)
	after := func() (float64, bool) {
		if to < len(words) {
			return c.words[c.kept[i][to]].Start, true
		}
		return 0, false
	}
	next, follows := after()
	switch {
	case from > 0:
		lo = words[from-1].End
		hi = lo + room
		if follows {
			hi = max(lo, min(hi, next))
		}
	case follows:
		hi = next
		lo = max(0, hi-room)
		if before := c.spokenUntil(u.Channel, hi); before > lo {
			lo = min(before, hi)
		}
	case timed(u):
		lo, hi = u.Start, u.End
	default: // a line of its own, and nobody said when: after what was heard before it
		if c.next > 0 {
			lo = c.words[c.next-1].End
		}
		hi = lo + room
	}
	return lo, hi
}

// spokenUntil is the end of the last word heard on a channel before a second.
func (c *correction) spokenUntil(channel int, before float64) float64 {
	end := 0.0
	for _, w := range c.words {
		if w.End <= before && c.heard.Utterances[w.of].Channel == channel {
			end = max(end, w.End)
		}
	}
	return end
}

func spreadClosely(texts []string, from, to float64) []Word {
	words := spread(texts, from, to)
	for i := range words {
		words[i].Estimated = words[i].Estimated && to-from > closely
	}
	return words
}
