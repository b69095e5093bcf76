package transcript

import (
	"html"
	"regexp"
	"strings"
)

// SRT has no standard, only habits: a number, a line of times with commas, text
// up to the next number, HTML-like tags, sometimes {\an8} positions. A blank
// line does not end a cue for sure, so a cue runs to the next line of times.
//
// go-astisub reads SRT too, and the tests hold this reader against it, but its
// reader loses what calls are made of: it joins the words around a tag
// ("<i>carb</i> <b>heat</b>"), drops the line above the times whatever it says,
// stops in silence at a line of 64 kB, and panics on an arrow with nothing
// after it.

const srtTime = `(\d+):([0-5]?\d):([0-5]?\d)[,.](\d{1,3})`

var (
	srtTiming = regexp.MustCompile(`^\s*` + srtTime + `\s*-->\s*` + srtTime + `(?:\s.*)?$`)
	srtMarkup = regexp.MustCompile(`</?[A-Za-z][^<>]*>|\{\\[^{}]*\}`)
)

func readSRT(name, text string) ([]Utterance, error) {
	lines := strings.Split(text, "\n")
	var us []Utterance
	var u Utterance
	var roll rolling
	bare := func(line string) string { return html.UnescapeString(srtMarkup.ReplaceAllString(line, "")) }
	body := -1 // first line of the text of u; -1 before the first cue
	finish := func(end int) {
		if body < 0 {
			return
		}
		s := bare(strings.Join(roll.fresh(lines[body:end], u.Start, u.End, bare), "\n"))
		if u.Words = Spread(s, u.Start, u.End); len(u.Words) > 0 {
			u.Text = Join(u.Words)
			us = append(us, u)
		}
	}
	for i, line := range lines {
		if !strings.Contains(line, "-->") {
			continue
		}
		start, end, err := timing(line, srtTiming, "00:00:01,000 --> 00:00:02,500")
		if err != nil {
			return nil, &SyntaxError{name, i + 1, err.Error()}
		}
		textEnd := i
		if i > 0 && i > body && isNumber(strings.TrimSpace(lines[i-1])) {
			textEnd = i - 1
		}
		finish(textEnd)
		u, body = Utterance{Start: start, End: end}, i+1
	}
	finish(len(lines))
	return us, nil
}
