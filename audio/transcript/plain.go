package transcript

import (
	"bufio"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// Plain lines of a time and what was said from then on have no standard. Video sites
// show and copy them like this, the time before the words or on a line of its own:
//
//	0:18 Student: Carb heat on.
//	[1:02:07] Flaps up.
//	1:30
//	Trim set.
//
// A line lasts until the next begins, or as long as its words take to say.

const plainTime = `[\[(]?(?:(\d{1,2}):)?(\d{1,3}):([0-5]\d)(?:[.,](\d{1,3}))?[\])]?`

var (
	plainLine    = regexp.MustCompile(`^\s*` + plainTime + `(?:\s*(?:-|–|—|to)\s*` + plainTime + `)?(?:\s*[-–—:]?\s+(.*)|\s*)$`)
	plainSpeaker = regexp.MustCompile(`^(\p{L}[\p{L}\p{N}.'’-]*(?: [\p{L}\p{N}.'’-]+){0,2}):\s+(.+)$`)
)

// roles are names before a colon that are sure to be a speaker's: others are, where
// most lines begin with one. "Checklist:" may be a call.
var roles = regexp.MustCompile(`(?i)^(student|instructor|examiner|pilot|copilot|co-pilot|left|right|speaker \w+)$`)

// perWord is how long a word takes to say, in seconds, with the pauses of a call.
const perWord = 0.5

// timedLine reads the time at the beginning of a plain line.
func timedLine(line string) (start, end float64, text string, ok bool) {
	m := plainLine.FindStringSubmatch(line)
	if m == nil || strings.Contains(line, "-->") {
		return 0, 0, "", false
	}
	start, ok = plainSeconds(m[1:5])
	if end = -1; ok && m[6] != "" {
		end, ok = plainSeconds(m[5:9])
	}
	return start, end, m[9], ok
}

// plainSeconds adds up hours, minutes, seconds and a decimal fraction, all but the
// minutes and seconds perhaps empty. Minutes may be 90, but not after hours.
func plainSeconds(part []string) (float64, bool) {
	number := func(s string) float64 { v, _ := strconv.ParseFloat("0"+s, 64); return v }
	minutes := number(part[1])
	if part[0] != "" && minutes > 59 {
		return 0, false
	}
	fraction, _ := strconv.ParseFloat("0."+part[3]+"0", 64)
	return 3600*number(part[0]) + 60*minutes + number(part[2]) + fraction, true
}

func readPlain(name, text string) ([]Utterance, error) {
	var us []Utterance
	for i, line := range strings.Split(text, "\n") {
		start, end, rest, ok := timedLine(line)
		switch {
		case ok && end >= 0 && end < start:
			return nil, &SyntaxError{name, i + 1, fmt.Sprintf("the line ends before it starts: %s", strings.TrimSpace(line))}
		case ok:
			us = append(us, Utterance{Start: start, End: end, Text: rest})
		case len(us) > 0: // what has no time goes on from the line before
			u := &us[len(us)-1]
			u.Text += " " + line
		}
	}
	us = slices.DeleteFunc(us, func(u Utterance) bool { return strings.TrimSpace(u.Text) == "" })
	nameSpeakers(us)
	for i := range us {
		u := &us[i]
		if words := strings.Fields(u.Text); u.End < 0 {
			u.End = u.Start + 1 + perWord*float64(len(words))
			if k := slices.IndexFunc(us, func(v Utterance) bool { return v.Start > u.Start }); k >= 0 {
				u.End = min(u.End, us[k].Start)
			}
		}
		u.Words = Spread(u.Text, u.Start, u.End)
		for j := range u.Words {
			u.Words[j].Estimated = true // a time of whole seconds is one even of a single word
		}
		u.Text = Join(u.Words)
	}
	return us, nil
}

// nameSpeakers takes the names of speakers off the lines that begin with one.
func nameSpeakers(us []Utterance) {
	lines := map[string]int{}
	named := 0
	for _, u := range us {
		if m := plainSpeaker.FindStringSubmatch(strings.TrimSpace(u.Text)); m != nil {
			lines[m[1]]++
			named++
		}
	}
	for i := range us {
		m := plainSpeaker.FindStringSubmatch(strings.TrimSpace(us[i].Text))
		if m != nil && (roles.MatchString(m[1]) || lines[m[1]] > 1 && 2*named >= len(us)) {
			us[i].Speaker, us[i].Text = m[1], m[2]
		}
	}
}

// WritePlain writes t as lines of a time and what was said, "0:18 Student: Carb heat
// on.": the form to correct by hand, since nothing in it but the words needs care.
func WritePlain(w io.Writer, t *Transcript) error {
	b := bufio.NewWriter(w)
	for _, u := range t.Utterances {
		texts, _ := plainWords(u)
		if len(texts) == 0 {
			continue
		}
		s := int64(max(u.Start, 0) + 1e-6)
		if s >= 3600 {
			fmt.Fprintf(b, "%d:%02d:%02d ", s/3600, s/60%60, s%60)
		} else {
			fmt.Fprintf(b, "%d:%02d ", s/60, s%60)
		}
		if speaker := strings.Join(strings.Fields(u.Speaker), " "); speaker != "" {
			b.WriteString(speaker + ": ")
		}
		b.WriteString(strings.Join(texts, " ") + "\n")
	}
	return b.Flush()
}
