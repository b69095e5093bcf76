package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

var (
	commentLine = regexp.MustCompile(`(?m)^//\s?(.*)$`)
	sentenceEnd = regexp.MustCompile(`[.;:()]\s`)
)

// everyday gives English sentences of 3 to 14 words of the dictionary, each
// once: those of the comments in Go's own library, which everybody who builds
// this has. None of them is kept but in the work folder.
func everyday(dictionary []string) ([]string, error) {
	out, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return nil, fmt.Errorf("asking for Go's library: %w", err)
	}
	src := filepath.Join(strings.TrimSpace(string(out)), "src")
	var files []string
	for _, pattern := range []string{"*/*.go", "*/*/*.go"} {
		f, err := filepath.Glob(filepath.Join(src, pattern))
		if err != nil {
			return nil, err
		}
		files = append(files, f...)
	}
	known := map[string]bool{}
	for _, w := range dictionary {
		known[w] = len(w) > 1 || w == "a" || w == "i"
	}
	found := map[string]bool{}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			return nil, err
		}
		for _, s := range englishIn(string(b), known) {
			found[s] = true
		}
	}
	if len(found) == 0 {
		return nil, errors.New("no sentences in " + src)
	}
	sentences := make([]string, 0, len(found))
	for s := range found {
		sentences = append(sentences, s)
	}
	slices.Sort(sentences)
	return sentences, nil
}

// englishIn gives the sentences in the comments of Go source.
func englishIn(source string, known map[string]bool) []string {
	var lines []string
	for _, m := range commentLine.FindAllStringSubmatch(source, -1) {
		lines = append(lines, m[1])
	}
	var out []string
	for _, s := range sentenceEnd.Split(strings.Join(lines, " ")+" ", -1) {
		words := strings.Fields(strings.Trim(strings.ReplaceAll(strings.ToLower(s), ",", ""), " ."))
		if len(words) >= 3 && len(words) <= 14 && !slices.ContainsFunc(words, func(w string) bool { return !known[w] }) {
			out = append(out, strings.Join(words, " "))
		}
	}
	return out
}
