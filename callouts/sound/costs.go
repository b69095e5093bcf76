package sound

import "math"

// How far apart two phonemes are, in [0,1], by how they are made: place, manner
// and voicing of consonants; height, backness and rounding of vowels. The
// features are textbook phonetics (International Phonetic Alphabet chart); the
// weights were set by hand on slips of a recogniser and are meant to be
// refitted.

type manner uint8

const (
	stop manner = iota
	affricate
	fricative
	nasal
	liquid
	glide
)

// Places run from the lips backwards.
type consonant struct {
	place  float64
	manner manner
	voiced bool
}

var consonants = map[Phone]consonant{
	P: {0, stop, false}, B: {0, stop, true}, M: {0, nasal, true}, W: {0, glide, true},
	F: {0.5, fricative, false}, V: {0.5, fricative, true},
	TH: {1.5, fricative, false}, DH: {1.5, fricative, true},
	T: {2, stop, false}, D: {2, stop, true}, S: {2, fricative, false}, Z: {2, fricative, true},
	N: {2, nasal, true}, L: {2, liquid, true}, R: {2.5, liquid, true},
	SH: {3, fricative, false}, ZH: {3, fricative, true}, CH: {3, affricate, false}, JH: {3, affricate, true},
	Y: {3.5, glide, true},
	K: {5, stop, false}, G: {5, stop, true}, NG: {5, nasal, true},
	HH: {6.5, fricative, false},
}

// vowel features: height 0 open to 1 close, back 0 front to 1 back; diphthongs
// move from the first pair to the second.
type vowelShape struct {
	height, back, height2, back2 float64
	round                        float64
}

var vowels = map[Phone]vowelShape{
	IY: {1, 0, 1, 0, 0}, IH: {0.8, 0.15, 0.8, 0.15, 0}, EH: {0.5, 0.1, 0.5, 0.1, 0}, AE: {0.2, 0.1, 0.2, 0.1, 0},
	AH: {0.4, 0.6, 0.4, 0.6, 0}, ER: {0.5, 0.5, 0.5, 0.5, 0.3}, AA: {0, 0.8, 0, 0.8, 0}, AO: {0.3, 0.95, 0.3, 0.95, 0.7},
	UH: {0.8, 0.85, 0.8, 0.85, 0.8}, UW: {1, 1, 1, 1, 1}, OW: {0.5, 0.9, 0.8, 0.9, 1}, EY: {0.6, 0.1, 0.9, 0.05, 0},
	AY: {0, 0.5, 0.8, 0.1, 0}, AW: {0, 0.5, 0.8, 0.9, 0.4}, OY: {0.4, 0.9, 0.8, 0.1, 0.4},
}

// mannerCost is symmetric; unlisted pairs are as far as manners get.
var mannerCost = map[[2]manner]float64{
	{stop, affricate}: 0.2, {stop, fricative}: 0.25, {stop, nasal}: 0.45, {affricate, fricative}: 0.15,
	{fricative, liquid}: 0.6, {nasal, liquid}: 0.45, {liquid, glide}: 0.3, {fricative, glide}: 0.55,
}

const (
	voicing    = 0.12
	placeStep  = 0.12
	placeMost  = 0.5
	otherManor = 0.8
)

// near are pairs across the line between vowels and consonants that still sound
// alike.
var near = map[[2]Phone]float64{
	{ER, R}: 0.25, {IY, Y}: 0.3, {IH, Y}: 0.4, {UW, W}: 0.3, {UH, W}: 0.35, {OW, W}: 0.45,
	{L, OW}: 0.45, {L, UH}: 0.45, {L, AO}: 0.5, {ER, AH}: 0.25, {ER, UH}: 0.3, {T, DH}: 0.35,
}

var sub = func() (m [phones][phones]float64) {
	for a := Phone(1); a < phones; a++ {
		for b := Phone(1); b < phones; b++ {
			m[a][b] = distance(a, b)
		}
	}
	for pair, c := range near {
		m[pair[0]][pair[1]], m[pair[1]][pair[0]] = c, c
	}
	return m
}()

func distance(a, b Phone) float64 {
	if a == b {
		return 0
	}
	va, aIsVowel := vowels[a]
	vb, bIsVowel := vowels[b]
	if aIsVowel != bIsVowel {
		return 1
	}
	if aIsVowel {
		d := func(x, y float64) float64 { return math.Abs(x - y) }
		c := 0.35*(d(va.height, vb.height)+d(va.height2, vb.height2)) + 0.3*(d(va.back, vb.back)+d(va.back2, vb.back2)) + 0.12*d(va.round, vb.round)
		return min(1, 0.05+c)
	}
	ca, cb := consonants[a], consonants[b]
	c := min(placeMost, placeStep*math.Abs(ca.place-cb.place))
	if ca.voiced != cb.voiced {
		c += voicing
	}
	if ca.manner != cb.manner {
		k := [2]manner{min(ca.manner, cb.manner), max(ca.manner, cb.manner)}
		if mc, ok := mannerCost[k]; ok {
			c += mc
		} else {
			c += otherManor
		}
	}
	return min(1, c)
}

