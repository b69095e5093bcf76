package callouts

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"sync"

	"sidetone/audio/transcript"
	"sidetone/callouts/figures"
	"sidetone/callouts/meaning"
	"sidetone/callouts/sound"
)

// Finder finds the calls of a lexicon. It is safe for concurrent use.
type Finder struct {
	lexicon  *Lexicon
	index    *sound.Index
	words    []map[string]bool // of each phrase of the index
	plain    [][]string        // the same in their order
	patterns []pattern         // every way to make a call
	byPhrase map[int][]int     // phrase to the patterns it starts the search for
	acts     actIndex

	meaning *meaning.Net   // nil for none
	called  map[string]int // the callout of an ID
	freely  []freely       // of each callout
	figured []figured
}

// pattern is one way to make a call: phrases of the index with perhaps a figure
// between or beside them.
type pattern struct {
	callout   int
	pre, post int // phrases of the index, -1 for none
	slot      bool
	fixed     *float64 // a figure that is part of the phrase's words
	ordered   bool
	alone     bool
	act       bool     // found as an act, not as a phrase
	named     bool     // its thing is only named
	spelt     []string // the words it is spelt in, of a phrase found so
	bare      bool     // its thing is left out
	free      bool     // found by what its words mean
}

// spokenFlaps are flap settings searched for by their sound when the figure
// itself was misheard; the stages of light aeroplanes (common practice, no
// source).
var spokenFlaps = []spokenFlap{{"ten", 10}, {"fifteen", 15}, {"twenty", 20}, {"twenty five", 25}, {"thirty", 30}, {"forty", 40}}

type spokenFlap struct {
	words string
	value float64
}

// NewFinder prepares a lexicon for searching.
func NewFinder(lex *Lexicon) (*Finder, error) {
	f := &Finder{lexicon: lex, byPhrase: map[int][]int{}, acts: newActIndex()}
	ids := map[string]int{}
	var phrases []sound.Phrase
	phrase := func(words []string) int {
		if len(words) == 0 {
			return -1
		}
		key := strings.ToLower(strings.Join(words, " "))
		id, ok := ids[key]
		if !ok {
			id = len(phrases)
			ids[key] = id
			phrases = append(phrases, sound.NewPhrase(words))
			set := map[string]bool{}
			for w := range strings.FieldsSeq(key) {
				set[w] = true
			}
			f.words = append(f.words, set)
			f.plain = append(f.plain, strings.Fields(key))
		}
		return id
	}
	add := func(p pattern) {
		anchor := p.pre
		if anchor < 0 {
			anchor = p.post
		}
		f.byPhrase[anchor] = append(f.byPhrase[anchor], len(f.patterns))
		f.patterns = append(f.patterns, p)
	}
	for i, c := range lex.Callouts {
		if _, err := c.check(); err != nil {
			return nil, fmt.Errorf("callout %q: %w", c.ID, err)
		}
		for _, list := range []struct {
			phrases        []string
			ordered, alone bool
		}{{c.Say, false, false}, {c.Order, true, false}, {c.Alone, false, true}} {
			for _, s := range list.phrases {
				said, err := compilePhrase(s, c.Quantity)
				if err != nil {
					return nil, fmt.Errorf("callout %q: %w", c.ID, err)
				}
				for _, v := range said {
					p := pattern{callout: i, pre: phrase(v.pre), post: phrase(v.post), slot: v.slot, ordered: list.ordered, alone: list.alone}
					add(p)
					if v.slot && len(v.pre) > 0 && c.Quantity == Flaps {
						for _, n := range spokenFlaps {
							words := slices.Concat(v.pre, strings.Fields(n.words), v.post)
							if len(words) <= maxWords {
								add(pattern{callout: i, pre: phrase(words), post: -1, fixed: &n.value, ordered: p.ordered, alone: p.alone})
							}
						}
					}
				}
			}
		}
	}
	for i := range lex.Callouts {
		if err := f.acts.add(&lex.Callouts[i], i); err != nil {
			return nil, fmt.Errorf("callout %q: %w", lex.Callouts[i].ID, err)
		}
	}
	f.acts.part(lex)
	f.meaning, f.called = meaning.English(), map[string]int{}
	for i := range lex.Callouts {
		f.called[lex.Callouts[i].ID] = i
	}
	f.freely, f.figured = f.inFreeWording(), withFigures(lex)
	// A figure beside a phrase may speak for it; other phrases stand alone.
	helped := make([]bool, len(phrases))
	for _, p := range f.patterns {
		for _, id := range []int{p.pre, p.post} {
			if id >= 0 && p.slot {
				helped[id] = true
			}
		}
	}
	for id := range phrases {
		if !helped[id] {
			phrases[id] = phrases[id].From(leastBelief)
		}
	}
	f.index = sound.NewIndex(phrases)
	return f, nil
}

