package main

import (
	"strconv"
	"strings"
)

// plain brings words into the form they are compared in: small letters; hyphens
// part words; no punctuation but the apostrophe inside a word; "okay" for "ok";
// figures in words: 1700 "seventeen hundred", 3,500 "three thousand five
// hundred", up to 99 as one number, all others digit by digit.
func plain(words []string) []string {
	var out []string
	for _, w := range words {
		w = strings.ToLower(strings.ReplaceAll(w, "’", "'"))
		for _, part := range strings.FieldsFunc(w, func(r rune) bool { return strings.ContainsRune("-–—/_", r) }) {
			for _, p := range strings.Split(part, "...") {
				out = append(out, plainWord(p)...)
			}
		}
	}
	return out
}

func plainWord(w string) []string {
	grouped := strings.Contains(strings.Trim(w, ",."), ",")
	w = strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '\'' {
			return r
		}
		return -1
	}, w)
	w = strings.Trim(w, "'")
	switch {
	case w == "":
		return nil
	case w == "ok":
		return []string{"okay"}
	case w[0] < '0' || w[0] > '9':
		return []string{w}
	}
	n := strings.IndexFunc(w, func(r rune) bool { return r < '0' || r > '9' })
	if n < 0 {
		return spoken(w, grouped)
	}
	return append(spoken(w[:n], grouped), w[n:])
}

var (
	smallNumbers = strings.Fields("zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen")
	tensNumbers  = strings.Fields("zero ten twenty thirty forty fifty sixty seventy eighty ninety")
)

// spoken are the words of a figure.
func spoken(digits string, grouped bool) []string {
	n, err := strconv.Atoi(digits)
	switch {
	case err != nil || digits[0] == '0' && len(digits) > 1:
	case n < 100:
		return below100(n)
	case n < 100_000 && n%100 == 0 && (grouped || n%1000 == 0 || n > 9900):
		out := append(below1000(n/1000), "thousand")
		if h := n / 100 % 10; h > 0 {
			out = append(out, smallNumbers[h], "hundred")
		}
		return out
	case n <= 9900 && n%100 == 0:
		return append(below100(n/100), "hundred")
	}
	var out []string
	for _, d := range digits {
		out = append(out, smallNumbers[d-'0'])
	}
	return out
}

func below100(n int) []string {
	switch {
	case n < 20:
		return []string{smallNumbers[n]}
	case n%10 == 0:
		return []string{tensNumbers[n/10]}
	}
	return []string{tensNumbers[n/10], smallNumbers[n%10]}
}

func below1000(n int) []string {
	if n < 100 {
		return below100(n)
	}
	out := []string{smallNumbers[n/100], "hundred"}
	if n%100 > 0 {
		out = append(out, below100(n%100)...)
	}
	return out
}
