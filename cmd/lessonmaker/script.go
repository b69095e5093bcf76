package main

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml"
)

// script is a lesson as written: who says what, in order.
//
// In the text of a line, {carb-heat-on: carb heat on} marks a call made,
// {flaps=20: flaps twenty} one with a figure, and {carb-heat-on!ordered: give me
// carb heat} one with another stance than done.
type script struct {
	Title    string            `yaml:"title"`
	Seed     uint64            `yaml:"seed"`
	SNR      float64           `yaml:"snr"`      // dB, speech against engine noise within the voice band
	Narrow   bool              `yaml:"narrow"`   // intercom bandwidth, about 300 to 3400 Hz
	Channels int               `yaml:"channels"` // 1, or 2: the first two voices left and right
	Voices   map[string]string `yaml:"voices"`   // speaker: flite voice
	Seats    []string          `yaml:"seats"`    // with two channels, the speaker of each
	Lines    []line            `yaml:"lines"`
}

type line struct {
	Who   string  `yaml:"who"`
	Say   string  `yaml:"say"`
	Pause float64 `yaml:"pause"` // seconds of nobody speaking before the line; 0 is 0.9
	Gain  float64 `yaml:"gain"`  // dB against the speaker's usual level
}

// mark is a call within the words of a line: words[From:To].
type mark struct {
	ID       string
	Value    *float64
	Stance   string
	From, To int
}

func parseScript(file string, b []byte) (*script, error) {
	s := &script{SNR: 20, Channels: 1}
	if err := yaml.UnmarshalWithOptions(b, s, yaml.Strict()); err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	for i, l := range s.Lines {
		if s.Voices[l.Who] == "" {
			return nil, fmt.Errorf("%s: line %d (%q): no voice for %q", file, i+1, l.Say, l.Who)
		}
		if _, _, err := parseLine(l.Say); err != nil {
			return nil, fmt.Errorf("%s: line %d: %w", file, i+1, err)
		}
	}
	if s.Channels == 2 && len(s.Seats) != 2 {
		return nil, fmt.Errorf("%s: two channels need two seats", file)
	}
	return s, nil
}

var marked = regexp.MustCompile(`\{([a-z-]+)(?:=([0-9.]+))?(?:!([a-z-]+))?:\s*([^}]*)\}`)

// parseLine separates the words to say from the calls marked in them.
func parseLine(text string) (words []string, marks []mark, err error) {
	for len(text) > 0 {
		at := marked.FindStringSubmatchIndex(text)
		if at == nil {
			if strings.ContainsAny(text, "{}") {
				return nil, nil, fmt.Errorf("a mark is not of the form {id=value!stance: words}: %q", text)
			}
			return append(words, strings.Fields(text)...), marks, nil
		}
		group := func(i int) string {
			if at[2*i] < 0 {
				return ""
			}
			return text[at[2*i]:at[2*i+1]]
		}
		words = append(words, strings.Fields(text[:at[0]])...)
		m := mark{ID: group(1), Stance: group(3), From: len(words)}
		if m.Stance == "" {
			m.Stance = "done"
		}
		if v := group(2); v != "" {
			f, err := strconv.ParseFloat(v, 64)
			if err != nil {
				return nil, nil, fmt.Errorf("figure %q: %w", v, err)
			}
			m.Value = &f
		}
		words = append(words, strings.Fields(group(4))...)
		rest := text[at[1]:]
		// Punctuation right behind a mark belongs to its last word.
		if n := strings.IndexFunc(rest, func(r rune) bool { return !strings.ContainsRune(".,?!;:", r) }); n != 0 {
			if n < 0 {
				n = len(rest)
			}
			if len(words) > 0 {
				words[len(words)-1] += rest[:n]
			}
			rest = rest[n:]
		}
		m.To = len(words)
		marks = append(marks, m)
		text = rest
	}
	return words, marks, nil
}
