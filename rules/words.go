package rules

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"sidetone/callouts"
)

// Clock writes a second of the recording as m:ss, past the hour as h:mm:ss.
func Clock(seconds float64) string {
	if math.IsNaN(seconds) || seconds < 0 {
		seconds = 0
	}
	s := int64(min(seconds, 1e9) + 1e-6)
	if s >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
	}
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

// figure writes a value the way it is read off an instrument.
func figure(v float64, q callouts.Quantity) string {
	n := strconv.FormatFloat(v, 'f', -1, 64)
	switch q {
	case callouts.Altitude, callouts.RPM:
		return grouped(n) + " " + q.Unit()
	case callouts.Heading:
		if v >= 0 && v < 1000 && v == math.Trunc(v) {
			n = fmt.Sprintf("%03.0f", v)
		}
		return n + "°"
	case callouts.Flaps, callouts.Bank:
		return n + "°"
	}
	return strings.TrimSpace(n + " " + q.Unit())
}

// grouped puts a comma between the thousands of a whole number.
func grouped(n string) string {
	whole, rest, _ := strings.Cut(n, ".")
	if rest != "" {
		rest = "." + rest
	}
	if len(strings.TrimPrefix(whole, "-")) > 3 {
		whole = whole[:len(whole)-3] + "," + whole[len(whole)-3:]
	}
	return whole + rest
}

// wanted says what figure a step asks for.
func (s *planStep) wanted() string {
	q := s.Value.Of
	t := figure(s.target, q)
	if s.asAt != nil {
		t += fmt.Sprintf(" as at %s", Clock(*s.asAt))
	}
	if s.Value.Plus == 0 && s.Value.Minus == 0 {
		return t + " expected"
	}
	low, top := s.low, s.top
	if q == callouts.Heading {
		low, top = compass(low), compass(top)
	}
	return fmt.Sprintf("%s expected, %s to %s is within limits", t, figure(low, q), figure(top, q))
}

// compass brings a heading to 1..360.
func compass(h float64) float64 {
	h = math.Mod(math.Mod(h, 360)+360, 360)
	if h == 0 {
		return 360
	}
	return h
}

// inSentence is a title as it stands inside a sentence.
func inSentence(title string) string {
	first, n := utf8.DecodeRuneInString(title)
	second, _ := utf8.DecodeRuneInString(title[n:])
	if n == 0 || unicode.IsUpper(second) {
		return title
	}
	return string(unicode.ToLower(first)) + title[n:]
}

// sentences puts sentences behind one another.
func sentences(list ...string) string {
	var out []string
	for _, s := range list {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return strings.Join(out, " ")
}
