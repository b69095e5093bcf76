package figures

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Reading is one way to read a stretch of words as a figure.
type Reading struct {
	// First and End bound the words of the figure, [First, End). UnitEnd is
	// End, or one past the unit when a unit follows ("knots").
	First, End, UnitEnd int
	Value               float64
	// Parts is how many spoken pieces it was made of: number words, or the
	// digits of a written number.
	Parts int
	// Quantity is the slot's, or what the words themselves say; "" when
	// neither decides.
	Quantity Quantity
	// Weight in (0,1] is how plausible the reading is; it ranks readings of
	// the same words and is no probability.
	Weight float64
}

// Line is a line of words made ready for reading figures from it.
type Line struct {
	atoms []atom
	start []int // first atom of each word, and len(atoms) at the end
}

// NewLine prepares words as a recogniser wrote them, punctuation and all.
func NewLine(words []string) *Line {
	l := &Line{atoms: atomise(words), start: make([]int, 0, len(words)+1)}
	for i := range l.atoms {
		if l.atoms[i].first {
			l.start = append(l.start, i)
		}
	}
	l.start = append(l.start, len(l.atoms))
	return l
}

// Parse finds the figures in words of which nothing is expected: the best
// readings of each stretch of number words, in order. Readings of the same
// stretch stand together, likeliest first.
func Parse(words []string) []Reading { return NewLine(words).All() }

// All is Parse on a prepared line.
func (l *Line) All() []Reading {
	var out []Reading
	for w := 0; w < len(l.start)-1; {
		rs := l.read(w, "", false)
		if len(rs) == 0 {
			w++
			continue
		}
		end := 0
		for _, r := range rs {
			end = max(end, r.End)
		}
		for _, r := range rs {
			if r.End == end {
				out = append(out, r)
			}
		}
		w = end
	}
	return out
}

// At returns every reading of quantity q that starts exactly at word w,
// likeliest first. A figure is expected here, so homophones count ("to" as
// two). Words that name another quantity ("knots" for a heading) rule a
// reading out.
func (l *Line) At(w int, q Quantity) []Reading {
	if w < 0 || w >= len(l.start)-1 {
		return nil
	}
	return l.read(w, q, true)
}

// longest is the most words a figure takes: "one seven thousand and niner
// hundred and fife zero" with a filler or two.
const longest = 10

// Before returns every reading of quantity q that ends exactly before word
// end, likeliest first, as for "sixty five" in "sixty five knots".
func (l *Line) Before(end int, q Quantity) []Reading {
	var out []Reading
	for w := end - 1; w >= 0 && w >= end-longest; w-- {
		a := &l.atoms[l.start[w]]
		if a.kind == other && !a.cue() && !a.one() && a.text != "half" {
			break
		}
		for _, r := range l.At(w, q) {
			if r.End != end {
				continue
			}
			if p := l.start[w] - 1; p >= 0 && l.atoms[p].partOfFigure() && !l.atoms[p].brk {
				r.Weight *= midway
			}
			out = append(out, r)
		}
	}
	rank(out)
	return out
}

// Penalties: midway for a reading that stops or starts among number words,
// severed for one that parts "seventeen" from "hundred", across for each
// punctuation mark inside, slang for a shorthand of the trade.
const (
	midway  = 0.3
	severed = 0.02
	across  = 0.8
	slang   = 0.4
)

func (a *atom) cue() bool { return a.text == "flight" || a.text == "level" || a.level }
func (a *atom) one() bool { return a.text == "a" || a.text == "an" }

// part is a figure being put together.
type part struct {
	end    int // next atom
	value  float64
	digits int // length when it is a plain digit string, else 0
	weight float64
	sure   bool // rests on at least one word that is a number by itself
}

