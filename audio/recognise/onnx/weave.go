package onnx

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"sidetone/audio/recognise/phones"
	"sidetone/audio/transcript"
)

// weave puts phrases in the place of the words they were misheard as.
func weave(words []placed, found []phrase) []placed {
	var out []placed
	next := 0 // of words
	for _, p := range found {
		for next < len(words) && !within(words[next].span, p) && words[next].span.Start < p.start() {
			out = append(out, words[next])
			next++
		}
		from := next
		for next < len(words) && within(words[next].span, p) {
			next++
		}
		out = append(out, instead(words[from:next], p, len(out) == 0)...)
	}
	return append(out, words[next:]...)
}

// annotate tells beside words which phrases they may have been.
func annotate(words []placed, perhaps []phrase) {
	for _, p := range perhaps {
		first, n := -1, 0
		for i := range words {
			if within(words[i].span, p) {
				if first < 0 {
					first = i
				}
				n = i - first + 1
			}
		}
		if first >= 0 && words[first].Or == nil {
			words[first].Or = &transcript.Alternative{Text: written(p.words), Words: n, Confidence: p.Likely}
		}
	}
}

// within says whether most of a word lies in a phrase.
func within(span phones.Span, p phrase) bool {
	both := min(span.End, p.end()) - max(span.Start, p.start())
	return 2*both > span.End-span.Start || span.End == span.Start && span.Start > p.start() && span.Start < p.end()
}

// instead is a phrase written in the place of words: those words themselves
// when they say the same.
func instead(words []placed, p phrase, first bool) []placed {
	if alike(words, p.words) {
		out := slices.Clone(words)
		for i := range out {
			out[i].Confidence = max(out[i].Confidence, p.Likely)
		}
		return out
	}
	out := slices.Clone(p.words)
	for i := range out {
		out[i].Confidence = p.Likely
	}
	capital, stop := first, ""
	if len(words) > 0 {
		r, _ := utf8.DecodeRuneInString(words[0].Text)
		capital = capital || unicode.IsUpper(r)
		// A question was heard in words that were not said.
		if text := words[len(words)-1].Text; strings.ContainsAny(text[len(text)-1:], ".,?!") {
			stop = strings.NewReplacer("?", ".", "!", ".").Replace(text[len(text)-1:])
		}
	}
	if capital {
		out[0].Text = upper(out[0].Text)
	}
	out[len(out)-1].Text += stop
	return out
}

func alike(a, b []placed) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if strings.Trim(strings.ToLower(a[i].Text), ".,?!;:") != b[i].Text {
			return false
		}
	}
	return true
}
