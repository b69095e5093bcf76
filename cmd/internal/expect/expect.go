// Package expect tells a recogniser what the lexicon listens for: neither room
// knows the other.
package expect

import (
	"sidetone/audio/recognise"
	"sidetone/callouts"
)

// Phrases lists what is listened for.
func Phrases(l *callouts.Lexicon) ([]recognise.Phrase, error) {
	expected, err := l.Expected()
	if err != nil {
		return nil, err
	}
	phrases := make([]recognise.Phrase, len(expected))
	for i, e := range expected {
		phrases[i] = recognise.Phrase{Text: e.Phrase, Odds: e.Odds}
	}
	return phrases, nil
}