// read enumerates the readings starting at word w.
func (l *Line) read(w int, q Quantity, expected bool) []Reading {
	p := parser{l.atoms, expected}
	from := l.start[w]
	level := false
	i := from
	if i+2 < len(l.atoms) && l.atoms[i].text == "flight" && l.atoms[i+1].text == "level" {
		level, i = true, i+2
	} else if i+1 < len(l.atoms) && l.atoms[i].text == "fl" {
		level, i = true, i+1
	} else if l.atoms[i].level {
		level = true
	}
	var out []Reading
	for _, pt := range p.figure(i) {
		out = l.finish(out, w, i, pt, q, level, expected)
	}
	rank(out)
	return slices.CompactFunc(out, func(a, b Reading) bool { return a.End == b.End && a.Value == b.Value })
}

func rank(rs []Reading) {
	slices.SortStableFunc(rs, func(a, b Reading) int {
		return cmp.Or(cmp.Compare(b.Weight, a.Weight), cmp.Compare(b.End, a.End), cmp.Compare(a.First, b.First), cmp.Compare(a.Value, b.Value))
	})
}

// finish weighs a part as a reading of q and adds it, with the shorthand forms
// of the trade, to out.
func (l *Line) finish(out []Reading, w, from int, pt part, q Quantity, level, expected bool) []Reading {
	if !pt.sure || pt.weight < 0.01 {
		return out
	}
	if !l.atoms[pt.end-1].last && !l.onlyUnit(pt.end) {
		return out // ends inside a written word
	}
	r := Reading{First: w, End: l.atoms[pt.end-1].word + 1, Value: pt.value, Parts: l.parts(from, pt.end), Quantity: q}
	r.UnitEnd = r.End
	said := l.saidBefore(from)
	if pt.end < len(l.atoms) && !l.atoms[pt.end-1].brk {
		if u, n := l.unitAt(pt.end); n > 0 {
			r.UnitEnd = l.atoms[pt.end+n-1].word + 1
			if said == "" || u != degrees {
				said = u
			}
		}
	} else if pt.end < len(l.atoms) {
		if u, n := l.unitAt(pt.end); n > 0 && u != degrees {
			r.UnitEnd, said = l.atoms[pt.end+n-1].word+1, u
		}
	}
	// A unit written onto the number ("65kts") is the same word.
	if pt.end < len(l.atoms) && l.atoms[pt.end].word == l.atoms[pt.end-1].word {
		r.End = max(r.End, r.UnitEnd)
	}
	if level {
		said = Altitude
		if pt.digits == 0 && pt.value >= 1000 {
			return out
		}
		r.Value *= 100
	}
	if q == "" {
		if said != degrees {
			r.Quantity = said
		}
	} else if said != "" && !agrees(said, q) {
		return out
	}
	weight := pt.weight
	if q != Heading || pt.digits != 3 { // a heading is whole with three digits
		weight *= l.stop(pt.end, expected)
	}
	out = add(out, r, weight*form(r.Quantity, pt), pt)
	for _, v := range shorthand(r.Quantity, pt, level) {
		r.Value = v
		out = add(out, r, weight*slang, pt)
	}
	return out
}

func add(out []Reading, r Reading, weight float64, pt part) []Reading {
	r.Weight = weight * plausible(r.Quantity, r.Value)
	if r.Quantity == Heading && r.Value == 0 {
		if pt.digits != 3 {
			return out
		}
		r.Value = 360 // north is said "three six zero"; "zero zero zero" means the same
	}
	if r.Weight > 0 {
		out = append(out, r)
	}
	return out
}

// form weighs how a figure was said for its quantity: headings are three
// digits (AIM 4-2-10).
func form(q Quantity, pt part) float64 {
	switch {
	case q == Heading && pt.digits == 3:
		return 1
	case q == Heading && pt.digits == 1:
		return 0.25
	case q == Heading:
		return 0.6
	case q != Heading && q != "" && q != Frequency && q != Count && pt.digits > 1 && pt.value < math.Pow10(pt.digits-1):
		return 0.5 // a leading zero belongs to headings
	}
	return 1
}

