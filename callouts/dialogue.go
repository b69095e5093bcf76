package callouts

import (
	"math"
)

// Some calls are worded the same whether they are made or ordered: "and the carb
// heat off". Who says it decides, and whether the other one then does it. What
// the sentence leaves open is settled here, from all that is said.

const (
	// answerWithin is how long after an order the answer comes, in seconds.
	answerWithin = 8.0
	// answeredOdds is how much likelier a call that the other one then makes was an
	// order than that it was made, in nats.
	answeredOdds = 1.2
	// likely is the probability from which a stance is taken as clear.
	likely = 0.8
	// asUsual is how many calls it takes until what a speaker does mostly weighs as
	// much as what speakers do in general: of orders and calls made, a quarter are
	// orders (counted over the examples the weights of stance are fitted to).
	asUsual     = 2.0
	usualOrders = 0.25
	// oftenDone is how much likelier a call is made than the model of stances is fitted
	// for: of the calls of lessons four in five are made, of what it is fitted to two
	// (counted over testdata/lessons/tuning and stances-tuning.yaml).
	oftenDone = 6.0
	// namedDoubt weighs a thing that is only named, as if its call were made: perhaps
	// it was, and the rest was not heard.
	namedDoubt = 0.45
)

// settle gives each call its stance, and takes the doubt about it out of the
// confidence.
func (f *Finder) settle(calls []Call) {
	lean := habits(calls)
	for i := range calls {
		c := &calls[i]
		if c.Stance != "" { // taken back
			continue
		}
		shift := lean[c.Speaker]
		if answered(calls, i) {
			shift += answeredOdds
		}
		m := c.Meant.Toward(Ordered, Done, shift)
		c.Stance, _ = m.Best()
		switch c.Stance {
		case Ordered:
			c.Confidence *= m.Of(Ordered)
		case Done:
			c.Confidence *= inLessons(m.Of(Done))
			if c.named {
				c.Confidence *= namedDoubt
				if c.Confidence < leastBelief { // spoken of rather than done
					c.Confidence, c.Stance = 1-m.Of(Done), TalkedAbout
				}
			}
		}
		c.Meant = m
		if as, ok := f.lexicon.Callouts[f.called[c.ID]].TakenAs[c.Stance]; ok {
			c.Stance = as
		}
	}
}

// inLessons is how likely a call was made that the model of stances, fitted to
// sentences of all stances alike, thinks made with probability p.
func inLessons(p float64) float64 { return p * oftenDone / (p*oftenDone + 1 - p) }

// habits is how much more each known speaker orders than does, in nats, against
// people in general: the outputs of a classifier adjusted to the frequencies of
// whom it listens to (M. Saerens, P. Latinne and C. Decaestecker, "Adjusting the
// Outputs of a Classifier to New a Priori Probabilities: A Simple Procedure",
// Neural Computation 14(1), 2002), counted over the calls whose stance is clear.
func habits(calls []Call) map[string]float64 {
	orders, done := map[string]float64{}, map[string]float64{}
	for i := range calls {
		c := &calls[i]
		if c.Speaker == "" || c.Stance != "" {
			continue
		}
		switch st, p := c.Meant.Best(); {
		case p < likely:
		case st == Ordered:
			orders[c.Speaker]++
		case st == Done:
			done[c.Speaker]++
		}
	}
	lean := map[string]float64{}
	for i := range calls {
		who := calls[i].Speaker
		if who == "" {
			continue
		}
		own := (orders[who] + asUsual*usualOrders) / (done[who] + asUsual*(1-usualOrders))
		lean[who] = math.Log(own / (usualOrders / (1 - usualOrders)))
	}
	return lean
}

// answered tells whether somebody else makes call i right after it.
func answered(calls []Call, i int) bool {
	c := &calls[i]
	if c.Speaker == "" {
		return false
	}
	for k := i + 1; k < len(calls) && calls[k].Start <= c.End+answerWithin; k++ {
		a := &calls[k]
		if a.ID != c.ID || a.Speaker == "" || a.Speaker == c.Speaker || a.Start < c.End {
			continue
		}
		if st, p := a.Meant.Best(); st == Done && p >= 0.5 && (c.Value == nil || a.Value == nil || *a.Value == *c.Value) {
			return true
		}
	}
	return false
}
