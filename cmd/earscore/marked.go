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
// are found, and how many found are marked: in callout and place; of those found, how
// many are meant as it is marked, and of those found and not marked, how many are said
// to have been made.
func scoreMarked(w io.Writer, files []string, finder *callouts.Finder, misses bool) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "file\tsentences\tmarked\tfound %\tfound\tmarked %\tstance %\tmade up\t")
	for _, name := range files {
		file, err := lesson.ReadMarked(name)
		if err != nil {
			return err
		}
		var marked, met, found, right, meant, madeUp int
		heard := findMarked(finder, file)
		for n, line := range file.Lines {
			h := heard[n]
			said, got := strings.Join(line.Words, " "), h.calls
			used := make([]bool, len(got))
			for _, m := range line.Calls {
				marked++
				ok := false
				for i, c := range got {
					if c.ID == m.ID && h.at(m, c) {
						if !ok && c.Stance == m.Stance {
							meant++
						}
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
					continue
				}
				if counts(c.Stance) {
					madeUp++
				}
				if misses {
					fmt.Fprintf(w, "found, not marked: %s (%.2f, %q) in %q\n", c.ID+" "+string(c.Stance), c.Confidence, c.Heard, said)
				}
			}
		}
		how := "-"
		if file.Stances {
			how = percent(share(meant, met))
		}
		fmt.Fprintf(t, "%s\t%d\t%d\t%s\t%d\t%s\t%s\t%d\t\n", name, len(file.Lines), marked, percent(share(met, marked)), found, percent(share(right, found)), how, madeUp)
	}
	return t.Flush()
}

// heardLine is a marked line, and what was found in it.
type heardLine struct {
	said  transcript.Utterance
	calls []callouts.Call
}

// at tells whether a call was found where one is marked.
func (h heardLine) at(m lesson.MarkedCall, c callouts.Call) bool {
	return c.Start < h.said.Words[m.To-1].End && c.End > h.said.Words[m.From].Start
}

// findMarked gives what is found in each line: by itself, or among the lines of its
// lesson.
func findMarked(finder *callouts.Finder, file *lesson.MarkedFile) []heardLine {
	lines := file.Lines
	out := make([]heardLine, len(lines))
	for from := 0; from < len(lines); {
		to := from + 1
		for file.Lessons && to < len(lines) && !lines[to].First {
			to++
		}
		t := &transcript.Transcript{}
		at := 0.0
		for _, l := range lines[from:to] {
			u := utterance(strings.Join(l.Words, " "))
			for i := range u.Words {
				u.Words[i].Start += at
				u.Words[i].End += at
			}
			u.Start, u.End = u.Start+at, u.End+at
			at = u.End
			t.Utterances = append(t.Utterances, u)
		}
		for i, u := range t.Utterances {
			out[from+i].said = u
		}
		for _, c := range finder.Find(t) {
			out[from+c.Utterance].calls = append(out[from+c.Utterance].calls, c)
		}
		from = to
	}
	return out
}
