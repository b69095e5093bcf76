// Package recognise is how speech becomes words: one interface, whatever listens.
package recognise

import (
	"context"

	"sidetone/audio"
	"sidetone/audio/transcript"
)

// Recogniser turns a segment of speech into words. The utterance's times are
// seconds of the recording, its channel the segment's; it has no words when
// nothing was understood. Recognise may be called by several goroutines at once.
type Recogniser interface {
	Recognise(ctx context.Context, seg audio.Segment) (transcript.Utterance, error)
	Close() error
}

// Phrase is something a lesson is likely to hold, in small letters. Odds, in
// nats, tells how much less likely it is than others: 0 or less.
type Phrase struct {
	Means string // phrases that mean the same have the same; empty: itself
	Text  string
	Odds  float64
}

// Later is a Recogniser that puts segments aside: Recognise gives an utterance
// without words for each of them, and Finish what was understood of them, once all
// have been given. Finish is called once.
type Later interface {
	Recogniser
	Finish(ctx context.Context) ([]transcript.Utterance, error)
}
