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

// Say gives the phonemes of a word, and whether it is one.
func Say(word string) (sounds []phones.Phone, known bool) {
	said := sound.Say(word)
	sounds = make([]phones.Phone, len(said))
	for i, p := range said {
		sounds[i] = phones.Phone(p.Plain())
	}
	return sounds, sound.Known(word)
}
