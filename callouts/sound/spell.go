package sound

// rule turns a group of letters into phonemes. after and before narrow it:
// "#" the edge of the word, "V" a vowel letter, "C" a consonant letter, "F" one
// of e i y, "" anything.
type rule struct {
	letters, phones string
	after, before   string
}

// rules are tried in order at each letter; the first that fits is taken. They
// are a rough guide for words no dictionary has, mostly names and slips of the
// recogniser.
var rules = []struct {
	rule
	said []Phone
}{}

func init() {
	for _, r := range []rule{
		{letters: "tion", phones: "SH AH0 N"}, {letters: "sion", phones: "ZH AH0 N"},
		{letters: "ought", phones: "AO1 T"}, {letters: "aught", phones: "AO1 T"}, {letters: "ough", phones: "OW1"},
		{letters: "eigh", phones: "EY1"}, {letters: "igh", phones: "AY1"}, {letters: "tch", phones: "CH"}, {letters: "dge", phones: "JH"},
		{letters: "sch", phones: "SH"}, {letters: "ing", phones: "IH0 NG", before: "#"},
		{letters: "kn", phones: "N", after: "#"}, {letters: "wr", phones: "R", after: "#"}, {letters: "ps", phones: "S", after: "#"}, {letters: "gn", phones: "N", after: "#"},
		{letters: "mb", phones: "M", before: "#"}, {letters: "gh", phones: "G", after: "#"}, {letters: "gh", phones: ""},
		{letters: "ch", phones: "CH"}, {letters: "ck", phones: "K"}, {letters: "sh", phones: "SH"}, {letters: "th", phones: "TH"}, {letters: "ph", phones: "F"}, {letters: "wh", phones: "W"},
		{letters: "qu", phones: "K W"}, {letters: "ng", phones: "NG", before: "#"}, {letters: "nk", phones: "NG K"},
		{letters: "ss", phones: "S"}, {letters: "tt", phones: "T"}, {letters: "ll", phones: "L"}, {letters: "rr", phones: "R"}, {letters: "pp", phones: "P"}, {letters: "bb", phones: "B"},
		{letters: "dd", phones: "D"}, {letters: "ff", phones: "F"}, {letters: "gg", phones: "G"}, {letters: "mm", phones: "M"}, {letters: "nn", phones: "N"}, {letters: "cc", phones: "K"}, {letters: "zz", phones: "Z"},
		{letters: "air", phones: "EH1 R"}, {letters: "are", phones: "EH1 R", before: "#"}, {letters: "ear", phones: "IH1 R"}, {letters: "eer", phones: "IH1 R"}, {letters: "our", phones: "AW1 ER0"},
		{letters: "ar", phones: "AA1 R"}, {letters: "er", phones: "ER0"}, {letters: "ir", phones: "ER1"}, {letters: "ur", phones: "ER1"}, {letters: "or", phones: "AO1 R"},
		{letters: "ee", phones: "IY1"}, {letters: "ea", phones: "IY1"}, {letters: "oo", phones: "UW1"}, {letters: "oa", phones: "OW1"}, {letters: "ou", phones: "AW1"}, {letters: "ow", phones: "OW1", before: "#"}, {letters: "ow", phones: "AW1"},
		{letters: "oi", phones: "OY1"}, {letters: "oy", phones: "OY1"}, {letters: "ai", phones: "EY1"}, {letters: "ay", phones: "EY1"}, {letters: "ei", phones: "EY1"}, {letters: "ey", phones: "IY0", before: "#"}, {letters: "au", phones: "AO1"}, {letters: "aw", phones: "AO1"},
		{letters: "ie", phones: "IY1"}, {letters: "ue", phones: "UW1"}, {letters: "ew", phones: "UW1"}, {letters: "ed", phones: "D", before: "#"},
		{letters: "le", phones: "AH0 L", after: "C", before: "#"}, {letters: "e", phones: "", after: "C", before: "#"},
		{letters: "a", phones: "EY1", before: "Ce"}, {letters: "i", phones: "AY1", before: "Ce"}, {letters: "o", phones: "OW1", before: "Ce"}, {letters: "u", phones: "UW1", before: "Ce"},
		{letters: "a", phones: "AH0", before: "#"}, {letters: "a", phones: "AE1"}, {letters: "e", phones: "EH1"}, {letters: "i", phones: "IH1"}, {letters: "o", phones: "OW1", before: "#"}, {letters: "o", phones: "AA1"}, {letters: "u", phones: "AH1"},
		{letters: "y", phones: "Y", after: "#"}, {letters: "y", phones: "IY0", before: "#"}, {letters: "y", phones: "IH1"},
		{letters: "c", phones: "S", before: "F"}, {letters: "c", phones: "K"}, {letters: "g", phones: "JH", before: "F"}, {letters: "g", phones: "G"},
		{letters: "x", phones: "Z", after: "#"}, {letters: "x", phones: "K S"}, {letters: "s", phones: "Z", after: "V", before: "V"}, {letters: "s", phones: "S"},
		{letters: "b", phones: "B"}, {letters: "d", phones: "D"}, {letters: "f", phones: "F"}, {letters: "h", phones: "HH"}, {letters: "j", phones: "JH"}, {letters: "k", phones: "K"}, {letters: "l", phones: "L"}, {letters: "m", phones: "M"},
		{letters: "n", phones: "N"}, {letters: "p", phones: "P"}, {letters: "q", phones: "K"}, {letters: "r", phones: "R"}, {letters: "t", phones: "T"}, {letters: "v", phones: "V"}, {letters: "w", phones: "W"}, {letters: "z", phones: "Z"},
	} {
		said, ok := ParsePhones(r.phones)
		if !ok {
			panic("sound: bad phonemes in the rule for " + r.letters)
		}
		rules = append(rules, struct {
			rule
			said []Phone
		}{r, said})
	}
}

// spell says a word no dictionary has. Anything but a to z is silent.
func spell(w string) []Phone {
	var out []Phone
	for i := 0; i < len(w); {
		n := 1
		for k := range rules {
			r := &rules[k]
			if len(w)-i >= len(r.letters) && w[i:i+len(r.letters)] == r.letters &&
				fits(r.after, w, i-1, -1) && fits(r.before, w, i+len(r.letters), 1) {
				out = append(out, r.said...)
				n = len(r.letters)
				break
			}
		}
		i += n
	}
	return out
}

// fits checks a context letter by letter from i in direction dir.
func fits(context, w string, i, dir int) bool {
	for _, c := range context {
		inside := i >= 0 && i < len(w)
		switch {
		case c == '#':
			if inside && 'a' <= w[i] && w[i] <= 'z' {
				return false
			}
		case !inside:
			return false
		case c == 'V' && !vowelLetter(w[i]), c == 'C' && (vowelLetter(w[i]) || w[i] < 'a' || w[i] > 'z'),
			c == 'F' && w[i] != 'e' && w[i] != 'i' && w[i] != 'y', c == 'e' && w[i] != 'e':
			return false
		}
		i += dir
	}
	return true
}

func vowelLetter(b byte) bool {
	switch b {
	case 'a', 'e', 'i', 'o', 'u', 'y':
		return true
	}
	return false
}
