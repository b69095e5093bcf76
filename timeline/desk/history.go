package desk

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"sidetone/rules"
	"sidetone/timeline/logbook"
)

var verdictWords = map[rules.Verdict]string{rules.Heard: "heard", rules.NotHeard: "not heard", rules.OutOfOrder: "out of order", rules.Late: "late",
	rules.OffValue: "off value", rules.Unsure: "unsure", rules.NotApplicable: "not applicable"}

// summary tells a fact in one sentence.
func (v *view) summary(f logbook.Fact) string {
	switch f.Kind {
	case logbook.KindVerdict:
		switch f.Hand {
		case logbook.Accept:
			return f.Author + " agreed" + v.place(f) + "."
		case logbook.ListenAgain:
			return f.Author + " marked “come back to this”" + v.place(f) + "."
		}
		return fmt.Sprintf("%s overruled the machine%s: %s, because %s", f.Author, v.place(f), verdictWords[f.Verdict], closing(f.Reason))
	case logbook.KindCall:
		return fmt.Sprintf("%s added the call %s%s.", f.Author, quoted(v.callTitle(f.Callout)), v.place(f))
	case logbook.KindWord:
		was, at, _ := v.word(*f.Word)
		switch f.Text {
		case "":
			return fmt.Sprintf("%s took out the word %s at %s.", f.Author, quoted(was), rules.Clock(at))
		case was:
			return fmt.Sprintf("%s let %s at %s stand as it was heard.", f.Author, quoted(was), rules.Clock(at))
		}
		return fmt.Sprintf("%s wrote %s for %s at %s.", f.Author, quoted(f.Text), quoted(was), rules.Clock(at))
	case logbook.KindNote:
		return fmt.Sprintf("%s wrote a note%s: %s", f.Author, v.place(f), closing(f.Text))
	case logbook.KindWorkOn:
		before := v.workText(f.Of, f.Number)
		switch {
		case f.Of == 0:
			return fmt.Sprintf("%s set what to work on next%s: %s", f.Author, v.place(f), closing(f.Text))
		case f.Done:
			return fmt.Sprintf("%s ticked off what was to be worked on: %s", f.Author, closing(before))
		case f.Text == "" || f.Text == before:
			return fmt.Sprintf("%s set this to be worked on again: %s", f.Author, closing(before))
		}
		return fmt.Sprintf("%s wrote anew what is to be worked on: %s", f.Author, closing(f.Text))
	case logbook.KindCover:
		return fmt.Sprintf("%s put the cover right: %s.", f.Author, coverLines(f.Cover))
	}
	meant, back := v.undoes(f)
	does := " took back"
	if back {
		does = " brought back"
	}
	if meant.Author != f.Author {
		does += " what " + meant.Author + " did"
	}
	return f.Author + does + ": " + strings.TrimSuffix(v.short(meant), ".") + "."
}

// short names a fact in a few words, without its author.
func (v *view) short(f logbook.Fact) string {
	on := ""
	if f.Maneuver != nil {
		on = " on " + v.meant(f)
	}
	switch f.Kind {
	case logbook.KindVerdict:
		switch f.Hand {
		case logbook.Accept:
			return "Agreed" + on
		case logbook.ListenAgain:
			return "Marked " + v.meant(f) + " “come back to this”"
		}
		return "Overruled " + v.meant(f)
	case logbook.KindCall:
		return "Added the call " + v.callTitle(f.Callout)
	case logbook.KindWord:
		was, _, _ := v.word(*f.Word)
		if f.Text == "" {
			return "Took out the word " + quoted(was)
		}
		return fmt.Sprintf("Wrote %s for %s", quoted(f.Text), quoted(was))
	case logbook.KindNote:
		if f.At != nil && on == "" {
			on = " at " + rules.Clock(*f.At)
		}
		return "Note" + on + ": " + quoted(cut(f.Text))
	case logbook.KindWorkOn:
		switch {
		case f.Of == 0:
			return "Work on next: " + quoted(cut(f.Text))
		case f.Done:
			return "Ticked off " + quoted(cut(v.workText(f.Of, f.Number)))
		}
		return "Changed what to work on: " + quoted(cut(v.workText(f.Of, f.Number+1)))
	case logbook.KindCover:
		return "Cover put right: " + coverLines(f.Cover)
	}
	meant, back := v.undoes(f)
	if back {
		return "Brought back: " + v.short(meant)
	}
	return "Took back: " + v.short(meant)
}