// shorthand gives what pilots mean when they leave the zeros away: "power
// seventeen", "three point five", "three thousand five" (common practice, no
// source), and a heading whose last zero went unheard.
func shorthand(q Quantity, pt part, level bool) []float64 {
	if level {
		return nil
	}
	switch {
	case q == RPM && pt.digits == 2 && 10 <= pt.value && pt.value <= 30:
		return []float64{pt.value * 100}
	case q == Heading && pt.digits == 2 && pt.value <= 36:
		return []float64{pt.value * 10}
	case q == Altitude && pt.digits == 0 && pt.value < 20 && pt.value != math.Trunc(pt.value):
		return []float64{math.Round(pt.value * 1000)}
	case q == Altitude && pt.digits == 0 && pt.value > 1000 && math.Mod(pt.value, 1000) < 10 && math.Mod(pt.value, 1000) >= 1:
		unit := math.Mod(pt.value, 1000)
		return []float64{pt.value - unit + unit*100}
	}
	return nil
}

func agrees(said, q Quantity) bool {
	if said == degrees {
		return q == Heading || q == Flaps || q == Bank || q == Count
	}
	return said == q || q == Count
}

// stop weighs the end of a reading by what follows it.
func (l *Line) stop(end int, expected bool) float64 {
	if end >= len(l.atoms) || l.atoms[end-1].halt {
		return 1
	}
	if last := &l.atoms[end-1]; last.brk {
		// "four thousand, five hundred"
		if last.kind == thousand && end+1 < len(l.atoms) && l.atoms[end].number() && l.atoms[end+1].kind == hundred {
			return midway
		}
		return 1
	}
	switch a := &l.atoms[end]; {
	case a.kind == hundred || a.kind == thousand:
		return severed
	case a.kind == point && end+1 < len(l.atoms) && l.atoms[end+1].number() && !l.atoms[end+1].hom:
		return midway
	case a.number() && !a.oh && !a.hom:
		return midway
	case a.oh && expected:
		return midway
	}
	return 1
}

// unitAt reads a unit starting at atom i and how many atoms it takes.
func (l *Line) unitAt(i int) (Quantity, int) {
	if l.spells(i, "r", "p", "m") {
		return RPM, 3
	}
	u, ok := unitOf[l.atoms[i].text]
	if !ok {
		return "", 0
	}
	if u == degrees {
		j := i + 1
		for j < len(l.atoms) && (l.atoms[j].text == "of" || l.atoms[j].text == "angle") {
			j++
		}
		if j < len(l.atoms) && !l.atoms[i].brk {
			switch l.atoms[j].text {
			case "bank":
				return Bank, 1
			case "flap", "flaps":
				return Flaps, 1
			}
		}
	}
	return u, 1
}

func (l *Line) parts(from, end int) int {
	n := 0
	for _, a := range l.atoms[from:end] {
		switch {
		case a.kind == numeral:
			n += len(a.digits) + len(a.frac)
		case a.kind != other && a.kind != filler && a.kind != and:
			n++
		}
	}
	return n
}

// onlyUnit says whether atom i is a unit written onto the number before it.
func (l *Line) onlyUnit(i int) bool {
	_, n := l.unitAt(i)
	return n == 1 && l.atoms[i].last
}

func (l *Line) spells(i int, texts ...string) bool {
	for k, t := range texts {
		if i+k >= len(l.atoms) || l.atoms[i+k].text != t {
			return false
		}
	}
	return true
}

// saidBefore looks for the word that names the quantity right before atom i.
func (l *Line) saidBefore(i int) Quantity {
	for k := i - 1; k >= 0 && k >= i-3; k-- {
		switch l.atoms[k].text {
		case "heading", "course", "bearing", "wind":
			return Heading
		case "altitude":
			return Altitude
		case "speed", "airspeed":
			return Airspeed
		case "flaps", "flap":
			return Flaps
		case "bank":
			return Bank
		case "frequency":
			return Frequency
		case "level":
			if k > 0 && l.atoms[k-1].text == "flight" {
				return Altitude
			}
			return ""
		case "is", "at", "to", "now", "of", "the", "uh", "um":
			continue
		}
		return ""
	}
	return ""
}

