package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
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
		b, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		var said, marked, met, found, right int
		lines := bufio.NewScanner(strings.NewReader(string(b)))
		for n := 1; lines.Scan(); n++ {
			line := strings.TrimSpace(lines.Text())
			if line == "" || line[0] == '#' {
				continue
			}
			words, calls, err := lesson.Marked(line)
			if err != nil {
				return fmt.Errorf("%s:%d: %w", name, n, err)
			}
			said++
			u := utterance(strings.Join(words, " "))
			got := finder.Find(&transcript.Transcript{Utterances: []transcript.Utterance{u}})
			used := make([]bool, len(got))
			for _, m := range calls {
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
					fmt.Fprintf(w, "not found: %s in %q\n", m.ID, strings.Join(words, " "))
				}
			}
			for i, c := range got {
				found++
				if used[i] {
					right++
				} else if misses {
					fmt.Fprintf(w, "found, not marked: %s (%.2f, %q) in %q\n", c.ID, c.Confidence, c.Heard, strings.Join(words, " "))
				}
			}
		}
		if err := lines.Err(); err != nil {
			return err
		}
		fmt.Fprintf(t, "%s\t%d\t%d\t%s\t%d\t%s\t\n", name, said, marked, percent(share(met, marked)), found, percent(share(right, found)))
	}
	return t.Flush()
}
