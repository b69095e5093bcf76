// Package figures reads the figures pilots speak.
//
// The same number is said in many ways: digit by digit ("two seven zero", FAA
// AIM 4-2-8 to 4-2-11), in round numbers ("four thousand five hundred"), in
// group form ("thirty-five eighty", "seventeen hundred", FAA Order JO 7110.65
// 2-4-17), and a recogniser may write any of them as words or as digits
// ("3,500", "2-7-0", "27 0"). The package returns every reading that fits with
// the words it rests on and how plausible it is; what was expected decides.
package figures

import "math"

// Quantity is what a figure measures; the names and units are those of
// callouts.Quantity. "" means the words do not say.
type Quantity string

// The quantities figures are read as.
const (
	Altitude  Quantity = "altitude"  // ft
	Heading   Quantity = "heading"   // degrees, 1..360
	Airspeed  Quantity = "airspeed"  // kt
	RPM       Quantity = "rpm"       // 1/min
	Flaps     Quantity = "flaps"     // degrees
	Bank      Quantity = "bank"      // degrees
	Frequency Quantity = "frequency" // MHz
	Duration  Quantity = "duration"  // s
	Count     Quantity = "count"     // a bare number
)

// plausible weighs a value as a quantity, 0 for what cannot be meant and 1 for
// what pilots commonly say. The bounds are those of light aeroplanes (common
// practice, no source) except headings (AIM 4-2-10) and the VHF air band
// (118 to 137 MHz with the navigation band from 108, from memory of ICAO Annex
// 10).
func plausible(q Quantity, v float64) float64 {
	whole := v == math.Trunc(v)
	multiple := func(n float64) bool { return math.Mod(v, n) == 0 }
	within := func(lo, hi float64) bool { return lo <= v && v <= hi }
	switch q {
	case Heading:
		if !whole || !within(0, 360) {
			return 0
		}
		return 1
	case Flaps:
		switch {
		case !whole || !within(0, 50):
			return 0
		case multiple(5):
			return 1
		}
		return 0.3
	case Airspeed:
		if !whole || !within(20, 250) {
			return 0
		}
		return 1
	case RPM:
		switch {
		case !whole || !within(500, 3000):
			return 0
		case multiple(50):
			return 1
		}
		return 0.5
	case Altitude:
		switch {
		case !whole || !within(0, 60000):
			return 0
		case v < 100:
			return 0.1
		case multiple(100):
			return 1
		case multiple(10):
			return 0.7
		}
		return 0.3
	case Bank:
		switch {
		case !whole || !within(0, 90):
			return 0
		case multiple(5):
			return 1
		}
		return 0.5
	case Frequency:
		switch {
		case within(118, 137):
			return 1
		case within(108, 118):
			return 0.7
		}
		return 0
	case Duration:
		if v < 0 || v > 3600 {
			return 0
		}
		return 1
	}
	return 1
}
