package report

import (
	"cmp"
	"encoding/csv"
	"io"
	"slices"
	"strconv"
	"strings"

	"sidetone/rules"
	"sidetone/timeline"
)

// StepColumns and CallColumns head the tables WriteStepsCSV and WriteCallsCSV
// write. Times are seconds from the start of the recording; time_of_day, file and
// file_seconds are those of the moment where they are known.
var (
	StepColumns = []string{"maneuver", "procedure", "title", "maneuver_start", "maneuver_end", "abandoned", "phase",
		"step", "step_title", "verdict", "waived", "prompted", "at", "clock", "estimated", "time_of_day", "file", "file_seconds",
		"heard", "value", "unit", "confidence", "reason",
		"machine_verdict", "person_verdict", "person_reason", "person", "notes"}
	CallColumns = []string{"call", "start", "end", "clock", "estimated", "time_of_day", "file", "file_seconds",
		"speaker", "stance", "value", "unit", "confidence", "heard", "added_by"}
)

// WriteStepsCSV writes a row for each step of each maneuver as CSV (RFC 4180: CRLF,
// quotes doubled), with a line of headings. What a cell does not have is empty. The
// verdict is the one that counts; where a person gave it, the columns person say so, and
// machine_verdict what the machine had said. Notes are what people say of the step.
func WriteStepsCSV(w io.Writer, tl *timeline.Timeline, said ...Said) error {
	return table(w, StepColumns, func(row func(...string)) {
		for i, m := range tl.Maneuvers {
			for j, s := range m.Steps {
				c := callOf(tl, s)
				heard, unit, estimated := "", "", false
				if c != nil {
					heard, unit, estimated = c.Heard, c.Unit, c.Estimated
				}
				if s.Value == nil {
					unit = ""
				}
				confidence := number(s.Confidence)
				if c != nil && c.AddedBy != "" {
					confidence = "" // nothing was heard that it could be the confidence of
				}
				row(slices.Concat(
					[]string{strconv.Itoa(i + 1), m.Procedure, cell(m.Title), number(m.Start), number(m.End), yes(m.Abandoned != nil), cell(phaseOf(m, j)),
						s.ID, cell(s.Title), string(s.Verdict), string(s.Waived), yes(s.Prompted)},
					whenCells(tl.Recording, s.At, estimated),
					[]string{cell(heard), optional(s.Value), unit, confidence, cell(s.Reason)},
					personCells(s), []string{notesOn(said, i, s.ID)})...)
			}
		}
	})
}

// WriteCallsCSV writes a row for each call heard, likewise.
func WriteCallsCSV(w io.Writer, tl *timeline.Timeline) error {
	return table(w, CallColumns, func(row func(...string)) {
		for _, c := range tl.Calls {
			when := whenCells(tl.Recording, &c.Start, c.Estimated)
			confidence := number(c.Confidence)
			if c.AddedBy != "" {
				confidence = ""
			}
			row(slices.Concat(
				[]string{c.ID, when[0], number(c.End)}, when[1:],
				[]string{cell(c.Speaker), string(c.Stance), optional(c.Value), c.Unit, confidence, cell(c.Heard), cell(c.AddedBy)})...)
		}
	})
}

func table(w io.Writer, head []string, rows func(row func(...string))) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true
	write := func(cells ...string) { _ = c.Write(cells) } // Error tells
	write(head...)
	rows(write)
	c.Flush()
	return c.Error()
}

// whenCells are the cells at, clock, estimated, time_of_day, file and file_seconds.
func whenCells(r timeline.Recording, at *float64, estimated bool) []string {
	if at == nil {
		return make([]string, 6)
	}
	day := ""
	if c := r.ClockAt(*at); c != nil {
		day = c.String()
	}
	file, second := r.Place(*at)
	return []string{number(*at), rules.Clock(*at), yes(estimated), day, cell(file), number(second)}
}

// personCells are the cells machine_verdict, person_verdict, person_reason and person.
func personCells(s rules.StepResult) []string {
	p := s.Person
	if p == nil {
		return []string{string(s.Verdict), "", "", ""}
	}
	reason := p.Reason
	if p.How == rules.Added {
		reason = "added the call"
	}
	return []string{string(p.Was), string(s.Verdict), cell(reason), cell(p.Author)}
}

// notesOn is what people say of a step, in one cell.
func notesOn(said []Said, maneuver int, step string) string {
	var notes []string
	for _, s := range said {
		if s.Maneuver != maneuver || s.Step != step {
			continue
		}
		note := s.Author
		if s.What != "" {
			note += " " + s.What
		}
		if s.Text != "" {
			note += ": " + s.Text
		}
		notes = append(notes, note)
	}
	return cell(strings.Join(notes, "; "))
}

// cell is text from outside for a cell: on one line, and never a formula of the
// spreadsheet it is opened in, which an apostrophe in front prevents.
func cell(s string) string {
	if s = clean(s); s != "" && strings.ContainsRune("=+-@", rune(s[0])) {
		return "'" + s
	}
	return s
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

func optional(v *float64) string {
	if v == nil {
		return ""
	}
	return number(*v)
}

// findingsByTime are the findings of a maneuver that have a moment, in its order.
func findingsByTime(a rules.Assessment) []rules.Finding {
	fs := slices.DeleteFunc(slices.Clone(a.Findings), func(f rules.Finding) bool { return f.At == nil })
	slices.SortStableFunc(fs, func(a, b rules.Finding) int { return cmp.Compare(*a.At, *b.At) })
	return fs
}
