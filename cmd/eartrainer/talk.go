package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/goccy/go-yaml"
)

// tuning are files of sentences that may be learnt from, as earscore reads them.
var tuning = []string{"testdata/wordings.yaml", "testdata/stances-tuning.yaml"}

// talk gives the sentences of files of the project's folder, in small letters without marks; those with
// figures that are not spelt out are left out.
func talk(project string, files []string) ([]string, error) {
	var out []string
	for _, name := range files {
		b, err := os.ReadFile(filepath.Join(project, name))
		if err != nil {
			return nil, fmt.Errorf("%w (run it in the project's folder)", err)
		}
		var f struct {
			Sentences []struct{ Say string }
		}
		if err := yaml.Unmarshal(b, &f); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		for _, s := range f.Sentences {
			if text, ok := plain(s.Say); ok {
				out = append(out, text)
			}
		}
	}
	return out, nil
}

// plain is a sentence in small letters and apostrophes, if it can be.
func plain(s string) (string, bool) {
	s = strings.Map(func(r rune) rune {
		if strings.ContainsRune(".,?!;:-\"()", r) {
			return ' '
		}
		return r
	}, strings.ToLower(s))
	s = strings.Join(strings.Fields(s), " ")
	return s, s != "" && strings.Trim(s, "abcdefghijklmnopqrstuvwxyz' ") == ""
}