type parser struct {
	atoms    []atom
	expected bool
}

// skip passes over fillers.
func (p *parser) skip(i int) int {
	for i < len(p.atoms) && p.atoms[i].kind == filler {
		i++
	}
	return i
}

// usable says whether the atom at i may stand for digits here.
func (p *parser) usable(i int, inside bool) bool {
	if i >= len(p.atoms) {
		return false
	}
	a := &p.atoms[i]
	switch {
	case !a.number():
		return false
	case a.hom:
		return p.expected
	case a.oh:
		return inside || p.beside(i)
	}
	return true
}

// beside says whether "oh" at i has a digit to its right.
func (p *parser) beside(i int) bool {
	return i+1 < len(p.atoms) && p.atoms[i+1].number() && !p.atoms[i+1].hom && !p.atoms[i].brk
}

// run is a string of digits being collected.
type run struct {
	end    int
	digits string
	weight float64
	sure   bool
	units  int // atoms used
}

// runs yields every prefix of the digit string at i, of at most limit digits.
func (p *parser) runs(i, limit int) []run {
	var out []run
	r := run{end: i, weight: 1}
	for {
		j := p.skip(r.end)
		if !p.usable(j, r.units > 0) {
			return out
		}
		a := &p.atoms[j]
		if a.comma || a.frac != "" || (a.level && j != i) {
			return out
		}
		if r.units > 0 && p.atoms[r.end-1].brk {
			r.weight *= across
		}
		r.weight *= a.weight
		r.sure = r.sure || !a.hom && !a.oh
		r.units++
		digits := a.digits
		r.end = j + 1
		if a.kind == tens {
			if k := p.skip(r.end); p.usable(k, false) && p.atoms[k].kind == digit && p.atoms[k].digits != "0" && !a.brk {
				if len(r.digits)+2 <= limit {
					alone := r
					alone.digits += digits
					out = append(out, alone)
				}
				r.weight *= p.atoms[k].weight
				digits = digits[:1] + p.atoms[k].digits
				r.end = k + 1
			}
		}
		r.digits += digits
		if len(r.digits) > limit {
			return out
		}
		out = append(out, r)
	}
}

func (r run) value() float64 {
	v, _ := strconv.ParseFloat(r.digits, 64)
	return v
}

// figure enumerates the figures starting at atom i.
func (p *parser) figure(i int) []part {
	if i >= len(p.atoms) {
		return nil
	}
	a := &p.atoms[i]
	if a.kind == hundred || a.kind == thousand || a.one() {
		return p.bare(i)
	}
	if a.kind == point {
		return p.decimals(nil, run{end: i, weight: 0.5, sure: true})
	}
	if a.kind == numeral && (a.comma || a.frac != "") {
		return p.written(i)
	}
	var out []part
	for _, r := range p.runs(i, 6) {
		out = append(out, part{end: r.end, value: r.value(), digits: len(r.digits), weight: r.weight, sure: r.sure})
		out = p.scaled(out, r)
		out = p.decimals(out, r)
	}
	return out
}

// written reads a numeral with a comma or decimals, "3,500" or "122.1".
func (p *parser) written(i int) []part {
	a := &p.atoms[i]
	v, err := strconv.ParseFloat(a.digits+"."+a.frac+"0", 64)
	if err != nil {
		return nil
	}
	return []part{{end: i + 1, value: v, weight: 1, sure: true}}
}

// bare reads "a hundred", "a thousand five hundred" and a lone "hundred".
func (p *parser) bare(i int) []part {
	r := run{end: i, digits: "1", weight: 0.6, sure: true}
	if p.atoms[i].one() {
		r.end, r.weight = i+1, 0.9
		if r.end >= len(p.atoms) || (p.atoms[r.end].kind != hundred && p.atoms[r.end].kind != thousand) {
			return nil
		}
	}
	return p.scaled(nil, r)
}

