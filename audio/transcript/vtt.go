package transcript

import (
	"fmt"
	"html"
	"regexp"
	"strconv"
	"strings"
	"unicode"
)

// WebVTT is read by the parser of the W3C recommendation (WebVTT: The Web Video
// Text Tracks Format, sections 6.1 to 6.4), with one difference: where the
// recommendation drops what it cannot read, this reader stops with an error. A
// cue dropped in silence would become a call "not heard".
//
// go-astisub reads WebVTT too, and the tests hold this reader against it on what
// both can do. It is not used here because it keeps only the first voice of a
// line and forgets it on the next, refuses cue settings and REGION blocks the
// recommendation allows, accepts a file without the signature, takes a caption
// line that begins with NOTE for a comment, and panics on "00:01.000 -->".

const vttTime = `(?:(\d+):)?([0-5]\d):([0-5]\d)\.(\d{3})`

var vttTiming = regexp.MustCompile(`^[ \t\f]*` + vttTime + `[ \t\f]*-->[ \t\f]*` + vttTime + `(?:[ \t\f].*)?$`)

func readVTT(name, text string) ([]Utterance, error) {
	lines := strings.Split(text, "\n")
	i := 1 // the signature was seen by Detect
	for i < len(lines) && lines[i] != "" && !strings.Contains(lines[i], "-->") {
		i++ // header lines mean nothing to us
	}
	var us []Utterance
	var roll rolling
	bare := func(line string) string {
		c, err := cueText(line)
		if err != nil || len(c.voices) > 0 {
			return line // who speaks is new
		}
		return c.text
	}
	for i < len(lines) {
		if lines[i] == "" {
			i++
			continue
		}
		first := i
		if !strings.Contains(lines[i], "-->") && i+1 < len(lines) && strings.Contains(lines[i+1], "-->") {
			i++ // a cue identifier
		}
		if !strings.Contains(lines[i], "-->") {
			if !skippable(lines[i]) {
				return nil, &SyntaxError{name, i + 1, "text outside any cue (a blank line ends a cue, " +
					"and a cue starts with its times: 00:01.000 --> 00:02.500)"}
			}
			for i < len(lines) && lines[i] != "" && !strings.Contains(lines[i], "-->") {
				i++
			}
			continue
		}
		start, end, err := timing(lines[i], vttTiming, "00:01.000 --> 00:02.500")
		if err != nil {
			return nil, &SyntaxError{name, i + 1, err.Error()}
		}
		i++
		body := i
		for i < len(lines) && lines[i] != "" && !strings.Contains(lines[i], "-->") {
			i++
		}
		// A next cue without a blank line before it may have its identifier
		// right above; the recommendation reads that line as text, so do we.
		cue, err := cueText(strings.Join(roll.fresh(lines[body:i], start, end, bare), "\n"))
		if err != nil {
			return nil, &SyntaxError{name, first + 1, "in the cue that starts here: " + err.Error()}
		}
		us = append(us, cue.utterances(start, end)...)
	}
	return us, nil
}

// skippable tells a comment, style or region block from text that got lost.
func skippable(line string) bool {
	for _, kind := range []string{"NOTE", "STYLE", "REGION"} {
		if rest, ok := strings.CutPrefix(line, kind); ok && (rest == "" || rest[0] == ' ' || rest[0] == '\t') {
			return true
		}
	}
	return false
}

// timing reads a line of two times in seconds.
func timing(line string, re *regexp.Regexp, example string) (start, end float64, err error) {
	m := re.FindStringSubmatch(line)
	if m == nil {
		return 0, 0, fmt.Errorf("cannot read the times %q; they look like %s", line, example)
	}
	if start, err = seconds(m[1:5]); err != nil {
		return 0, 0, err
	}
	if end, err = seconds(m[5:9]); err != nil {
		return 0, 0, err
	}
	if end < start {
		return 0, 0, fmt.Errorf("the cue ends before it starts: %s", strings.TrimSpace(line))
	}
	return start, end, nil
}

// seconds adds up hours (may be empty), minutes, seconds and milliseconds.
func seconds(part []string) (float64, error) {
	hours := 0
	if part[0] != "" {
		var err error
		if hours, err = strconv.Atoi(part[0]); err != nil || hours > 999 {
			return 0, fmt.Errorf("%s hours is longer than any lesson", part[0])
		}
	}
	m, _ := strconv.Atoi(part[1])
	s, _ := strconv.Atoi(part[2])
	ms, _ := strconv.Atoi(part[3])
	for range 3 - len(part[3]) { // SRT allows fewer digits
		ms *= 10
	}
	return float64(((hours*60+m)*60+s)*1000+ms) / 1000, nil
}

