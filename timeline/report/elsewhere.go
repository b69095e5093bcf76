package report

import (
	"strings"

	"sidetone/rules"
	"sidetone/timeline"
)

// elsewhere is a moment by other reckonings, where they are known: the time of
// day, and the place in its own file of a recording in several.
func elsewhere(r timeline.Recording, at float64) string {
	var parts []string
	if c := r.ClockAt(at); c != nil {
		parts = append(parts, c.Day())
	}
	if p := r.PlaceText(at); p != "" {
		parts = append(parts, clean(p))
	}
	return strings.Join(parts, ", ")
}

// elsewhereSpan is elsewhere for a stretch.
func elsewhereSpan(r timeline.Recording, from, to float64) string {
	var parts []string
	if a, b := r.ClockAt(from), r.ClockAt(to); a != nil && b != nil {
		parts = append(parts, a.Day()+" to "+b.Day())
	}
	if len(r.Parts) > 0 {
		a, from := r.Place(from)
		b, to := r.Place(to)
		text := a + " " + rules.Clock(from) + " to "
		if b != a {
			text += b + " "
		}
		parts = append(parts, clean(text+rules.Clock(to)))
	}
	return strings.Join(parts, ", ")
}

// partLines tell where each file of a recording in several begins.
func partLines(r timeline.Recording) (lines []string) {
	for _, p := range r.Parts {
		line := "from " + rules.Clock(p.Start) + ": " + clean(p.File)
		if p.Starts != nil {
			line += ", began " + p.Starts.Day()
		}
		lines = append(lines, line)
	}
	return lines
}
