package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"sidetone/cmd/internal/lesson"
)

// tuning are files of sentences that may be learnt from, as earscore reads them.
var tuning = []string{"testdata/wordings.yaml", "testdata/stances-tuning.yaml"}

// talk gives the sentences of files of the project's folder, in small letters without marks; those with
// figures that are not spelt out are left out.
func talk(project string, files []string) ([]string, error) {
	var out []string
	for _, name := range files {
		all, err := lesson.ReadSentences(filepath.Join(project, name))
		if err != nil {
			return nil, fmt.Errorf("%w (run it in the project's folder)", err)
		}
		for _, s := range all {
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
