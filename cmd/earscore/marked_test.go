package main

import (
	"bytes"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"sidetone/callouts"
	"sidetone/cmd/internal/lesson"
)

const meanings = "../../testdata/meanings"

// bare are the words of each marked sentence of a file.
func bare(t *testing.T, file string) []string {
	t.Helper()
	f, err := lesson.ReadMarked(file)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, l := range f.Lines {
		out = append(out, strings.Join(plain(l.Words), " "))
	}
	return out
}

func TestWhatIsHeldBackIsNotLearntFrom(t *testing.T) {
	held := map[string]string{}
	for _, s := range sentences(t, "stances.yaml") {
		held[strings.Join(plain(strings.Fields(s.Say)), " ")] = "stances.yaml"
	}
	tests, err := filepath.Glob(filepath.Join(meanings, "test*.txt"))
	if err != nil || len(tests) < 3 {
		t.Fatalf("%d files held back, %v", len(tests), err)
	}
	for _, file := range tests {
		for _, s := range bare(t, file) {
			held[s] = filepath.Base(file)
		}
	}
	lots, err := filepath.Glob(filepath.Join(meanings, "lot-*.txt"))
	if err != nil || len(lots) == 0 {
		t.Fatalf("%d lots, %v", len(lots), err)
	}
	for _, lot := range lots {
		for _, s := range bare(t, lot) {
			// A short call is said so by many people.
			if file := held[s]; file != "" && len(strings.Fields(s)) > shortCall {
				t.Errorf("%s: %q is held back in %s", filepath.Base(lot), s, file)
			}
		}
	}
}

const shortCall = 8 // words

// A guard for what was reached on sentences that were not learnt from.
func TestCallsInFreeWordingAreFound(t *testing.T) {
	lexicon, err := callouts.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	share := func(listed bool) (found, marked float64) {
		finder, err := callouts.NewFinder(lexicon)
		if err != nil {
			t.Fatal(err)
		}
		if listed {
			finder.ListedOnly()
		}
		var out bytes.Buffer
		if err := scoreMarked(&out, []string{filepath.Join(meanings, "test.txt")}, finder, false); err != nil {
			t.Fatal(err)
		}
		rows := strings.Split(strings.TrimSpace(out.String()), "\n")
		f := strings.Fields(rows[len(rows)-1]) // file, sentences, marked, found %, found, marked %
		found, err1 := strconv.ParseFloat(f[3], 64)
		marked, err2 := strconv.ParseFloat(f[5], 64)
		if err1 != nil || err2 != nil {
			t.Fatalf("%q", rows)
		}
		return found, marked
	}
	found, marked := share(false)
	if found < 75 || marked < 85 {
		t.Errorf("%.1f %% of the marked calls are found, %.1f %% of those found are marked", found, marked)
	}
	if alone, _ := share(true); alone > found-20 {
		t.Errorf("by the words of the lexicon alone %.1f %% are found, with what words mean %.1f %%", alone, found)
	}
}
