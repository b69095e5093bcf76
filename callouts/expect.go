package callouts

import (
	"math"
	"slices"
	"strings"
)

// Expectation is a phrase as it is said, in small letters. Odds, in nats, is how
// much less likely it is than the plainest of calls: 0 or less.
type Expectation struct {
	Phrase string
	Odds   float64
	Means  string // the callout and its figure, or the thing: phrases that mean the same have the same
}

// otherWay is the odds of a way to say a call that is not the first listed.
const otherWay = -1.0

// onlyNamed is the odds of what is named within a sentence.
const onlyNamed = -2.0

// Expected lists the phrases of the lexicon as they are said, every choice made
// and every figure spoken out, for a recogniser to listen for. Each once. A
// figure is one of many, so a phrase with one is that much less likely.
func (l *Lexicon) Expected() ([]Expectation, error) {
	at := map[string]int{}
	var out []Expectation
	add := func(means string, odds float64, words ...string) {
		s := strings.ToLower(strings.Join(words, " "))
		if i, ok := at[s]; ok {
			out[i].Odds = max(out[i].Odds, odds)
			return
		}
		at[s] = len(out)
		out = append(out, Expectation{s, odds, means})
	}
	for _, c := range l.Callouts {
		for i, s := range slices.Concat(c.Say, c.Order) {
			ways, err := compilePhrase(s, c.Quantity)
			if err != nil {
				return nil, err
			}
			for j, w := range ways {
				odds := 0.0
				if i+j > 0 {
					odds = otherWay
				}
				if !w.slot {
					add(c.ID, odds, w.pre...)
					continue
				}
				figures := SpokenFigures(c.Quantity)
				odds -= math.Log(float64(len(figures)))
				for _, figure := range figures {
					add(c.ID+"="+figure, odds, slices.Concat(w.pre, []string{figure}, w.post)...)
				}
			}
		}
	}
	things, err := l.named()
	if err != nil {
		return nil, err
	}
	for _, t := range things {
		add("the "+t, onlyNamed, t)
	}
	for i := range l.Callouts {
		c := &l.Callouts[i]
		if err := toldActs(c, func(odds float64, words ...string) {
			if sounds(strings.Join(words, " ")) >= leastTold {
				add(c.ID, odds, words...)
			}
		}); err != nil {
			return nil, err
		}
		err := speltOut(c, func(odds float64, figure string, words ...string) {
			if figure != "" {
				add(c.ID+"="+figure, odds, words...)
				return
			}
			add(c.ID, odds, words...)
		})
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// SpokenFigures lists how the figures a lesson may hold are said: AIM 4-2-8 to
// 4-2-11, and the group form pilots use beside it.
func SpokenFigures(q Quantity) []string {
	var out []string
	switch q {
	case Altitude:
		for h := 5; h <= 120; h++ {
			out = append(out, thousands(h))
			if h >= 11 && h%10 != 0 && h < 100 {
				out = append(out, pair(h)+" hundred")
			}
		}
	case Heading:
		for d := 5; d <= 360; d += 5 {
			out = append(out, digits(d, 3))
		}
	case Airspeed:
		for k := 40; k <= 140; k++ {
			out = append(out, digits(k, 2), below1000(k))
		}
	case RPM:
		for h := 6; h <= 27; h++ {
			if h%10 != 0 {
				out = append(out, pair(h)+" hundred", pair(h)+" fifty")
			}
			if h >= 10 {
				out = append(out, thousands(h))
			}
		}
	case Flaps:
		for _, d := range []int{10, 15, 20, 25, 30, 35, 40} {
			out = append(out, pair(d))
		}
		out = append(out, "zero")
	case Bank:
		for d := 10; d <= 60; d += 5 {
			out = append(out, pair(d))
		}
	case Count: // inches of manifold pressure
		for n := 10; n <= 30; n++ {
			out = append(out, pair(n), digits(n, 2))
		}
	}
	return out
}

var (
	ones = strings.Fields("zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen")
	tens = strings.Fields("zero ten twenty thirty forty fifty sixty seventy eighty ninety")
)

// pair says a number below 100 as one: "twenty five".
func pair(n int) string {
	switch {
	case n < 20:
		return ones[n]
	case n%10 == 0:
		return tens[n/10]
	}
	return tens[n/10] + " " + ones[n%10]
}

func below1000(n int) string {
	if n < 100 {
		return pair(n)
	}
	if n%100 == 0 {
		return ones[n/100] + " hundred"
	}
	if n%100 < 10 {
		return ones[n/100] + " oh " + ones[n%10]
	}
	return ones[n/100] + " " + pair(n%100)
}

// digits says each digit by itself.
func digits(n, width int) string {
	var words []string
	for range width {
		words = append(words, ones[n%10])
		n /= 10
	}
	for n > 0 {
		words = append(words, ones[n%10])
		n /= 10
	}
	slices.Reverse(words)
	return strings.Join(words, " ")
}

// thousands says an altitude given in hundreds of feet.
func thousands(h int) string {
	var words []string
	switch t := h / 10; {
	case t >= 10:
		words = append(words, digits(t, 2), "thousand")
	case t > 0:
		words = append(words, ones[t], "thousand")
	}
	if h%10 > 0 {
		words = append(words, ones[h%10], "hundred")
	}
	return strings.Join(words, " ")
}
