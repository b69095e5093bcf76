// Package callouts finds the calls of the trade in the words of a lesson.
//
// It knows what a call sounds like and what figures mean, and nothing of the
// order calls belong in or the tolerances they are held to: that is rules.
package callouts

import "sidetone/callouts/stance"

// Stance says what a speaker does with the words of a call.
type Stance = stance.Stance

// Only Done satisfies a step of a procedure; Ordered followed by the same call
// Done makes the step prompted.
const (
	Done        = stance.Done        // "carb heat on"
	Ordered     = stance.Ordered     // "give me carb heat"
	Asked       = stance.Asked       // "is the carb heat on?"
	Announced   = stance.Announced   // "in a moment we'll add carb heat"
	Denied      = stance.Denied      // "don't trim yet"
	TalkedAbout = stance.TalkedAbout // "last time you forgot the flaps"
)

// Quantity is what a spoken figure measures.
type Quantity string

// The quantities a slot of a phrase may ask for. The unit is fixed per quantity.
const (
	Altitude  Quantity = "altitude"  // ft
	Heading   Quantity = "heading"   // degrees magnetic, 1..360
	Airspeed  Quantity = "airspeed"  // kt
	RPM       Quantity = "rpm"       // 1/min
	Flaps     Quantity = "flaps"     // degrees, 0 is up
	Bank      Quantity = "bank"      // degrees
	Frequency Quantity = "frequency" // MHz
	Duration  Quantity = "duration"  // s
	Count     Quantity = "count"     // a bare number
)

// Unit is the unit a quantity's value is in, as written in the JSON.
func (q Quantity) Unit() string {
	switch q {
	case Altitude:
		return "ft"
	case Heading, Flaps, Bank:
		return "deg"
	case Airspeed:
		return "kt"
	case RPM:
		return "rpm"
	case Frequency:
		return "MHz"
	case Duration:
		return "s"
	}
	return ""
}

// Reading is one way to read a spoken figure.
type Reading struct {
	Quantity Quantity
	Value    float64
}

// Call is one callout heard in the lesson. Start and End are seconds from the
// start of the recording; Confidence in [0,1] is the probability that this call
// was made; Heard is the words as they were recognised.
type Call struct {
	ID         string   `json:"id"`
	Start      float64  `json:"start"`
	End        float64  `json:"end"`
	Speaker    string   `json:"speaker"`
	Stance     Stance   `json:"stance"`
	Value      *float64 `json:"value"` // the likeliest reading; nil when the call has no figure
	Unit       string   `json:"unit"`
	Confidence float64  `json:"confidence"`
	Heard      string   `json:"heard"`
	// Estimated says that Start and End are only those of the line the call stands
	// in, shared out among its words.
	Estimated bool `json:"estimated,omitempty"`
	// AddedBy is the person who says that the call was made; "" for one that was heard.
	AddedBy string `json:"added_by,omitempty"`
	// Expected says that its words alone would not tell it: a procedure asks for it there.
	Expected bool `json:"expected,omitempty"`

	// Readings are all the readings of the figure that fit, likeliest first;
	// the step's expectation picks among them.
	Readings []Reading `json:"-"`
	// Corrected is the figure the speaker took back ("flaps thirty,
	// correction, twenty"), nil when nothing was.
	Corrected *float64 `json:"-"`
	// Perhaps marks a call that was not heard but may have been made: see
	// Finder.Perhaps.
	Perhaps bool `json:"-"`
	// Utterance is the index into the transcript's utterances.
	Utterance int `json:"-"`
	// Meant is what the stance rests on.
	Meant stance.Reading `json:"-"`
	named bool           // only its thing was named
	bare  bool           // only its figure was said
}
