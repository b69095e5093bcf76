// Package expect tells a recogniser what the lexicon listens for: neither room
// knows the other.
package expect

import (
	"strings"

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

// mostPrompt is how long a prompt may be, in bytes: recognisers of this kind heed the
// last 224 tokens (OpenAI's "Speech to text" guide), of about four letters each.
const mostPrompt = 850

// Prompt is what a recogniser elsewhere is told to expect, and how many phrases that
// is: the plainest way to say each call, as many as there is room for.
func Prompt(l *callouts.Lexicon) (string, int, error) {
	expected, err := l.Expected()
	if err != nil {
		return "", 0, err
	}
	best := map[string]callouts.Expectation{}
	var order []string
	for _, e := range expected {
		call, _, _ := strings.Cut(e.Means, "=")
		b, ok := best[call]
		if !ok {
			order = append(order, call)
		}
		if !ok || e.Odds > b.Odds {
			best[call] = e
		}
	}
	prompt, n := "Callouts in a light airplane:", 0
	for _, call := range order {
		next := " " + best[call].Phrase + ","
		if len(prompt)+len(next) > mostPrompt {
			continue
		}
		prompt += next
		n++
	}
	return strings.TrimSuffix(prompt, ",") + ".", n, nil
}
