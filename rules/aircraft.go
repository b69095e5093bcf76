package rules

import (
	"fmt"
	"maps"
	"slices"
	"strings"
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

// String is a fact as it stands on a card: "65 kt", "10/20/30 deg", "yes".
func (f Fact) String() string {
	text := fmt.Sprint(f.Value)
	switch v := f.Value.(type) {
	case float64:
		text = amount(v)
	case bool:
		text = map[bool]string{true: "yes", false: "no"}[v]
	case []float64:
		var list []string
		for _, n := range v {
			list = append(list, amount(n))
		}
		text = strings.Join(list, "/")
	}
	return strings.TrimSpace(text + " " + f.Unit)
}
