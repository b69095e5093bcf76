package main

import (
	"math/rand/v2"
	"slices"
	"strings"

	cockpit "sidetone/audio/recognise/talk"
	"sidetone/callouts"
	"sidetone/callouts/sound"
)

// Words that stand between and before calls, figures, and the alphabet (ICAO
// Annex 10, volume II, 5.2.1.3).
var (
	joints = []string{"and", "okay", "now", "then", "so", "um", "right", "good", "next", "we have", "i have",
		"the", "that is", "and then", "looking for", "remember", "there you go"}
	digits   = strings.Fields("zero one two three four five six seven eight niner nine")
	alphabet = strings.Fields("alpha bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike " +
		"november oscar papa quebec romeo sierra tango uniform victor whiskey yankee zulu")
	quantities = strings.Fields("hundred thousand ten twelve fifteen twenty thirty forty fifty sixty seventy eighty " +
		"ninety point knots feet degrees left right runway tower")
)

// sentences makes what the voices say: calls of the lexicon one after the other,
// cockpit talk, what speakers of the tuning sentences say, everyday English, words of
// the dictionary in no order, for their sounds, and figures and letters.
type sentences struct {
	calls                          [][]string // the phrases of each callout
	cockpit, talk, everyday, words []string
}

func newSentences(project string) (*sentences, error) {
	lexicon, err := callouts.Builtin()
	if err != nil {
		return nil, err
	}
	expected, err := lexicon.Expected()
	if err != nil {
		return nil, err
	}
	s := &sentences{words: slices.Collect(plainWords)}
	at := map[string]int{}
	for _, e := range expected {
		means, _, _ := strings.Cut(e.Means, "=")
		if strings.HasPrefix(means, "the ") {
			means = "the" // what is only named is one kind
		}
		if _, ok := at[means]; !ok {
			at[means] = len(s.calls)
			s.calls = append(s.calls, nil)
		}
		s.calls[at[means]] = append(s.calls[at[means]], e.Phrase)
	}
	if s.talk, err = talk(project, tuning); err != nil {
		return nil, err
	}
	known := map[string]bool{}
	for _, w := range s.words {
		known[w] = true
	}
	for _, said := range cockpit.Sentences() {
		if w := strings.Fields(said); len(w) >= shortestTalk && len(w) <= longestTalk && !slices.ContainsFunc(w, func(w string) bool { return !known[w] }) {
			s.cockpit = append(s.cockpit, said)
		}
	}
	s.everyday, err = everyday(s.words)
	return s, err
}

// The fewest and most words of a sentence of cockpit talk that is spoken.
const shortestTalk, longestTalk = 2, 16

// plainWords are those of the dictionary in letters and apostrophes alone.
func plainWords(yield func(string) bool) {
	for w := range sound.Words() {
		if strings.Trim(w, "abcdefghijklmnopqrstuvwxyz'") == "" && w[0] != '\'' && !yield(w) {
			return
		}
	}
}

// next is another sentence.
func (s *sentences) next(rng *rand.Rand) string {
	switch r := rng.Float64(); {
	case r < 0.26:
		return s.someCalls(rng)
	case r < 0.70:
		return pick(rng, s.cockpit)
	case r < 0.76:
		return pick(rng, s.talk)
	case r < 0.83:
		return pick(rng, s.everyday)
	case r < 0.91:
		return several(rng, 2, 5, func() string { return pick(rng, s.words) })
	default:
		return several(rng, 2, 7, func() string {
			switch r := rng.Float64(); {
			case r < 0.5:
				return pick(rng, digits)
			case r < 0.75:
				return pick(rng, alphabet)
			default:
				return pick(rng, quantities)
			}
		})
	}
}

func (s *sentences) someCalls(rng *rand.Rand) string {
	var out []string
	for range pick(rng, []int{1, 1, 1, 2, 2, 3}) {
		if rng.Float64() < 0.35 {
			out = append(out, pick(rng, joints))
		}
		out = append(out, pick(rng, pick(rng, s.calls)))
	}
	if rng.Float64() < 0.15 {
		out = append(out, pick(rng, joints))
	}
	return strings.Join(out, " ")
}

func several(rng *rand.Rand, least, most int, word func() string) string {
	out := make([]string, least+rng.IntN(most-least+1))
	for i := range out {
		out[i] = word()
	}
	return strings.Join(out, " ")
}

func pick[T any](rng *rand.Rand, from []T) T { return from[rng.IntN(len(from))] }
