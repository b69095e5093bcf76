// Package expect tells a recogniser what the lexicon listens for: neither room
// knows the other.
package expect

import (
	"sidetone/audio/recognise"
	"sidetone/audio/recognise/phones"
	"sidetone/callouts"
	"sidetone/callouts/sound"
)

// Phrases lists what is listened for.
func Phrases(l *callouts.Lexicon) ([]recognise.Phrase, error) {
	expected, err := l.Expected()
	if err != nil {
		return nil, err
	}
	phrases := make([]recognise.Phrase, len(expected))
	for i, e := range expected {
		phrases[i] = recognise.Phrase{Text: e.Phrase, Odds: e.Odds, Means: e.Means}
	}
	return phrases, nil
}

// Say gives the phonemes of a word.
func Say(word string) []phones.Phone {
	said := sound.Say(word)
	out := make([]phones.Phone, len(said))
	for i, p := range said {
		out[i] = phones.Phone(p.Plain())
	}
	return out
}
