package transcript

import (
	"slices"
	"strings"
)

// rolling takes out what captions that roll up say twice: video sites make two lines
// of which the first is the last line of the cue before. Said twice, a call would be
// heard twice.
type rolling struct {
	last string  // line of the cue before
	end  float64 // of it, in seconds
}

// atOnce is how soon after a cue the next follows when it rolls up, in seconds, and
// how short the cues between two are.
const atOnce = 0.1

// fresh are the lines of a cue that are new. bare takes their marks off.
func (r *rolling) fresh(lines []string, start, end float64, bare func(string) string) []string {
	var plain []string
	lines = slices.DeleteFunc(slices.Clone(lines), func(l string) bool {
		text := strings.Join(strings.Fields(bare(l)), " ")
		if text != "" {
			plain = append(plain, text)
		}
		return text == ""
	})
	if len(plain) == 0 {
		return nil
	}
	again := plain[0] == r.last && start-r.end <= atOnce && start >= r.end-atOnce && (len(plain) > 1 || end-start <= atOnce)
	r.last, r.end = plain[len(plain)-1], end
	if again {
		return lines[1:]
	}
	return lines
}
