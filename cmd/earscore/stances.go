package main

import (
	"cmp"
	"fmt"
	"io"
	"text/tabwriter"

	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/cmd/internal/lesson"
)

// What stands in the place of a stance where no call is meant, or found with
// another figure.
const (
	talk       callouts.Stance = "no call"
	otherValue callouts.Stance = "another value"
)

// scoreStances prints how many sentences of a file have the stance written
// beside them, and with misses which have not. A sentence whose call is not
// found at all counts as wrong, but for stances nothing rests on it is said apart.
func scoreStances(w io.Writer, files []string, finder *callouts.Finder, misses bool) error {
	all, err := lesson.ReadSentences(files...)
	if err != nil {
		return err
	}
	type count struct{ all, right, absent int }
	sums := map[callouts.Stance]*count{}
	total := &count{}
	for _, s := range all {
		if s.ID == "" {
			s.Stance = talk
		}
		if sums[s.Stance] == nil {
			sums[s.Stance] = &count{}
		}
		got := stanceOf(s, finder)
		for _, c := range []*count{sums[s.Stance], total} {
			c.all++
			switch got {
			case s.Stance:
				c.right++
			case "":
				c.absent++
			}
		}
		if misses && got != s.Stance {
			if got == "" {
				got = "not found"
			}
			fmt.Fprintf(w, "%s, not %s: %s in %q\n", got, s.Stance, cmp.Or(s.ID, "talk"), s.Say)
		}
	}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "stance\tsentences\tright %\tcall not found\t")
	for _, k := range sortedKeys(sums) {
		c := sums[k]
		fmt.Fprintf(t, "%s\t%d\t%s\t%d\t\n", k, c.all, percent(share(c.right, c.all)), c.absent)
	}
	fmt.Fprintf(t, "all\t%d\t%s\t%d\t\n", total.all, percent(share(total.right, total.all)), total.absent)
	return t.Flush()
}

// stanceOf is the stance found for the call of a sentence, "" when the call is
// not found. Said several times, the one that counts most is taken. Of talk it is
// that of the first call found that counts.
func stanceOf(s lesson.Sentence, finder *callouts.Finder) callouts.Stance {
	var got callouts.Stance
	calls := finder.Find(&transcript.Transcript{Utterances: []transcript.Utterance{utterance(s.Say)}})
	if s.ID == "" {
		for _, c := range calls {
			if counts(c.Stance) {
				return callouts.Stance(c.ID) + " " + c.Stance
			}
		}
		return talk
	}
	for _, c := range calls {
		if c.ID == s.ID && s.Value != nil && (c.Value == nil || *c.Value != *s.Value) {
			if got == "" {
				got = otherValue
			}
			continue
		}
		if c.ID == s.ID && (got == "" || got == otherValue || counts(c.Stance) && got != s.Stance || c.Stance == s.Stance && !counts(got)) {
			got = c.Stance
		}
	}
	return got
}
