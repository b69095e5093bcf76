package callouts

import (
	"slices"
	"strings"

	"sidetone/callouts/sound"
)

// A thing of fewer sounds than leastNamed is heard everywhere ("di"), and so is what is
// told in fewer than leastTold.
const (
	leastNamed = 3
	leastTold  = 5
)

// sounds is how many phonemes a phrase has.
func sounds(phrase string) int {
	n := 0
	for w := range strings.FieldsSeq(phrase) {
		n += len(sound.Say(w))
	}
	return n
}

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
				if sounds(w) >= leastNamed && !slices.Contains(out, w) {
					out = append(out, w)
				}
			}
		}
	}
	return out, nil
}
