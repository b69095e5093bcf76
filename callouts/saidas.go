package callouts

import (
	"strconv"
	"strings"
)

// SaidAs lists the ways a word may have been said that was written in figures, the
// likeliest first: "1700" as seventeen hundred, one thousand seven hundred, and digit
// by digit (AIM 4-2-8 to 4-2-11 and the group form beside it). Of a word without
// figures, and of one that mixes both, it is the word alone.
func SaidAs(word string) []string {
	bare := strings.Trim(word, ".,?!;:")
	plain := strings.ReplaceAll(bare, ",", "")
	whole, part, decimal := strings.Cut(plain, ".")
	n, err := strconv.Atoi(whole)
	if err != nil || n < 0 || len(whole) > 5 || strings.Trim(part, "0123456789") != "" || decimal && part == "" {
		return []string{word}
	}
	each := digits(n, len(whole))
	if decimal {
		f, _ := strconv.Atoi(part)
		tail := " point " + digits(f, len(part))
		return distinct(each+tail, below1000(n%1000)+tail)
	}
	if whole[0] == '0' {
		return distinct(each)
	}
	switch len(whole) {
	case 1, 2:
		return distinct(below1000(n), each)
	case 3:
		out := []string{below1000(n), each}
		if n%100 != 0 {
			out = append(out, ones[n/100]+" hundred "+pair(n%100), ones[n/100]+" hundred and "+pair(n%100))
		}
		return distinct(out...)
	}
	out := []string{}
	if n%100 == 0 {
		if len(whole) == 4 {
			out = append(out, thousands(n/100))
			if n%1000 != 0 {
				out = append(out, pair(n/100)+" hundred")
			}
		} else {
			out = append(out, thousands(n/100), pair(n/1000)+" thousand"+hundreds(n%1000/100))
		}
	} else if len(whole) == 4 {
		out = append(out, pair(n/100)+" "+pair(n%100))
	}
	return distinct(append(out, each)...)
}

func hundreds(h int) string {
	if h == 0 {
		return ""
	}
	return " " + ones[h] + " hundred"
}

func distinct(ways ...string) []string {
	var out []string
	seen := map[string]bool{}
	for _, w := range ways {
		if !seen[w] {
			seen[w] = true
			out = append(out, w)
		}
	}
	return out
}

// marks are what is written and not spoken.
var marks = strings.NewReplacer("’", "'", "-", " ", "–", " ", "—", " ", "/", " ", "…", " ")

// Spoken gives a text as it is spoken, word by word: small letters, no marks, figures
// in words, the likeliest way.
func Spoken(text string) []string {
	var out []string
	for w := range strings.FieldsSeq(text) {
		out = append(out, SpokenWays(w)[0]...)
	}
	return out
}

// SpokenWays gives what a written word is in words as they are spoken, in each of the
// ways it may have been said, the likeliest first and one at least. What is only marks
// is no words.
func SpokenWays(word string) [][]string {
	parts := strings.Fields(strings.ToLower(marks.Replace(word)))
	if len(parts) != 1 {
		var all []string
		for _, p := range parts {
			all = append(all, SpokenWays(p)[0]...)
		}
		return [][]string{all}
	}
	part := strings.Trim(parts[0], "'\"“”‘.,?!;:()[]")
	if part == "ok" {
		part = "okay"
	}
	var out [][]string
	for _, way := range SaidAs(part) {
		out = append(out, strings.Fields(way))
	}
	return out
}
