package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/cmd/internal/lesson"
)

// scoreMarked prints how many of the calls marked in files of sentences, one a line,
// are found, and how many found are marked: in callout and place. Their stances are
// not looked at.
func scoreMarked(w io.Writer, files []string, finder *callouts.Finder, misses bool) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "file\tsentences\tmarked\tfound %\tfound\tmarked %\t")
	for _, name := range files {
		lines, err := lesson.ReadMarked(name)
		if err != nil {
			return err
		}
		var marked, met, found, right int
		for _, line := range lines {
			said := strings.Join(line.Words, " ")
			u := utterance(said)
			got := finder.Find(&transcript.Transcript{Utterances: []transcript.Utterance{u}})
			used := make([]bool, len(got))
			for _, m := range line.Calls {
				marked++
				ok := false
				for i, c := range got {
					if c.ID == m.ID && c.Start < u.Words[m.To-1].End && c.End > u.Words[m.From].Start {
						ok, used[i] = true, true
					}
				}
				if ok {
					met++
				} else if misses {
					fmt.Fprintf(w, "not found: %s in %q\n", m.ID, said)
				}
			}
			for i, c := range got {
				found++
				if used[i] {
					right++
				} else if misses {
					fmt.Fprintf(w, "found, not marked: %s (%.2f, %q) in %q\n", c.ID, c.Confidence, c.Heard, said)
				}
			}
		}
		fmt.Fprintf(t, "%s\t%d\t%d\t%s\t%d\t%s\t\n", name, len(lines), marked, percent(share(met, marked)), found, percent(share(right, found)))
	}
	return t.Flush()
}
