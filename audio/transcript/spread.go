package transcript

import (
	"strings"
	"unicode"
)

// Spread gives each word of a text a time between from and to (seconds), in
// proportion to its length: letters and digits plus one for the gap that
// follows. It is what is known when a caption has only line times, so the times of
// words that share a line are estimated.
func Spread(text string, from, to float64) []Word {
	return spread(strings.Fields(text), from, to)
}

func spread(texts []string, from, to float64) []Word {
	total := 0
	for _, t := range texts {
		total += weight(t)
	}
	words := make([]Word, len(texts))
	done := 0
	for i, t := range texts {
		words[i] = Word{Text: t, Start: part(from, to, done, total), Confidence: 1, Estimated: len(texts) > 1}
		done += weight(t)
		words[i].End = part(from, to, done, total)
	}
	return words
}

// part is exact at both ends, which from+(to-from)*x is not in floating point.
func part(from, to float64, done, total int) float64 {
	switch done {
	case 0:
		return from
	case total:
		return to
	}
	x := float64(done) / float64(total)
	return from*(1-x) + to*x
}

func weight(word string) int {
	n := 1
	for _, r := range word {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			n++
		}
	}
	return n
}

// Join is the text of words as one line.
func Join(words []Word) string {
	var b strings.Builder
	for i, w := range words {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(w.Text)
	}
	return b.String()
}
