package report

import (
	"bufio"
	"io"
	"slices"
	"strings"

	"github.com/mattn/go-runewidth"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/timeline"
)

// TerminalOptions says how to draw on a terminal. Width is in columns; 0 means
// 80, and less than 60 is drawn as 60. Colour adds ANSI colours; nothing is said
// by colour alone.
type TerminalOptions struct {
	Width  int
	Colour bool
}

const narrowest = 60

// Terminal writes the debrief as text: notes about the recording, a table per
// maneuver, the findings by severity, and the caution.
func Terminal(w io.Writer, tl *timeline.Timeline, opt TerminalOptions) error {
	if opt.Width == 0 {
		opt.Width = 80
	}
	t := &term{Writer: bufio.NewWriter(w), width: max(opt.Width, narrowest), colour: opt.Colour}
	t.lesson(tl)
	for _, a := range tl.Maneuvers {
		t.maneuver(tl, a)
	}
	if len(tl.Maneuvers) == 0 {
		t.empty(tl)
	} else {
		t.findings(tl)
	}
	t.line("")
	t.paragraph("", cautions(tl), faint)
	return t.Flush() // bufio keeps the first error
}

// about stands before a time that is only estimated.
const about = "~"

// guessed tells whether the time of a call is only estimated.
func guessed(tl *timeline.Timeline) bool {
	return slices.ContainsFunc(tl.Calls, func(c callouts.Call) bool { return c.Estimated })
}

// term draws lines that never pass width columns.
type term struct {
	*bufio.Writer
	width  int
	colour bool
}

// The few ANSI styles in use; the words say the same without them.
const (
	plain  = ""
	bold   = "\x1b[1m"
	faint  = "\x1b[2m"
	red    = "\x1b[31m"
	green  = "\x1b[32m"
	yellow = "\x1b[33m"
	blue   = "\x1b[34m"
)

func verdictStyle(v rules.Verdict) string {
	switch v {
	case rules.Heard:
		return green
	case rules.NotHeard:
		return red
	case rules.Unsure:
		return blue
	}
	return yellow
}

func severityStyle(s rules.Severity) string {
	switch s {
	case rules.Safety:
		return red
	case rules.Important:
		return yellow
	}
	return plain
}

func (t *term) style(s, style string) string {
	if !t.colour || style == plain || s == "" {
		return s
	}
	return style + s + "\x1b[0m"
}

func (t *term) line(s string) {
	t.WriteString(strings.TrimRight(s, " "))
	t.WriteByte('\n')
}

func (t *term) rule() {
	const dash = "─"
	t.line(t.style(strings.Repeat(dash, t.width/runewidth.StringWidth(dash)), faint))
}

// paragraph wraps text under a first-line prefix of its own width.
func (t *term) paragraph(prefix, text, style string) {
	indent := runewidth.StringWidth(prefix)
	for i, l := range wrap(text, t.width-indent) {
		if i > 0 {
			prefix = strings.Repeat(" ", indent)
		}
		t.line(prefix + t.style(l, style))
	}
}

// ends puts left and right at the two ends of a line, or on two lines.
func (t *term) ends(left, right, style string) {
	gap := t.width - runewidth.StringWidth(left) - runewidth.StringWidth(right)
	if gap < 2 {
		t.paragraph("", left, style)
		t.line(right)
		return
	}
	t.line(t.style(left, style) + strings.Repeat(" ", gap) + right)
}

func (t *term) lesson(tl *timeline.Timeline) {
	t.paragraph("", clean(tl.Recording.File), bold)
	t.paragraph("", recordingLine(tl.Recording), plain)
	for _, l := range partLines(tl.Recording) {
		t.paragraph("  ", l, plain)
	}
	if j := judgedLine(tl); j != "" {
		t.paragraph("Note: ", j, plain)
	}
	for _, l := range tl.Recording.Levels {
		t.paragraph("  ", clean(l.Text()), faint)
	}
	for _, n := range tl.Notes {
		t.paragraph("Note: ", clean(n), plain)
	}
	if guessed(tl) {
		t.paragraph("Note: ", "A time with "+about+" before it is estimated.", plain)
	}
}

// column is one column of the step table.
type column struct {
	width int
	style string
	text  []string
}

