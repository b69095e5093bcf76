package callouts

import (
	"math/rand/v2"
	"strings"
	"testing"

	"sidetone/audio/transcript"
)

// lesson is a transcript of n words: talk, with a call every ten seconds or so.
func lesson(n int) *transcript.Transcript {
	talk := strings.Fields(`so what we are looking for here is a nice steady picture out of the front and
		you can see how the horizon sits a little higher than before that is normal do not chase it keep your
		feet alive on the pedals and look outside the wind is from the west today about twelve or so and there is
		some traffic over the lake which we will watch as we come around now tell me how the controls feel`)
	calls := []string{"Carb heat on.", "Power back to seventeen hundred.", "Flaps ten.", "Airspeed six five knots.", "Trim set.", "Heading two seven zero.", "Carved heed on.", "Full power.", "Level 3,500 feet."}
	rng := rand.New(rand.NewPCG(1, 2))
	t := &transcript.Transcript{}
	at, count := 0.0, 0
	for count < n {
		var words []string
		if rng.IntN(3) == 0 {
			words = strings.Fields(calls[rng.IntN(len(calls))])
		} else {
			from := rng.IntN(len(talk) - 20)
			words = append(words, talk[from:from+8+rng.IntN(12)]...)
			rng.Shuffle(len(words), func(i, j int) { words[i], words[j] = words[j], words[i] })
		}
		u := transcript.Utterance{Start: at, Text: strings.Join(words, " ")}
		for _, w := range words {
			u.Words = append(u.Words, transcript.Word{Text: w, Start: at, End: at + 0.25, Confidence: 0.9})
			at += 0.3
		}
		u.End = at
		at += 1.5
		count += len(words)
		t.Utterances = append(t.Utterances, u)
	}
	return t
}

func BenchmarkFind20000Words(b *testing.B) {
	lex, err := Builtin()
	if err != nil {
		b.Fatal(err)
	}
	f, err := NewFinder(lex)
	if err != nil {
		b.Fatal(err)
	}
	t := lesson(20000)
	b.ReportAllocs()
	for b.Loop() {
		if len(f.Find(t)) == 0 {
			b.Fatal("no calls")
		}
	}
}

func BenchmarkNewFinder(b *testing.B) {
	lex, err := Builtin()
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := NewFinder(lex); err != nil {
			b.Fatal(err)
		}
	}
}
