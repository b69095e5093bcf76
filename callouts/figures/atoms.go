package figures

import "strings"

type kind uint8

const (
	other    kind = iota
	digit         // zero to nine
	teen          // ten to nineteen
	tens          // twenty to ninety
	numeral       // written in digits
	hundred       // the word
	thousand      // the word
	point         // "point", "decimal"
	and           // "three thousand and fifty"
	filler        // "uh", said while thinking
)

// atom is the smallest piece of a figure; "thirty-five" is two of them.
type atom struct {
	word   int    // index of the word it is part of
	text   string // lower case, no punctuation
	kind   kind
	digits string  // what it stands for: "7", "12", "30", "3500"
	frac   string  // decimals of a numeral, "1" in 122.1
	comma  bool    // written with a thousands comma, so never part of a digit string
	hom    bool    // a number only where one is expected: "to" for "two"
	oh     bool    // zero only beside other digits: "oh"
	brk    bool    // punctuation follows
	halt   bool    // and it ends a sentence
	first  bool    // first atom of its word
	last   bool    // last atom of its word
	level  bool    // a flight level, "FL190"
	weight float64 // trust in the spelling
}

func (a *atom) number() bool { return digit <= a.kind && a.kind <= numeral }

// partOfFigure says whether a figure cannot well start or stop beside the atom.
func (a *atom) partOfFigure() bool {
	return a.number() && !a.hom || a.kind == hundred || a.kind == thousand || a.kind == point
}

// numbers maps a spoken word to the digits it stands for. niner, fife, tree,
// fower, ait and the rest are the ICAO Annex 10 pronunciations as a recogniser
// may spell them.
var numbers = map[string]string{
	"zero": "0", "one": "1", "two": "2", "three": "3", "four": "4", "five": "5",
	"six": "6", "seven": "7", "eight": "8", "nine": "9",
	"niner": "9", "fife": "5", "fower": "4", "foer": "4", "ait": "8", "wun": "1",
	"zeero": "0", "nought": "0", "naught": "0",
	"ten": "10", "eleven": "11", "twelve": "12", "thirteen": "13", "fourteen": "14",
	"fifteen": "15", "sixteen": "16", "seventeen": "17", "eighteen": "18", "nineteen": "19",
	"twenty": "20", "thirty": "30", "forty": "40", "fourty": "40", "fifty": "50",
	"sixty": "60", "seventy": "70", "eighty": "80", "ninety": "90",
}

// homophones are everyday words a recogniser writes for a digit. They count
// only inside a figure somebody waits for.
var homophones = map[string]string{
	"to": "2", "too": "2", "for": "4", "fore": "4", "won": "1", "ate": "8",
	"tree": "3", "free": "3", "eighth": "8", "sicks": "6", "nina": "9", "miner": "9", "minor": "9", "tin": "10",
}

var unitOf = map[string]Quantity{
	"knots": Airspeed, "knot": Airspeed, "kts": Airspeed, "kt": Airspeed, "nots": Airspeed,
	"feet": Altitude, "foot": Altitude, "ft": Altitude,
	"rpm": RPM, "rpms": RPM, "revs": RPM,
	"degrees": degrees, "degree": degrees, "deg": degrees, "°": degrees,
	"megahertz": Frequency, "mhz": Frequency,
	"seconds": Duration, "second": Duration,
}

// degrees is a unit shared by headings, flaps and bank.
const degrees Quantity = "degrees"

const (
	breaks = ",.;:?!…"
	halts  = ".;?!"
)

// atomise splits words as written by people or recognisers into atoms.
func atomise(words []string) []atom {
	out := make([]atom, 0, len(words)+4)
	for w, text := range words {
		text = strings.ToLower(strings.Trim(text, " \t\"'“”‘’()[]"))
		brk := strings.ContainsAny(lastRune(text), breaks)
		halt := strings.ContainsAny(lastRune(text), halts)
		text = strings.Trim(text, breaks+"-–—\"'“”‘’()[]")
		n := len(out)
		for _, piece := range strings.FieldsFunc(text, func(r rune) bool { return r == '-' || r == '–' || r == '—' || r == ' ' || r == '/' }) {
			out = appendPiece(out, w, piece)
		}
		if len(out) == n {
			out = append(out, atom{word: w, text: text})
		}
		out[n].first = true
		out[len(out)-1].last = true
		out[len(out)-1].brk, out[len(out)-1].halt = brk, halt
	}
	return out
}

func lastRune(s string) string {
	if s == "" {
		return ""
	}
	r := []rune(s)
	return string(r[len(r)-1])
}

func appendPiece(out []atom, w int, s string) []atom {
	a := atom{word: w, text: s, weight: 1}
	switch s {
	case "hundred", "hundreds":
		a.kind = hundred
	case "thousand", "tousand", "thousands":
		a.kind = thousand
	case "point", "decimal", "dayseemal":
		a.kind = point
	case "and":
		a.kind = and
	case "uh", "um", "er", "erm", "ah", "hmm":
		a.kind = filler
	case "oh", "o":
		a.kind, a.digits, a.oh = digit, "0", true
	default:
		if d, ok := numbers[s]; ok {
			a.kind, a.digits = kindOf(d), d
		} else if d, ok := homophones[s]; ok {
			a.kind, a.digits, a.hom, a.weight = kindOf(d), d, true, 0.7
		} else if isNumeral(s) {
			return appendNumeral(out, w, s)
		}
	}
	return append(out, a)
}

func kindOf(d string) kind {
	switch {
	case len(d) == 1:
		return digit
	case d[0] == '1':
		return teen
	}
	return tens
}

// isNumeral tells digits with an optional "fl" before and a unit behind from
// everything else ("2nd", "7:30", "$5").
func isNumeral(s string) bool {
	s = strings.TrimPrefix(s, "fl")
	return s != "" && '0' <= s[0] && s[0] <= '9'
}

func appendNumeral(out []atom, w int, s string) []atom {
	a := atom{word: w, text: s, kind: numeral, weight: 1}
	body, level := strings.CutPrefix(s, "fl")
	a.level = level
	end := strings.IndexFunc(body, func(r rune) bool { return (r < '0' || r > '9') && r != ',' && r != '.' })
	unit := ""
	if end >= 0 {
		body, unit = body[:end], body[end:]
	}
	if _, known := unitOf[unit]; unit != "" && !known {
		a.kind = other
		return append(out, a)
	}
	whole, frac, dotted := strings.Cut(body, ".")
	a.comma = strings.Contains(whole, ",")
	groups := strings.Split(whole, ",")
	for i, g := range groups {
		if g == "" || (i > 0 && len(g) != 3) || (a.comma && i == 0 && len(g) > 3) {
			a.comma = false // "2,7,0": a list of digits
		}
	}
	a.digits = strings.Join(groups, "")
	if dotted {
		if strings.Contains(frac, ".") { // "2.7.0"
			a.digits, frac = a.digits+strings.ReplaceAll(frac, ".", ""), ""
		}
		a.frac = strings.ReplaceAll(frac, ",", "")
	}
	if len(a.digits) > 6 {
		a.kind = other
	}
	out = append(out, a)
	if unit != "" {
		out = append(out, atom{word: w, text: unit, weight: 1})
	}
	return out
}
