package lesson

import (
	"fmt"
	"os"

	"github.com/goccy/go-yaml"

	"sidetone/callouts"
)

// Sentence is one line of a file of sentences (testdata/stances.yaml): a call in a
// sentence, its figure where that is to be measured, and what the speaker does with it.
// Without an id it is talk in which nothing is called.
type Sentence struct {
	Say    string          `yaml:"say"`
	ID     string          `yaml:"id"`
	Value  *float64        `yaml:"value"`
	Stance callouts.Stance `yaml:"stance"`
}

// ReadSentences reads files of sentences, in order.
func ReadSentences(files ...string) ([]Sentence, error) {
	var out []Sentence
	for _, file := range files {
		b, err := os.ReadFile(file)
		if err != nil {
			return nil, err
		}
		var all struct {
			Sentences []Sentence `yaml:"sentences"`
		}
		if err := yaml.UnmarshalWithOptions(b, &all, yaml.Strict()); err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		out = append(out, all.Sentences...)
	}
	return out, nil
}
