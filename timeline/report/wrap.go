package report

import (
	"strings"

	"github.com/mattn/go-runewidth"
)

// wrap breaks text at blanks into lines of at most width columns; a word wider
// than that is cut. It returns at least one line.
func wrap(text string, width int) []string {
	width = max(width, 2) // the widest rune
	var lines []string
	var line strings.Builder
	used := 0
	flush := func() {
		lines = append(lines, line.String())
		line.Reset()
		used = 0
	}
	for w := range strings.FieldsSeq(text) {
		n := runewidth.StringWidth(w)
		if used > 0 && used+1+n > width {
			flush()
		}
		for n > width {
			head := runewidth.Truncate(w, width, "")
			if head == "" {
				break // a cluster wider than the column; nothing can be cut off
			}
			line.WriteString(head)
			flush()
			w = w[len(head):]
			n = runewidth.StringWidth(w)
		}
		if w == "" {
			continue
		}
		if used > 0 {
			line.WriteByte(' ')
			used++
		}
		line.WriteString(w)
		used += n
	}
	if line.Len() > 0 || len(lines) == 0 {
		flush()
	}
	return lines
}