func (t *term) maneuver(tl *timeline.Timeline, a rules.Assessment) {
	t.line("")
	t.ends(clean(a.Title), rules.Clock(a.Start)+" to "+rules.Clock(a.End), bold)
	if other := elsewhereSpan(tl.Recording, a.Start, a.End); other != "" {
		t.paragraph("", other, faint)
	}
	if a.Abandoned != nil {
		t.paragraph("", clean(a.Abandoned.Reason), plain)
		t.remarks(a)
		return
	}
	t.paragraph("", tallyText(count(a)), plain)
	t.remarks(a)

	// " > " time, step, heard, verdict: two blanks between columns.
	const mark, gap = 3, 2
	at := max(len("Time"), len(rules.Clock(a.End)))
	if guessed(tl) {
		at = max(at, len(about+rules.Clock(a.End)))
	}
	verdict := len(verdictWords[rules.Unsure])
	rest := t.width - mark - at - verdict - 3*gap
	step := rest / 2
	heard := rest - step
	row := func(marker string, cs ...column) {
		lines := 1
		for _, c := range cs {
			lines = max(lines, len(c.text))
		}
		for i := range lines {
			s := marker
			if i > 0 {
				s = strings.Repeat(" ", mark)
			}
			for j, c := range cs {
				cell := ""
				if i < len(c.text) {
					cell = c.text[i]
				}
				pad := strings.Repeat(" ", max(0, c.width-runewidth.StringWidth(cell)))
				if j == 0 {
					s += pad + t.style(cell, c.style) // times line up on the right
				} else {
					s += strings.Repeat(" ", gap) + t.style(cell, c.style) + pad
				}
			}
			t.line(s)
		}
	}
	t.rule()
	row("   ", column{at, faint, []string{"Time"}}, column{step, faint, []string{"Step"}},
		column{heard, faint, []string{"What was heard"}}, column{verdict, faint, []string{"Verdict"}})
	t.rule()
	phase := ""
	for i, s := range a.Steps {
		if !asked(s) {
			continue
		}
		if p := phaseOf(a, i); p != phase {
			phase = p
			t.paragraph("", strings.ToUpper(p), bold)
		}
		marker, when, said := "   ", "-", "-"
		if accuses(s.Verdict) {
			marker = " > "
		}
		c := callOf(tl, s)
		if s.At != nil {
			when = rules.Clock(*s.At)
			if c != nil && c.Estimated {
				when = about + when
			}
		}
		if c != nil {
			said = saidIn(c, `"`, `"`)
		}
		saidText := wrap(said, heard)
		if f := figure(c, s); f != "" { // a figure is not torn from its unit
			last := &saidText[len(saidText)-1]
			if f = "= " + f; runewidth.StringWidth(*last)+1+runewidth.StringWidth(f) <= heard {
				*last += " " + f
			} else {
				saidText = append(saidText, wrap(f, heard)...)
			}
		}
		verdictText := wrap(word(s.Verdict), verdict)
		if s.Prompted {
			verdictText = append(verdictText, "prompted")
		}
		row(marker, column{at, plain, []string{when}}, column{step, plain, wrap(clean(s.Title), step)},
			column{heard, plain, saidText}, column{verdict, verdictStyle(s.Verdict), verdictText})
		for _, text := range []string{personLine(s), more(tl, s)} {
			if text != "" {
				t.paragraph(strings.Repeat(" ", mark+at+gap+2), text, faint)
			}
		}
	}
	t.rule()
	if u := uncalled(a); u != "" {
		t.paragraph("", u, faint)
	}
}

func (t *term) remarks(a rules.Assessment) {
	for _, r := range a.Remarks {
		t.paragraph("Note: ", clean(r), plain)
	}
}

func (t *term) findings(tl *timeline.Timeline) {
	t.line("")
	fs := findingsOf(tl.Maneuvers)
	if len(fs) == 0 {
		t.paragraph("", "Nothing to talk about was found in these calls.", bold)
		return
	}
	t.paragraph("", "To talk about, most serious first", bold)
	for _, f := range fs {
		when := "-"
		if f.At != nil {
			when = rules.Clock(*f.At)
		}
		t.line("")
		head := t.style(severityWord(f.Severity), severityStyle(f.Severity)) + ", " + when + ", " + word(rules.Verdict(f.Kind))
		if len(tl.Maneuvers) > 1 {
			title := clean(tl.Maneuvers[f.Maneuver].Title)
			room := t.width - runewidth.StringWidth(severityWord(f.Severity)+", "+when+", "+word(rules.Verdict(f.Kind))+", ") - 2
			head += ", " + runewidth.Truncate(title, room, "...")
		}
		t.line("  " + head)
		if f.At != nil {
			if other := elsewhere(tl.Recording, *f.At); other != "" {
				t.paragraph("    ", other, faint)
			}
		}
		t.paragraph("    ", clean(f.Message), plain)
		if r := clean(f.Reference); r != "" {
			t.paragraph("    ", "Reference: "+r, faint)
		}
	}
}

func (t *term) empty(tl *timeline.Timeline) {
	lead, try := emptyAdvice(tl)
	t.line("")
	t.paragraph("", "No maneuver was found.", bold)
	t.paragraph("", lead, plain)
	t.line("")
	for _, s := range sample(tl) {
		text := s.What
		if s.Heard != "" {
			text = strings.TrimPrefix(s.What+`: "`+s.Heard+`"`, ": ")
		}
		when := rules.Clock(s.At)
		t.paragraph("  "+strings.Repeat(" ", max(0, 7-len(when)))+when+"  ", text, plain)
	}
	if n := len(tl.Calls) - emptySample; n > 0 {
		t.paragraph("           ", "and "+Plural(n, "more", "more"), plain)
	}
	if len(tl.Transcript) > 0 {
		t.line("")
	}
	t.paragraph("", "What to try", bold)
	for _, s := range try {
		t.paragraph("  - ", s, plain)
	}
}
