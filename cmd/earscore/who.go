package main

import (
	"fmt"
	"io"
	"slices"
	"text/tabwriter"

	"sidetone/audio/hear"
	"sidetone/cmd/internal/lesson"
)

// countWho counts of the words heard whom they were put down to. Who says them by the
// sheet is told by their time. Those on the radio are nobody's of the airplane: they
// should have no name.
func (s *scored) countWho() {
	for _, u := range s.words.Utterances {
		for _, w := range u.Words {
			l := s.lineAt((w.Start+w.End)/2, u.Channel)
			if l == nil {
				continue
			}
			t := s.of(l.Voice)
			if slices.Contains(s.radio, l.Speaker) {
				t.RadioWords++
				if u.Speaker != "" && u.Speaker != l.Speaker {
					t.RadioNamed++
				}
				continue
			}
			t.SpokenWords++
			if u.Speaker != "" {
				t.NamedWords++
			}
			if u.Speaker == l.Speaker {
				t.NamedRight++
			}
		}
	}
}

// lineAt is the line of the sheet that is said at a moment: of several, that which is
// said on the channel.
func (s *scored) lineAt(at float64, channel int) (found *lesson.SpokenLine) {
	for i := range s.truth.Lines {
		l := &s.truth.Lines[i]
		if at < l.Start-0.2 || at > l.End+0.2 {
			continue
		}
		if found == nil || l.Channel == channel && found.Channel != channel {
			found = l
		}
	}
	return found
}

// lessons are the lines that teach a lesson's voices: of each who is not on the radio
// the first, up to so many seconds.
func (m *made) lessons(seconds float64) (out []hear.Voice) {
	had := map[string]float64{}
	for _, l := range m.truth.Lines {
		if slices.Contains(m.radio, l.Speaker) || had[l.Speaker] >= seconds {
			continue
		}
		had[l.Speaker] += l.End - l.Start
		out = append(out, hear.Voice{Name: l.Speaker, From: l.Start - 0.1, To: l.End + 0.1})
	}
	return out
}

const whoLegend = `named: words heard that were given a speaker. rightly: of them, the one who said
them. radio: words on the radio that were given one, of all of those. prompted: steps that
answer an order: recall of those that do, precision of those said to.
`

// printWho prints who was told to speak, and which steps to be prompted.
func printWho(w io.Writer, list []row) error {
	fmt.Fprintln(w, "\nWho said it:")
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "SNR\tvoice\twords\tnamed\trightly\tradio\tprompted recall\tprecision\t")
	for _, r := range list {
		if r.Voice != allVoices {
			continue
		}
		fmt.Fprintf(t, "%s\t%s\t%d\t%s\t%s\t%d/%d\t%s\t%s\t\n", r.SNR, r.Voice, r.SpokenWords,
			percent(share(r.NamedWords, r.SpokenWords)), percent(share(r.NamedRight, r.NamedWords)), r.RadioNamed, r.RadioWords,
			percent(share(r.RightPrompted, r.Prompted)), percent(share(r.RightPrompted, r.SaidPrompted)))
	}
	if err := t.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprint(w, "\n", whoLegend)
	return err
}
