// Package library holds the built-in procedures and aircraft, as files a flying
// instructor can read, copy and change.
package library

import (
	"cmp"
	"embed"
	"fmt"
	"path"
	"slices"
	"strings"

	"sidetone/rules"
)

//go:embed procedures/*.yaml aircraft/*.yaml
var files embed.FS

//go:embed template/procedure.yaml
var template string

// Template is a procedure of that id with every setting explained, to begin
// one's own with.
func Template(id string) string { return strings.Replace(template, "id: NAME", "id: "+id, 1) }

// defaultAircraft is the id of the aircraft used when none is named.
const defaultAircraft = "trainer"

// Procedures are the built-in procedures, by id.
func Procedures() ([]*rules.Procedure, error) {
	return load("procedures", rules.ParseProcedure, func(p *rules.Procedure) string { return p.ID })
}

// Procedure is the built-in procedure of that id. The error for an unknown id
// names those there are.
func Procedure(id string) (*rules.Procedure, error) {
	all, err := Procedures()
	if err != nil {
		return nil, err
	}
	return pick(all, id, "procedure", func(p *rules.Procedure) string { return p.ID })
}

// AllAircraft are the built-in aircraft, by id.
func AllAircraft() ([]*rules.Aircraft, error) {
	return load("aircraft", rules.ParseAircraft, func(a *rules.Aircraft) string { return a.ID })
}

// Aircraft is the built-in aircraft of that id. The error for an unknown id
// names those there are.
func Aircraft(id string) (*rules.Aircraft, error) {
	all, err := AllAircraft()
	if err != nil {
		return nil, err
	}
	return pick(all, id, "aircraft", func(a *rules.Aircraft) string { return a.ID })
}

// DefaultAircraft is the generic training airplane.
func DefaultAircraft() (*rules.Aircraft, error) { return Aircraft(defaultAircraft) }

// Source is the text of the file a built-in procedure or aircraft is in, for
// the user to copy.
func Source(id string) ([]byte, error) {
	for _, dir := range []string{"procedures", "aircraft"} {
		if b, err := files.ReadFile(path.Join(dir, id+".yaml")); err == nil {
			return b, nil
		}
	}
	return nil, fmt.Errorf("no procedure or aircraft is called %q", id)
}

// SourceOf finds the text of a built-in procedure for those that extend it.
func SourceOf(id string) (file string, text []byte, err error) {
	file = path.Join("procedures", id+".yaml")
	if text, err = files.ReadFile(file); err != nil {
		_, err = Procedure(id) // which says what there is
	}
	return file, text, err
}

// ParseProcedure reads a procedure file of the user's, which may extend a
// built-in procedure. See rules.ParseProcedure for the errors.
func ParseProcedure(file string, b []byte) (*rules.Procedure, error) {
	return rules.ParseProcedureOver(SourceOf, file, b)
}

func load[T any](dir string, parse func(string, []byte) (T, error), id func(T) string) ([]T, error) {
	entries, err := files.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var all []T
	for _, e := range entries {
		name := path.Join(dir, e.Name())
		b, err := files.ReadFile(name)
		if err != nil {
			return nil, err
		}
		v, err := parse(name, b)
		if err != nil {
			return nil, err
		}
		all = append(all, v)
	}
	slices.SortFunc(all, func(a, b T) int { return cmp.Compare(id(a), id(b)) })
	return all, nil
}

func pick[T any](all []T, want, kind string, id func(T) string) (T, error) {
	var ids []string
	for _, v := range all {
		if id(v) == want {
			return v, nil
		}
		ids = append(ids, id(v))
	}
	var nothing T
	return nothing, fmt.Errorf("no %s is called %q%s", kind, want, rules.Meant(want, ids))
}
