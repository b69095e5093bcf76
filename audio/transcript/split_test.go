package transcript_test

import (
	"fmt"
	"strings"
	"testing"

	"sidetone/audio/transcript"
)

func TestAnUtteranceIsPartedAtItsPauses(t *testing.T) {
	word := func(text string, start, end float64) transcript.Word {
		return transcript.Word{Text: text, Start: start, End: end}
	}
	for name, c := range map[string]struct {
		words []transcript.Word
		want  string
	}{
		"none stays whole":                        {nil, "10.0-20.0:"},
		"without a pause it stays whole":          {[]transcript.Word{word("Carb", 11, 11.3), word("heat", 11.4, 11.6), word("on", 11.9, 12)}, "10.0-20.0: Carb heat on"},
		"a pause of the length asked for parts":   {[]transcript.Word{word("Flaps", 11, 11.5), word("up", 12, 12.5)}, "10.0-11.5: Flaps | 12.0-20.0: up"},
		"two pauses make three":                   {[]transcript.Word{word("Flaps", 11, 11.5), word("up", 13, 13.5), word("now", 15, 16)}, "10.0-11.5: Flaps | 13.0-13.5: up | 15.0-20.0: now"},
		"words whose times overlap stay together": {[]transcript.Word{word("Flaps", 11, 13), word("up", 12, 12.5)}, "10.0-20.0: Flaps up"},
	} {
		t.Run(name, func(t *testing.T) {
			var texts []string
			for _, w := range c.words {
				texts = append(texts, w.Text)
			}
			u := transcript.Utterance{Start: 10, End: 20, Words: c.words, Text: strings.Join(texts, " ")}
			var got []string
			for _, p := range u.Split(0.5) {
				got = append(got, strings.TrimSpace(fmt.Sprintf("%.1f-%.1f: %s", p.Start, p.End, p.Text)))
			}
			if s := strings.Join(got, " | "); s != c.want {
				t.Errorf("got %q, want %q", s, c.want)
			}
		})
	}
}
