package main

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/callouts/stance"
)

// explain prints the calls found in a sentence and what their stance rests on: the
// odds of each stance, and the facts with what they say for the two likeliest.
func explain(w io.Writer, said string, finder *callouts.Finder) error {
	for _, c := range finder.Find(&transcript.Transcript{Utterances: []transcript.Utterance{utterance(said)}}) {
		fmt.Fprintf(w, "%s %s, confidence %.2f, in %q\n", call(c.ID, c.Value), c.Stance, c.Confidence, c.Heard)
		order := slices.Clone(stance.All[:])
		slices.SortStableFunc(order, func(a, b stance.Stance) int { return cmp.Compare(c.Meant.Of(b), c.Meant.Of(a)) })
		for _, s := range order {
			fmt.Fprintf(w, "  %-12s %.2f\n", s, c.Meant.Of(s))
		}
		facts := slices.Clone(c.Meant.Facts)
		gap := func(f stance.Fact) float64 {
			return f.Much * (stance.Weight(f.Name, order[0]) - stance.Weight(f.Name, order[1]))
		}
		slices.SortStableFunc(facts, func(a, b stance.Fact) int { return cmp.Compare(math.Abs(gap(b)), math.Abs(gap(a))) })
		for _, f := range facts {
			fmt.Fprintf(w, "    %-24s x %.1f: %s %+.1f, %s %+.1f\n", f.Name, f.Much, order[0], f.Much*stance.Weight(f.Name, order[0]), order[1], f.Much*stance.Weight(f.Name, order[1]))
		}
	}
	return nil
}

// utterance is a sentence spoken at about the usual pace.
func utterance(said string) transcript.Utterance {
	words := transcript.Spread(said, 1, 1+0.08*float64(len(said)))
	u := transcript.Utterance{Start: 1, Text: strings.TrimSpace(said), Words: words}
	if len(words) > 0 {
		u.End = words[len(words)-1].End
	}
	return u
}