// stampTime reads the same form as vttTime. It is written out because a long
// transcript has one before every word, where the expression takes most of the time.
func stampTime(s string) (float64, bool) {
	if s == "" || s[0] < '0' || s[0] > '9' {
		return 0, false
	}
	hours, rest := "", s
	if strings.Count(s, ":") == 2 {
		hours, rest, _ = strings.Cut(s, ":")
		if !isNumber(hours) {
			return 0, false
		}
	}
	if len(rest) != len("00:00.000") || rest[2] != ':' || rest[5] != '.' || rest[0] > '5' || rest[3] > '5' ||
		!isNumber(rest[:2]) || !isNumber(rest[3:5]) || !isNumber(rest[6:]) {
		return 0, false
	}
	t, err := seconds([]string{hours, rest[:2], rest[3:5], rest[6:]})
	return t, err == nil
}

// cue is the plain text of a cue with what its tags said at which byte.
type cue struct {
	text   string
	voices []voice
	stamps []stamp
}

type voice struct {
	at      int
	speaker string
	channel int
}

type stamp struct {
	at   int
	time float64 // seconds
}

// cueText strips the markup of a cue's text and decodes its entities.
func cueText(s string) (cue, error) {
	var c cue
	var plain strings.Builder
	for s != "" {
		open := strings.IndexByte(s, '<')
		if open < 0 {
			open = len(s)
		}
		plain.WriteString(strings.Map(dropMarks, html.UnescapeString(s[:open])))
		if s = s[open:]; s == "" {
			break
		}
		end := strings.IndexByte(s, '>')
		if end < 0 {
			return c, fmt.Errorf("a tag is opened with < and never closed with > (write &lt; for the sign itself)")
		}
		c.tag(s[1:end], plain.Len())
		s = s[end+1:]
	}
	c.text = plain.String()
	return c, nil
}

// dropMarks removes the direction marks captions may carry.
func dropMarks(r rune) rune {
	if r == '\u200e' || r == '\u200f' {
		return -1
	}
	return r
}

func (c *cue) tag(tag string, at int) {
	if t, ok := stampTime(tag); ok {
		c.stamps = append(c.stamps, stamp{at, t})
		return
	}
	name, annotation := tag, ""
	if i := strings.IndexFunc(tag, unicode.IsSpace); i >= 0 {
		name, annotation = tag[:i], tag[i:]
	}
	name, classes, _ := strings.Cut(name, ".")
	switch name {
	case "v":
		v := voice{at: at, speaker: strings.Join(strings.Fields(html.UnescapeString(annotation)), " ")}
		for class := range strings.SplitSeq(classes, ".") {
			if n, ok := strings.CutPrefix(class, channelClass); ok {
				if ch, err := strconv.ParseUint(n, 10, 8); err == nil {
					v.channel = int(ch)
				}
			}
		}
		c.voices = append(c.voices, v)
	case "/v":
		c.voices = append(c.voices, voice{at: at})
	}
}

// channelClass marks the channel of the recording on a voice tag,
// <v.channel-1 Student>; the recommendation lets applications name classes.
const channelClass = "channel-"

// utterances gives the words their times and parts them by voice.
func (c cue) utterances(start, end float64) []Utterance {
	type token struct {
		text string
		at   int
	}
	var tokens []token
	for at := 0; at < len(c.text); {
		rest := strings.TrimLeftFunc(c.text[at:], unicode.IsSpace)
		at = len(c.text) - len(rest)
		if rest == "" {
			break
		}
		n := strings.IndexFunc(rest, unicode.IsSpace)
		if n < 0 {
			n = len(rest)
		}
		tokens = append(tokens, token{rest[:n], at})
		at += n
	}

	// Words between two time stamps share that stretch of the cue.
	var words []Word
	next, from := 0, start
	share := func(limit int, to float64) {
		var texts []string
		for next < len(tokens) && tokens[next].at < limit {
			texts = append(texts, tokens[next].text)
			next++
		}
		words = append(words, spread(texts, from, to)...)
		from = to
	}
	for _, s := range c.stamps {
		if s.time >= from && s.time <= end { // anything else is a slip of the writer
			share(s.at, s.time)
		}
	}
	share(len(c.text)+1, end)

	var us []Utterance
	v, last := -1, -2 // index of the voice that speaks now and before
	for i, t := range tokens {
		for v+1 < len(c.voices) && c.voices[v+1].at <= t.at {
			v++
		}
		if v != last {
			u := Utterance{Start: words[i].Start}
			if v >= 0 {
				u.Speaker, u.Channel = c.voices[v].speaker, c.voices[v].channel
			}
			us = append(us, u)
			last = v
		}
		u := &us[len(us)-1]
		u.Words = append(u.Words, words[i])
		u.End = words[i].End
	}
	for i := range us {
		us[i].Text = Join(us[i].Words)
	}
	return us
}
