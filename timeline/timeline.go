// Package timeline puts one lesson together: the words, the calls, the
// maneuvers found and what was judged of them. It is pure data with one
// versioned JSON form and knows nothing of how it is drawn.
package timeline

import (
	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/rules"
)

// Version is the version of the JSON form.
const Version = 1

// Span is a stretch of the recording, in seconds.
type Span struct {
	From float64 `json:"from"`
	To   float64 `json:"to"`
}

// Timeline is one lesson, whole. Judged is the stretch the user asked to judge,
// nil for all of it. Times are seconds from the start of the recording.
type Timeline struct {
	Version    int                    `json:"version"`
	Recording  Recording              `json:"recording"`
	Transcript []transcript.Utterance `json:"transcript"`
	Calls      []callouts.Call        `json:"calls"`
	Judged     *Span                  `json:"judged"`
	Maneuvers  []rules.Assessment     `json:"maneuvers"`

	// Notes are things said to the user about the recording itself (truncated,
	// channels merged, nothing recognised). They are shown, not exported.
	Notes []string `json:"-"`
}
