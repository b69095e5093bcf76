package main

import (
	"fmt"
	"io"
	"text/tabwriter"

	"sidetone/audio/transcript"
	"sidetone/callouts"
)

// sentence is one line of a file of stances: a call in a sentence, and what the
// speaker does with it.
type sentence struct {
	Say    string          `yaml:"say"`
	ID     string          `yaml:"id"`
	Stance callouts.Stance `yaml:"stance"`
}

// scoreStances prints how many sentences of a file have the stance written
// beside them, and with misses which have not. A sentence whose call is not
// found at all counts as wrong, but for stances nothing rests on it is said apart.
func scoreStances(w io.Writer, file string, finder *callouts.Finder, misses bool) error {
	all, err := readSentences(file)
	if err != nil {
		return err
	}
	type count struct{ all, right, absent int }
	sums := map[callouts.Stance]*count{}
	total := &count{}
	for _, s := range all {
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
			fmt.Fprintf(w, "%s, not %s: %s in %q\n", got, s.Stance, s.ID, s.Say)
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
// not found. Said several times, the one that counts most is taken.
func stanceOf(s sentence, finder *callouts.Finder) callouts.Stance {
	var got callouts.Stance
	for _, c := range finder.Find(&transcript.Transcript{Utterances: []transcript.Utterance{utterance(s.Say)}}) {
		if c.ID == s.ID && (got == "" || counts(c.Stance) && got != s.Stance || c.Stance == s.Stance && !counts(got)) {
			got = c.Stance
		}
	}
	return got
}
