package lesson

import (
	"slices"

	"sidetone/callouts"
	"sidetone/rules"
)

// Truth is the sheet beside the recording. Times are seconds of the recording.
type Truth struct {
	Title     string           `json:"title"`
	Duration  float64          `json:"duration"`
	Lines     []SpokenLine     `json:"lines"`
	Calls     []SpokenCall     `json:"calls"`
	Maneuvers []FlownProcedure `json:"maneuvers"`
}

// SpokenLine is what somebody said in one go. Channel is the one it is heard
// on, -1 for all of them.
type SpokenLine struct {
	Start   float64      `json:"start"`
	End     float64      `json:"end"`
	Speaker string       `json:"speaker"`
	Voice   string       `json:"voice"`
	Channel int          `json:"channel"`
	Text    string       `json:"text"`
	Words   []SpokenWord `json:"words"`
}

// SpokenWord is a word of a line as written in the script.
type SpokenWord struct {
	Text  string  `json:"text"`
	Start float64 `json:"start"`
	End   float64 `json:"end"`
}

// SpokenCall is a call marked in the script. Words that may fairly be taken for
// another call as well name it in Or; Perhaps marks words a listener may take for a
// call or not: neither is a fault.
type SpokenCall struct {
	ID      string          `json:"id"`
	Or      []string        `json:"or,omitempty"`
	Perhaps bool            `json:"perhaps,omitempty"`
	Start   float64         `json:"start"`
	End     float64         `json:"end"`
	Speaker string          `json:"speaker"`
	Voice   string          `json:"voice"`
	Stance  callouts.Stance `json:"stance"`
	Value   *float64        `json:"value"`
	// Prompted is a call done right after another ordered it.
	Prompted bool `json:"prompted,omitempty"`
}

// FlownProcedure is a maneuver flown, and what a listener should say of its
// steps: not-applicable is an optional one that was not called.
type FlownProcedure struct {
	Procedure string                   `json:"procedure"`
	Start     float64                  `json:"start"`
	End       float64                  `json:"end"`
	Voice     string                   `json:"voice"` // of whoever makes most of its calls
	Verdicts  map[string]rules.Verdict `json:"verdicts"`
}

// Is tells whether a call may be taken for the callout named.
func (c SpokenCall) Is(id string) bool { return c.ID == id || slices.Contains(c.Or, id) }
