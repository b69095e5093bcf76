// Package expect tells a recogniser what the lexicon listens for: neither room
// knows the other.
package expect

import (
	"strings"
	"sync"

	"sidetone/audio/recognise"
	"sidetone/audio/recognise/onnx"
	"sidetone/audio/recognise/phones"
	"sidetone/audio/recognise/talk"
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

// Listening is how the embedded recogniser is opened to listen for a lexicon, a core
// to a segment.
func Listening(l *callouts.Lexicon) (onnx.Options, error) {
	phrases, err := Phrases(l)
	return onnx.Options{Threads: 1, Phrases: phrases, Say: Say, Talk: Talk(), Spoken: callouts.SpokenWays}, err
}

// Talk is how people talk in a cockpit.
var Talk = sync.OnceValue(func() *talk.Vocabulary {
	return talk.NewVocabulary(talk.English(), func(w string) [][]phones.Phone {
		ways, _ := Say(w)
		return ways
	})
})

// Say gives the phonemes of a word in the ways it may have been said, and whether it
// is one.
func Say(word string) (ways [][]phones.Phone, known bool) {
	texts := callouts.SaidAs(word)
	for _, text := range texts {
		var sounds []phones.Phone
		for w := range strings.FieldsSeq(text) {
			for _, p := range sound.Say(w) {
				sounds = append(sounds, phones.Phone(p.Plain()))
			}
		}
		ways = append(ways, sounds)
	}
	return ways, len(texts) > 1 || texts[0] != word || sound.Known(word)
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