// substitute is the cost of hearing h where p is expected; final says p ends
// its word, where voicing is weak.
func substitute(p, h Phone, final bool) float64 {
	a, b := p.Plain(), h.Plain()
	c := sub[a][b]
	if a != b && a.vowel() && b.vowel() && (p|h)&reduced != 0 {
		c *= 0.6
	}
	if final && c > 0 && !a.vowel() && !b.vowel() && consonants[a].voiced != consonants[b].voiced {
		c = max(0.03, c-voicing*0.7)
	}
	return c
}

// drop is the cost of not hearing p at all, which is also how much p weighs in
// its phrase.
func drop(p Phone, final bool) float64 {
	switch p.Plain() {
	case HH:
		return 0.35
	case Y, W:
		return 0.6
	case R:
		return 0.6
	case T, D, N, L, V, DH:
		if final {
			return 0.6
		}
		return 0.9
	case S, Z:
		if final {
			return 0.5 // plurals come and go: "flap", "flaps"
		}
		return 1
	}
	if p&reduced != 0 {
		return 0.5
	}
	return 1
}

// add is the cost of hearing h where nothing is expected.
func add(h Phone) float64 { return 0.8 * drop(h, true) }

// The same as tables, by phoneme with its reduced bit, for the inner loop.
const codes = 128

type costRow [codes]float32

// Where a phoneme sits in its word.
const (
	inner = iota
	final
	onset
	places
)

// unit is how many whole units make a cost of 1.
const unit = 1 << 10

// onsetStress weighs the consonant a word starts with, by which it is known
// more than by the rest.
const onsetStress = 1.7

var (
	subTable  [places][codes]costRow
	dropTable [places][codes]float32
	addTable  [codes]float32
	// In whole units, rounded down.
	subUnits  [places][codes][codes]int32
	dropUnits [places][codes]int32
	// nearest groups the plain phonemes by what they cost in place of one.
	nearest [places][codes]tiers
)

// tiers are the other phonemes that may be heard in place of one, stressed or not, in
// groups that cost at least so much, in whole units; the last cost is that of all
// others and of hearing nothing.
type tiers struct {
	like [3]uint64
	cost [4]int32
}

// tierEdges are the costs below which the phonemes of each group lie.
var tierEdges = [3]float32{0.15, 0.3, 0.5}

func init() {
	for p := Phone(0); p < codes; p++ {
		if !p.valid() {
			continue
		}
		addTable[p] = float32(add(p))
		for f := range places {
			dropTable[f][p] = float32(drop(p, f == final))
			for h := Phone(0); h < codes; h++ {
				if h.valid() {
					subTable[f][p][h] = float32(substitute(p, h, f == final))
					if f == onset && !p.vowel() && p.Plain() != HH {
						subTable[f][p][h] = min(1.2, onsetStress*subTable[f][p][h])
					}
				}
			}
		}
	}
}

func init() {
	for place := range places {
		for p := Phone(0); p < codes; p++ {
			if !p.valid() {
				continue
			}
			dropUnits[place][p] = int32(dropTable[place][p] * unit)
			for h := range subTable[place][p] {
				subUnits[place][p][h] = int32(subTable[place][p][h] * unit)
			}
			nearest[place][p] = groups(Phone(p), place)
		}
	}
}

func groups(p Phone, place int) tiers {
	var t tiers
	for k := range t.cost {
		t.cost[k] = dropUnits[place][p]
	}
	for h := Phone(1); h < phones; h++ {
		if h == p.Plain() {
			continue
		}
		c := subTable[place][p][h]
		if h.vowel() {
			c = min(c, subTable[place][p][h|reduced])
		}
		k := 0
		for k < len(tierEdges) && c >= tierEdges[k] {
			k++
		}
		if k < len(t.like) {
			t.like[k] |= 1 << h
		}
		t.cost[k] = min(t.cost[k], int32(c*unit))
	}
	// Where a cheaper group is heard, the dearer ones do not count; where hearing
	// nothing is cheaper than a group, that is its cost.
	return t
}

func (p Phone) valid() bool { return p.Plain() > 0 && p.Plain() < phones }
