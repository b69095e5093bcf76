package sound

import (
	"bytes"
	"iter"
)

// Words are all words of the dictionary, in small letters, sorted by bytes.
func Words() iter.Seq[string] {
	return func(yield func(string) bool) {
		for line := range bytes.Lines(dictionary()) {
			n := bytes.IndexFunc(line, func(r rune) bool { return r >= 0x80 || r == '\n' })
			if n > 0 && !yield(string(line[:n])) {
				return
			}
		}
	}
}
