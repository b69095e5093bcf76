package main

import (
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strings"

	"sidetone/callouts/meaning"
)

// vocabulary is the words a network knows. Row 0 is of words not known.
type vocabulary struct {
	words  []string
	rows   map[string]int
	given  []float32
	public int // numbers in a public vector
}

// readVectors takes the vectors of the words, and of the most common ones of the
// file, out of it. Words it does not have get none: they are learnt from the
// sentences alone.
func readVectors(file string, words []string, common int) (*vocabulary, error) {
	b, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	var f struct {
		Dimensions int
		Words      []string
		Vectors    map[string]json.RawMessage
	}
	if err := json.Unmarshal(b, &f); err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	v := &vocabulary{rows: map[string]int{}, public: f.Dimensions, given: make([]float32, f.Dimensions)}
	add := func(w string) error {
		if v.rows[w] > 0 {
			return nil
		}
		vector := make([]float32, f.Dimensions)
		raw, ok := f.Vectors[w]
		if !ok && strings.HasPrefix(w, "#") {
			raw, ok = f.Vectors[map[string]string{"#": "three", "#h": "hundred", "#t": "thousand"}[w]]
		}
		if !ok {
			// "heat's" is heat: its own vector says what hangs on it
			for _, s := range meaning.Spellings(w)[1:] {
				if raw, ok = f.Vectors[s]; ok {
					break
				}
			}
		}
		if ok {
			var all []float32
			if err := json.Unmarshal(raw, &all); err != nil || len(all) < f.Dimensions {
				return fmt.Errorf("%s: the vector of %q: %d numbers, %v", file, w, len(all), err)
			}
			copy(vector, all)
		}
		v.words = append(v.words, w)
		v.rows[w] = len(v.words)
		v.given = append(v.given, vector...)
		return nil
	}
	var all []string
	for _, w := range words {
		all = append(all, meaning.Spellings(w)[0])
	}
	for _, w := range f.Words {
		if common == 0 {
			break
		}
		if strings.Trim(w, "abcdefghijklmnopqrstuvwxyz") == "" {
			all = append(all, meaning.Spellings(w)[0])
			common--
		}
	}
	slices.Sort(all)
	for _, w := range slices.Compact(all) {
		if err := add(w); err != nil {
			return nil, err
		}
	}
	return v, nil
}
