package rules

import (
	"maps"
	"slices"
)

// Aircraft is what the rules need to know of an aircraft, as read from an
// aircraft file.
type Aircraft struct {
	ID    string
	Title string
	Facts map[string]Fact
}

// Fact is one figure or property of an aircraft. Value is a bool, a float64, a
// string or a []float64; Unit is that of the numbers ("kt", "rpm", "ft",
// "deg"), or "".
type Fact struct {
	Value any
	Unit  string
}

// FactNames are the names of the facts, sorted.
func (a *Aircraft) FactNames() []string { return slices.Sorted(maps.Keys(a.Facts)) }
