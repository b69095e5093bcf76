package sound

import "strings"

// trade are words of the cockpit the dictionary lacks or says differently.
var trade = parseTrade(map[string]string{
	"carb":    "K AA1 R B",
	"carbs":   "K AA1 R B Z",
	"niner":   "N AY1 N ER0",
	"fife":    "F AY1 F",
	"fower":   "F OW1 ER0",
	"tousand": "T AW1 Z AH0 N D",
	"rpm":     "AA1 R P IY1 EH1 M",
	"rpms":    "AA1 R P IY1 EH1 M Z",
	"kts":     "N AA1 T S",
	"kt":      "N AA1 T S",
	"ft":      "F IY1 T",
	"deg":     "D IH0 G R IY1 Z",
	"°":       "D IH0 G R IY1 Z",
	"temps":   "T EH1 M P S",
	"pitot":   "P IY1 T OW0",
	"agl":     "EY1 JH IY1 EH1 L",
	"msl":     "EH1 M EH1 S EH1 L",
	"hdg":     "HH EH1 D IH0 NG",
})

func parseTrade(m map[string]string) map[string][]Phone {
	out := make(map[string][]Phone, len(m))
	for w, s := range m {
		p, ok := ParsePhones(s)
		if !ok {
			panic("sound: bad phonemes for " + w)
		}
		out[w] = p
	}
	return out
}

// Say gives the phonemes of a word as a recogniser writes it: any case, with
// punctuation around it, hyphens inside, or as digits. It is empty only when
// the word has no letter and no digit.
func Say(word string) []Phone {
	return sayPlain(bare(word))
}

// bare is a word in small letters, without the punctuation around it.
func bare(word string) string {
	w := strings.ToLower(strings.Trim(word, " \t\"“”‘(),.;:?!…-–—[]"))
	return strings.ReplaceAll(w, "’", "'")
}

func sayPlain(w string) []Phone {
	if w == "" {
		return nil
	}
	if p, ok := trade[w]; ok {
		return p
	}
	if p, ok := lookUp(w); ok {
		return p
	}
	if bare := strings.Trim(w, "'."); bare != w {
		return sayPlain(bare)
	}
	if i := strings.IndexAny(w, "-–—/"); i >= 0 {
		rest := strings.TrimLeft(w[i:], "-–—/")
		return append(append([]Phone{}, sayPlain(w[:i])...), sayPlain(rest)...)
	}
	if digits, rest := leadingDigits(w); digits != "" {
		return append(append([]Phone{}, sayDigits(digits)...), sayPlain(rest)...)
	}
	if i := strings.IndexAny(w, "0123456789"); i > 0 {
		return append(append([]Phone{}, sayPlain(w[:i])...), sayPlain(w[i:])...)
	}
	if stem, ok := strings.CutSuffix(w, "'s"); ok {
		return append(append([]Phone{}, sayPlain(stem)...), plural(sayPlain(stem)))
	}
	return spell(w)
}

// plural is the sound of 's after a stem.
func plural(stem []Phone) Phone {
	if len(stem) > 0 {
		switch stem[len(stem)-1] {
		case P, T, K, F, TH:
			return S
		}
	}
	return Z
}

func leadingDigits(w string) (digits, rest string) {
	i := 0
	for i < len(w) && ('0' <= w[i] && w[i] <= '9' || (w[i] == ',' || w[i] == '.') && i > 0) {
		i++
	}
	return strings.Map(func(r rune) rune {
		if r == ',' || r == '.' {
			return -1
		}
		return r
	}, w[:i]), w[i:]
}

var (
	ones = strings.Fields("zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen")
	tens = strings.Fields("zero ten twenty thirty forty fifty sixty seventy eighty ninety")
)

// sayDigits says one or two digits as a number and more digit by digit.
func sayDigits(d string) []Phone {
	if len(d) == 2 && d[0] != '0' {
		n := int(d[0]-'0')*10 + int(d[1]-'0')
		switch {
		case n < 20:
			return sayPlain(ones[n])
		case n%10 == 0:
			return sayPlain(tens[n/10])
		}
		return append(append([]Phone{}, sayPlain(tens[n/10])...), sayPlain(ones[n%10])...)
	}
	var out []Phone
	for _, c := range d {
		out = append(out, sayPlain(ones[c-'0'])...)
	}
	return out
}

// Known says whether a word is in the dictionary, is a word of the cockpit or is
// made of such words or of figures; what else recognisers write is often no word.
func Known(word string) bool {
	for part := range strings.FieldsFuncSeq(bare(word), func(r rune) bool { return strings.ContainsRune("-–—/.,", r) }) {
		if _, ok := trade[part]; ok {
			continue
		}
		if _, ok := lookUp(part); ok {
			continue
		}
		if stem, ok := strings.CutSuffix(part, "'s"); ok {
			if _, ok := lookUp(stem); ok {
				continue
			}
		}
		if strings.ContainsAny(part, "0123456789") {
			continue
		}
		return false
	}
	return true
}
