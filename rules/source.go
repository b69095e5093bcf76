package rules

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"github.com/agnivade/levenshtein"
	"github.com/goccy/go-yaml/token"
)

// SourceError says what is wrong in a procedure or aircraft file, and where.
// Line and Column count from 1.
type SourceError struct {
	File         string
	Line, Column int
	Message      string

	missing bool // something should be there and is not
}

func (e *SourceError) Error() string {
	return fmt.Sprintf("%s:%d:%d: %s", e.File, e.Line, e.Column, e.Message)
}

// SourceErrors is all that is wrong in a file, in the order of its lines; there
// are at least two.
type SourceErrors []*SourceError

// Error tells one of them: rather what is wrong than what is missing, which may
// only be a consequence.
func (e SourceErrors) Error() string {
	first := max(0, slices.IndexFunc(e, func(s *SourceError) bool { return !s.missing }))
	return fmt.Sprintf("%s (and %d more)", e[first], len(e)-1)
}

// Unwrap gives the errors one by one.
func (e SourceErrors) Unwrap() []error {
	out := make([]error, len(e))
	for i, s := range e {
		out[i] = s
	}
	return out
}

// Problems takes an error of this package apart into all that is wrong in the
// files, in the order of file and line; nil when err is about something else.
func Problems(err error) []*SourceError {
	var all SourceErrors
	var one *SourceError
	switch {
	case errors.As(err, &all):
		return all
	case errors.As(err, &one):
		return []*SourceError{one}
	}
	return nil
}

// together makes one error of several, each place told once.
func together(list []*SourceError) error {
	slices.SortStableFunc(list, func(a, b *SourceError) int {
		return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	list = slices.CompactFunc(list, func(a, b *SourceError) bool { return *a == *b })
	switch len(list) {
	case 0:
		return nil
	case 1:
		return list[0]
	}
	return SourceErrors(list)
}

// place is a line and column, counted from 1. Lines from baseLines on are those
// of the file that is extended.
type place struct{ line, column int }

// baseLines is where the lines of an extended file begin to count.
const baseLines = 1 << 20

// top is the beginning of the file a place is in.
func top(p place) place {
	if p.line > baseLines {
		return place{baseLines + 1, 1}
	}
	return place{1, 1}
}

func placeOf(t *token.Token) place {
	if t == nil || t.Position == nil {
		return place{1, 1}
	}
	return place{t.Position.Line, t.Position.Column}
}

// positions remembers the file a procedure came from, and the one that extends,
// so that what is found wrong later can still be pointed at.
type positions struct {
	file     string
	base     string
	aircraft place
	never    []place
	names    []place
}

// stepPositions are the places of those parts of a step that can be wrong.
type stepPositions struct {
	id, when, target, asCalledAt, within, notBefore, cue, value place
	calls, after, say                                           []place
}

func (p *positions) errorf(at place, format string, args ...any) *SourceError {
	file := p.file
	if at.line > baseLines {
		file, at.line = p.base, at.line-baseLines
	}
	return &SourceError{File: file, Line: at.line, Column: at.column, Message: fmt.Sprintf(format, args...)}
}

// mostKnown is how many known words are listed at most where none is near.
const mostKnown = 20

// Meant is `; did you mean "x"?` for the nearest of the known words, those that have
// the word in them, or the list of all when there are few.
func Meant(word string, known []string) string {
	if w := Nearest(word, known); w != "" {
		return fmt.Sprintf("; did you mean %q?", w)
	}
	if some := related(word, known); len(some) > 0 {
		return "; did you mean " + strings.Join(some, " or ") + "?"
	}
	switch {
	case len(known) == 0:
		return ""
	case len(known) > mostKnown:
		return fmt.Sprintf("; known are %s and %d more", strings.Join(known[:mostKnown], ", "), len(known)-mostKnown)
	}
	return "; known are " + strings.Join(known, ", ")
}

// related are known words, three at most, that share a part with a word, quoted:
// those that share the most first.
func related(word string, known []string) []string {
	parts := strings.Split(dashed(word), "-")
	score := func(k string) int {
		n := 0
		for _, p := range strings.Split(dashed(k), "-") {
			if len(p) > 2 && slices.Contains(parts, p) {
				n++
			}
		}
		return n
	}
	some := slices.DeleteFunc(slices.Clone(known), func(k string) bool { return score(k) == 0 })
	slices.SortStableFunc(some, func(a, b string) int { return cmp.Or(score(b)-score(a), len(a)-len(b)) })
	for i := range some {
		some[i] = strconv.Quote(some[i])
	}
	return some[:min(3, len(some))]
}

// dashed is a word as an id is written: "Power Back" is power-back.
func dashed(word string) string {
	return strings.Trim(strings.Join(strings.FieldsFunc(strings.ToLower(word), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r)
	}), "-"), "-")
}

// Nearest is the known word most likely meant by a mistyped one, "" when none
// is near.
func Nearest(word string, known []string) string {
	best, at := "", 1+max(2, len(word)/3)
	for _, k := range known {
		d := levenshtein.ComputeDistance(strings.ToLower(word), strings.ToLower(k))
		if dashed(word) == dashed(k) && k != word {
			d = 0
		}
		if d < min(at, len(word)) {
			best, at = k, d
		}
	}
	return best
}
