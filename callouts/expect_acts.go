package callouts

import (
	"slices"
	"strings"
)

// named lists what acts are done to, and what names a call without making it:
// "carb heat" of "carb heat goes off". A recogniser that mishears these words
// leaves no act to be found, whatever else it writes. Each once.
func (l *Lexicon) named() ([]string, error) {
	var out []string
	for _, c := range l.Callouts {
		things := slices.Clone(c.Named)
		for _, a := range c.Acts {
			things = append(things, a.Thing)
			if a.Thing == "" && a.State == "" {
				things = append(things, a.Verb) // "trim" makes the call by itself
			}
		}
		for _, t := range things {
			ways, err := expand(t)
			if err != nil {
				return nil, err
			}
			for _, w := range ways {
				for _, the := range []string{"the ", "your ", "my "} {
					w = strings.TrimPrefix(w, the)
				}
				if w != "" && !slices.Contains(out, w) {
					out = append(out, w)
				}
			}
		}
	}
	return out, nil
}
