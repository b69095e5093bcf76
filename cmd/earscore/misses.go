package main

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
)

// printMisses lists what went wrong in a lesson: calls missed, found where none
// was made, or found with another stance or value, and verdicts that are not the
// sheet's, each with what was said and what was recognised there.
// The stage to blame stands before each; causes counts them.
func (s *scored) printMisses(w io.Writer, causes map[string]int) {
	type miss struct {
		at   float64
		text string
	}
	var list []miss
	pairs, found := map[int]pairing{}, map[int]bool{}
	for _, p := range s.pairs {
		pairs[p.made], found[p.found] = p, true
	}
	for i, c := range s.truth.Calls {
		if c.Perhaps {
			continue
		}
		p, heard := pairs[i]
		what := fmt.Sprintf("%s %s (%s)\n      said  %q\n      heard %q", c.Stance, call(c.ID, c.Value), c.Voice, s.said(c.Start, c.End), s.heard(c.Start, c.End))
		text := ""
		switch {
		case !heard && counts(c.Stance):
			text = "missed " + what
		case heard && !p.value:
			text = fmt.Sprintf("value %s, not %s", call(s.calls[p.found].ID, s.calls[p.found].Value), what)
		case heard && !p.stance:
			text = fmt.Sprintf("stance %s, not %s", s.calls[p.found].Stance, what)
		default:
			continue
		}
		why := s.blame.call(i)
		causes["calls missed or wrong: "+string(why)]++
		list = append(list, miss{c.Start, fmt.Sprintf("[%s] %s", why, text)})
	}
	for i, f := range s.calls {
		if !found[i] && counts(f.Stance) && !s.again(f) {
			why := s.blame.alarm(f)
			causes["calls nobody made: "+string(why)]++
			list = append(list, miss{f.Start, fmt.Sprintf("[%s] not made: %s %s, confidence %.2f\n      said  %q\n      heard %q",
				why, f.Stance, call(f.ID, f.Value), f.Confidence, s.said(f.Start, f.End), s.heard(f.Start, f.End))})
		}
	}
	slices.SortStableFunc(list, func(a, b miss) int { return cmp.Compare(a.at, b.at) })
	var wrong []stepScore
	for _, st := range s.steps {
		if !st.right() {
			wrong = append(wrong, st)
		}
	}
	if len(list)+len(wrong) == 0 {
		return
	}
	fmt.Fprintf(w, "\n%s, %s\n", s.name, s.ratio())
	for _, m := range list {
		fmt.Fprintf(w, "  %6.1f  %s\n", m.at, m.text)
	}
	for _, st := range wrong {
		said, accused := string(st.Said), ""
		if said == "" {
			said = "maneuver not found"
		}
		sheet := string(st.Sheet)
		if sheet == "" {
			sheet = "maneuver not flown"
		}
		why := s.blame.step(st)
		causes["verdicts wrong: "+string(why)]++
		if st.falselyAccused() {
			accused = " FALSELY ACCUSED"
			causes["falsely accused: "+string(why)]++
		}
		fmt.Fprintf(w, "  [%s] verdict %s %s: %s, the sheet: %s%s. %s\n", why, st.Procedure, st.Step, said, sheet, accused, st.Reason)
	}
}

func call(id string, value *float64) string {
	if value == nil {
		return id
	}
	return fmt.Sprintf("%s=%g", id, *value)
}

// around is how much before and after a call is shown, in seconds.
const around = 0.6

func (s *scored) said(from, to float64) string {
	var out []string
	for _, l := range s.truth.Lines {
		for _, w := range l.Words {
			if w.End > from-around && w.Start < to+around {
				out = append(out, w.Text)
			}
		}
	}
	return strings.Join(out, " ")
}

func (s *scored) heard(from, to float64) string {
	var out []string
	for _, u := range s.words.Utterances {
		for _, w := range u.Words {
			if w.End > from-around && w.Start < to+around {
				out = append(out, w.Text)
			}
		}
	}
	return strings.Join(out, " ")
}