// Means makes the finder go by another network of meanings, to measure or fit one.
func (f *Finder) Means(n *meaning.Net) {
	f.meaning = n
	f.freely = f.inFreeWording()
}

// ListedOnly makes the finder go by the words of the lexicon alone, to measure what
// understanding free wording adds.
func (f *Finder) ListedOnly() { f.meaning = nil }

// Find returns the calls made in a transcript, ordered by Start. Speakers are
// those of the utterances.
func (f *Finder) Find(t *transcript.Transcript) []Call {
	calls, _ := f.hear(t, false)
	return calls
}

// Hear is Find, and hints at calls that may have been made in words not understood for
// certain, ordered by Start, with the stance Done and a small confidence. They are no
// calls to report; but a step they may be of is not to be called missing.
func (f *Finder) Hear(t *transcript.Transcript) (calls, hints []Call) {
	calls, hints = f.hear(t, true)
	return calls, hintsBeside(calls, hints)
}

func (f *Finder) hear(t *transcript.Transcript, hinted bool) (calls, hints []Call) {
	said := map[string][]sound.Phone{}
	say := func(w string) []sound.Phone {
		p, ok := said[w]
		if !ok {
			p = sound.Say(w)
			said[w] = p
		}
		return p
	}
	speakers := make([]string, len(t.Utterances))
	for i, u := range t.Utterances {
		speakers[i] = u.Speaker
	}
	for _, s := range streams(t) {
		if len(s.tokens) == 0 {
			continue
		}
		h := &hearing{
			finder: f, stream: s, speakers: speakers,
			figures: figures.NewLine(s.raw),
		}
		var read sync.WaitGroup
		read.Go(h.read)
		h.matches = f.index.Search(sound.NewLine(s.raw, say, s.broken, s.light))
		read.Wait()
		calls = append(calls, h.calls(t)...)
		if hinted {
			hints = append(hints, h.hints(t)...)
			hints = append(hints, h.figureHints(t)...)
		}
	}
	slices.SortStableFunc(calls, byTime)
	calls = elided(calls)
	f.settle(calls)
	return calls, hints
}

func byTime(a, b Call) int {
	return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(a.End, b.End), cmp.Compare(a.ID, b.ID))
}

// Untold takes those calls out that are told already, where they were made.
func Untold(calls, told []Call) []Call {
	of := map[string][]Call{}
	for _, c := range told {
		of[c.ID] = append(of[c.ID], c)
	}
	return slices.DeleteFunc(calls, func(o Call) bool { return slices.ContainsFunc(of[o.ID], o.Again) })
}

// Again tells whether another is of the same callout, and made at the same time.
func (c Call) Again(o Call) bool { return o.ID == c.ID && o.Start < c.End && o.End > c.Start }

// Merge puts calls together in the order they were made in.
func Merge(a, b []Call) []Call {
	out := slices.Concat(a, b)
	slices.SortStableFunc(out, byTime)
	return out
}
