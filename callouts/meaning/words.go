package meaning

import "strings"

// Row is the row of a word in a vocabulary, by the first of its spellings that stands
// there; 0 for a word not known.
func Row(words map[string]int, w string) int {
	for _, s := range Spellings(w) {
		if r, ok := words[s]; ok {
			return r
		}
	}
	return 0
}

// Spellings are the ways a word may stand in the vocabulary, best first: as it
// is, without what is shortened behind it, without an ending.
func Spellings(w string) []string {
	if f := figure(w); f != "" {
		return []string{f}
	}
	out := []string{w}
	if i := strings.IndexByte(w, '\''); i > 0 {
		out = append(out, w[:i])
	}
	if i := strings.IndexByte(w, '-'); i > 0 {
		out = append(out, w[i+1:], w[:i])
	}
	return out
}

var numbers = func() map[string]bool {
	m := map[string]bool{}
	for w := range strings.FieldsSeq("zero one two three four five six seven eight nine niner ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen twenty thirty forty fifty sixty seventy eighty ninety") {
		m[w] = true
	}
	return m
}()

// figure is the word a figure stands as: only how large it is may tell what is
// meant.
func figure(w string) string {
	switch {
	case numbers[w]:
		return "#"
	case w == "hundred" || w == "hundreds":
		return "#h"
	case w == "thousand" || w == "thousands":
		return "#t"
	}
	digits := 0
	for _, r := range w {
		switch {
		case r >= '0' && r <= '9':
			digits++
		case r != ',' && r != '.':
			return ""
		}
	}
	switch {
	case digits == 0:
		return ""
	case digits > 3:
		return "#t"
	}
	return "#"
}
