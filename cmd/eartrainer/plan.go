package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"

	"sidetone/cmd/internal/lesson"
)

// line is a sentence, whose voice speaks it, how drawn out (1 is as the voice
// usually does) and into which file.
type line struct {
	voice lesson.Voice
	text  string
	drawl float64
	file  string
}

// Generators of random numbers are kept apart by what they are for.
const (
	streamSentences = iota + 1
	streamGroups
	streamClip
	streamOrder
)

// plan deals sentences out to voices and writes the list into the work folder.
// A folder that already holds another list is refused.
func plan(dir string, count int, seed uint64) ([]line, error) {
	vs, err := voices()
	if err != nil {
		return nil, err
	}
	s, err := newSentences(".")
	if err != nil {
		return nil, err
	}
	shares := 0
	for _, v := range vs {
		shares += v.shares
	}
	rng := rand.New(rand.NewPCG(seed, streamSentences))
	var lines []line
	var list bytes.Buffer
	for _, v := range vs {
		for range max(1, count*v.shares/shares) {
			file := filepath.Join(dir, "spoken", fmt.Sprintf("%06d.wav", len(lines)))
			l := line{v.Voice, s.next(rng), between(rng, 0.85, 1.1), file}
			lines = append(lines, l)
			fmt.Fprintf(&list, "%s\t%.2f\t%s\n", v.Voice, l.drawl, l.text)
		}
	}
	if err := os.MkdirAll(filepath.Join(dir, "spoken"), 0o777); err != nil {
		return nil, err
	}
	return lines, keep(filepath.Join(dir, "sentences.txt"), list.Bytes())
}

// between is a number from low to high.
func between(rng *rand.Rand, low, high float64) float64 { return low + (high-low)*rng.Float64() }

// keep writes a file that says what a folder holds, or checks that it still does.
func keep(file string, b []byte) error {
	old, err := os.ReadFile(file)
	if os.IsNotExist(err) {
		return os.WriteFile(file, b, 0o666)
	}
	if err == nil && !bytes.Equal(old, b) {
		err = fmt.Errorf("%s was made with other settings, voices or lexicon: name another --work folder", file)
	}
	return err
}