// scaled reads what follows a run as "hundred" or "thousand".
func (p *parser) scaled(out []part, r run) []part {
	i := p.skip(r.end)
	if i >= len(p.atoms) || len(r.digits) > 2 || r.digits[0] == '0' {
		return out
	}
	switch a := &p.atoms[i]; {
	case p.spells(i, "and", "a", "half", "thousand"):
		return append(out, part{end: i + 4, value: r.value()*1000 + 500, weight: r.weight, sure: true})
	case a.kind == hundred:
		return p.hundreds(out, r, 0, i+1, 99)
	case a.kind == numeral && a.digits == "100" && a.frac == "" && !p.atoms[r.end-1].brk:
		r.weight *= 0.9 // "17 100" for "seventeen hundred"
		return p.hundreds(out, r, 0, i+1, 99)
	case a.kind == numeral && a.digits == "1000" && a.frac == "" && !p.atoms[r.end-1].brk:
		r.weight *= 0.9
		return p.thousands(out, r, i+1)
	case a.kind == thousand:
		return p.thousands(out, r, i+1)
	}
	return out
}

// spells tells whether the atoms from i on are these words, said in one breath.
func (p *parser) spells(i int, words ...string) bool {
	for k, w := range words {
		if i+k >= len(p.atoms) || p.atoms[i+k].text != w || k > 0 && p.atoms[i+k-1].brk {
			return false
		}
	}
	return true
}

// hundreds adds base + r hundred, and its tail, when r is at most limit.
func (p *parser) hundreds(out []part, r run, base float64, end int, limit float64) []part {
	if r.value() > limit || r.value() == 0 {
		return out
	}
	v := base + r.value()*100
	out = append(out, part{end: end, value: v, weight: r.weight, sure: true})
	for _, t := range p.runs(p.past(end), 2) {
		if t.sure && t.value() > 0 {
			out = append(out, part{end: t.end, value: v + t.value(), weight: r.weight * t.weight * p.join(end), sure: true})
		}
	}
	return out
}

// past steps over an "and" that links the parts of one number.
func (p *parser) past(i int) int {
	i = p.skip(i)
	if i < len(p.atoms) && p.atoms[i].kind == and && !p.atoms[i-1].brk {
		return p.skip(i + 1)
	}
	return i
}

// join weighs what lies between "hundred" and the tail that starts at i.
func (p *parser) join(i int) float64 {
	switch a := &p.atoms[i-1]; {
	case a.halt:
		return across * 0.5
	case a.brk:
		return across
	}
	return 1
}

// thousands adds r thousand with its hundreds and tail.
func (p *parser) thousands(out []part, r run, end int) []part {
	v := r.value() * 1000
	out = append(out, part{end: end, value: v, weight: r.weight, sure: true})
	for _, t := range p.runs(p.past(end), 3) {
		if !t.sure && t.digits == "" || t.value() == 0 {
			continue
		}
		w := r.weight * t.weight * p.join(end)
		out = append(out, part{end: t.end, value: v + t.value(), weight: w, sure: true})
		if i := p.skip(t.end); i < len(p.atoms) && p.atoms[i].kind == hundred && len(t.digits) == 1 {
			s := t
			s.weight = w
			out = p.hundreds(out, s, v, i+1, 9)
		}
	}
	return out
}

// decimals reads "point one" after a run.
func (p *parser) decimals(out []part, r run) []part {
	i := p.skip(r.end)
	if i >= len(p.atoms) || p.atoms[i].kind != point || (i > 0 && p.atoms[i-1].brk) {
		return out
	}
	for _, f := range p.runs(i+1, 3) {
		v, err := strconv.ParseFloat("0"+r.digits+"."+f.digits, 64)
		if err == nil && !strings.HasSuffix(f.digits, ".") {
			out = append(out, part{end: f.end, value: v, weight: r.weight * f.weight, sure: r.sure && f.sure || r.digits == "" && f.sure})
		}
	}
	return out
}
