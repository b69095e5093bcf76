package rules

import (
	"errors"
	"fmt"
	"strings"

	"github.com/agnivade/levenshtein"
	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/token"
)

// SourceError says what is wrong in a procedure or aircraft file, and where.
// Line and Column count from 1.
type SourceError struct {
	File         string
	Line, Column int
	Message      string
}

func (e *SourceError) Error() string {
	return fmt.Sprintf("%s:%d:%d: %s", e.File, e.Line, e.Column, e.Message)
}

// place is a line and column, counted from 1.
type place struct{ line, column int }

func placeOf(t *token.Token) place {
	if t == nil || t.Position == nil {
		return place{1, 1}
	}
	return place{t.Position.Line, t.Position.Column}
}

// positions remembers the file a procedure came from, so that what is found
// wrong later can still be pointed at.
type positions struct {
	file     string
	aircraft place
	never    []place
}

// stepPositions are the places of those parts of a step that can be wrong.
type stepPositions struct {
	when, target, within, value place
	calls, after                []place
}

func (p *positions) errorf(at place, format string, args ...any) error {
	return &SourceError{p.file, at.line, at.column, fmt.Sprintf(format, args...)}
}

// yamlError turns an error of the YAML decoder into a SourceError. The keys are
// those the file could have meant.
func yamlError(file string, err error, keys []string) error {
	var ye yaml.Error
	if !errors.As(err, &ye) {
		return &SourceError{file, 1, 1, err.Error()}
	}
	at := placeOf(ye.GetToken())
	msg := ye.GetMessage()
	var unknown *yaml.UnknownFieldError
	var typ *yaml.TypeError
	switch {
	case errors.As(err, &unknown):
		key := unknown.Token.Value
		msg = fmt.Sprintf("no setting is called %q%s", key, meant(key, keys))
	case errors.As(err, &typ):
		msg = fmt.Sprintf("%q does not fit here: a %s is wanted", typ.Token.Value, plainType(typ.DstType.Kind().String()))
	}
	return &SourceError{file, at.line, at.column, msg}
}

func plainType(kind string) string {
	switch kind {
	case "float64", "int":
		return "number"
	case "bool":
		return "true or false"
	case "slice":
		return "list"
	case "struct", "map":
		return "group of settings"
	}
	return "text"
}

// meant is `; did you mean "x"?` for the nearest of the known words, or the
// list of them when none is near.
func meant(word string, known []string) string {
	if w := Nearest(word, known); w != "" {
		return fmt.Sprintf("; did you mean %q?", w)
	}
	if len(known) == 0 {
		return ""
	}
	return "; known are " + strings.Join(known, ", ")
}

// Nearest is the known word most likely meant by a mistyped one, "" when none
// is near.
func Nearest(word string, known []string) string {
	best, at := "", 1+max(2, len(word)/3)
	for _, k := range known {
		if d := levenshtein.ComputeDistance(strings.ToLower(word), strings.ToLower(k)); d < at {
			best, at = k, d
		}
	}
	return best
}
