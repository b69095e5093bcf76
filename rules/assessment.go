// Package rules holds calls against an ordered procedure and says, step by
// step, what was heard, what was not, and what came early, late, out of order
// or with the wrong value.
//
// It knows nothing of audio, files or screens. It hears calls, it does not see
// hands: a missing call is "not heard", never "not done".
package rules

// Verdict is what the judge says of one step.
type Verdict string

// The verdicts of version 1 of the JSON.
const (
	Heard         Verdict = "heard"
	NotHeard      Verdict = "not-heard"
	OutOfOrder    Verdict = "out-of-order"
	Late          Verdict = "late"
	OffValue      Verdict = "off-value"
	Unsure        Verdict = "unsure"
	NotApplicable Verdict = "not-applicable"
)

// Waiver says why a step is not asked for.
type Waiver string

// The reasons of verdict NotApplicable.
const (
	OtherAircraft Waiver = "aircraft"    // it is for other aircraft
	NotRequired   Waiver = "optional"    // it need not be called, and was not heard
	OneIsEnough   Waiver = "alternative" // it is one of several of which one is needed
	NotReached    Waiver = "abandoned"   // the attempt was given up before it
)

// Severity says how much a finding matters.
type Severity string

// Severities, least first.
const (
	Note      Severity = "note"      // worth knowing
	Important Severity = "important" // work on it
	Safety    Severity = "safety"    // talk about it before the next flight
)

// StepResult is the verdict on one step. At is the second of the recording
// where the call starts, nil when no call was matched; Call indexes the lesson's
// calls, nil likewise. Waived is why a step is not asked for, "" for one that is
// or that was heard. Reason is one sentence a student understands.
type StepResult struct {
	ID         string   `json:"id"`
	Title      string   `json:"title"`
	Verdict    Verdict  `json:"verdict"`
	Waived     Waiver   `json:"waived"`
	Prompted   bool     `json:"prompted"`
	At         *float64 `json:"at"`
	Call       *int     `json:"call"`
	Value      *float64 `json:"value"`
	Confidence float64  `json:"confidence"`
	Reason     string   `json:"reason"`
	// Person is who decided the verdict in place of the machine, nil for the machine's own.
	Person *Person `json:"person,omitempty"`
	due    *due    // when a call that was not heard should have come
	// inPlace says of an unsure step that nothing is wrong with it if its call was made.
	inPlace bool
	hinted  float64 // probability that a hint is at its call
}

// Hinted is the probability that its call, which was not heard, is what a hint is at; 0
// for none.
func (r *StepResult) Hinted() float64 { return r.hinted }

// Person is what a person decided of a step.
type Person struct {
	Author string `json:"author"`
	How    How    `json:"how"`
	// Was is the verdict of the machine alone, "" where it did not find the maneuver.
	Was    Verdict `json:"was"`
	Reason string  `json:"reason"` // in the person's words, "" for an added call
	// At is the second to listen to of what the machine found wrong; nil where it found
	// nothing.
	At *float64 `json:"at"`
}

// How says by what a person decided.
type How string

// The ways to decide.
const (
	Overruled How = "overruled" // they gave a verdict of their own
	Added     How = "added"     // they added the call the step rests on
)

// Finding is one thing to talk about. Step is the id of a step, hold or never.
// Kind is a verdict, or "corrected" (a figure the speaker put right in the same
// breath); a call made where it must never be is "out-of-order". At is the second to listen
// to: the call itself, or for a call not heard the moment it was due.
type Finding struct {
	Step      string   `json:"step"`
	Kind      string   `json:"kind"`
	Severity  Severity `json:"severity"`
	At        *float64 `json:"at"`
	Message   string   `json:"message"`
	Reference string   `json:"reference"`
}

// Abandonment says that an attempt was given up: at which second of the
// recording, and in one sentence what tells so.
type Abandonment struct {
	At     float64 `json:"at"`
	Reason string  `json:"reason"`
}

// Assessment is a procedure held against a stretch of calls. Start and End are
// seconds of the recording; Phases gives, for each step, the phase it is in.
// Abandoned is nil for an attempt that was flown to its end. Remarks are sentences
// about the attempt as a whole and how it was judged.
type Assessment struct {
	Procedure string       `json:"procedure"`
	Title     string       `json:"title"`
	Start     float64      `json:"start"`
	End       float64      `json:"end"`
	Abandoned *Abandonment `json:"abandoned"`
	Steps     []StepResult `json:"steps"`
	Findings  []Finding    `json:"findings"`
	Remarks   []string     `json:"remarks"`

	// Phases names the phase of each step, for display.
	Phases []string `json:"-"`
	// Reactions are the times from cue to last step of the phases that are flown
	// on a cue that was heard. The reasons of those steps say them too.
	Reactions []Reaction `json:"-"`
	// Cost is what the judge paid for the best explanation; less is better.
	Cost float64 `json:"-"`
}