// undoes is the change an undo is about in the end, and whether that stands again by
// it: what undoes an undo brings back.
func (v *view) undoes(f logbook.Fact) (meant logbook.Fact, back bool) {
	for back = true; f.Kind == logbook.KindUndo; back = !back {
		f = v.facts[f.Undo-1]
	}
	return f, back
}

// workText is what something to work on said before change n.
func (v *view) workText(item, n int) (text string) {
	for _, f := range v.facts[:min(n-1, len(v.facts))] {
		if (f.Number == item || f.Of == item) && f.Text != "" {
			text = f.Text
		}
	}
	return text
}

func (v *view) callTitle(id string) string {
	if c := v.judge.Callout(id); c != nil && c.Title != "" {
		return c.Title
	}
	return id
}

// meant is the title of the step a fact is on, or of the maneuver.
func (v *view) meant(f logbook.Fact) string {
	if v.timeline != nil {
		if i := f.Maneuver.Find(v.timeline); i >= 0 {
			m := v.timeline.Maneuvers[i]
			for _, s := range m.Steps {
				if s.ID == f.Step && f.Step != "" {
					return s.Title
				}
			}
			return m.Title
		}
	}
	return "a maneuver that is no longer found"
}

// place says where in the lesson a fact is, in words: a step at its own moment.
func (v *view) place(f logbook.Fact) string {
	if f.Maneuver == nil {
		if f.At != nil {
			return " at " + rules.Clock(*f.At)
		}
		return ""
	}
	if v.timeline == nil {
		return ""
	}
	i := f.Maneuver.Find(v.timeline)
	if i < 0 {
		return " in a maneuver that is no longer found"
	}
	m := v.timeline.Maneuvers[i]
	for _, s := range m.Steps {
		if s.ID != f.Step || f.Step == "" {
			continue
		}
		at := s.At
		for _, x := range m.Findings {
			if at == nil && x.Step == s.ID {
				at = x.At
			}
		}
		where := " on " + quoted(s.Title)
		if at != nil {
			where += " at " + rules.Clock(*at)
		}
		return where + " in " + m.Title
	}
	return " on " + m.Title + " at " + rules.Clock(m.Start)
}

// quoted puts what somebody said or wrote between quotation marks, on one line.
func quoted(s string) string { return "“" + strings.Join(strings.Fields(s), " ") + "”" }

// closing is quoted at the end of a sentence, which it may end itself.
func closing(s string) string {
	s = quoted(s)
	if strings.HasSuffix(s, ".”") || strings.HasSuffix(s, "!”") || strings.HasSuffix(s, "?”") || strings.HasSuffix(s, "…”") {
		return s
	}
	return s + "."
}

// cut keeps the beginning of a long text.
func cut(s string) string {
	const most = 60
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	return strings.TrimSpace(string([]rune(s)[:most])) + " …"
}

// coverLines are the lines of a cover that were put right.
func coverLines(c *logbook.Cover) string {
	var out []string
	for _, l := range []struct {
		name string
		put  *string
	}{{"title", c.Title}, {"date", c.Flown}, {"student", c.Student}, {"instructor", c.Instructor}, {"aircraft", c.Aircraft}} {
		switch {
		case l.put == nil:
		case *l.put == "":
			out = append(out, l.name+" left out")
		default:
			out = append(out, l.name+" "+quoted(*l.put))
		}
	}
	return strings.Join(out, ", ")
}
