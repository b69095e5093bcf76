package lesson

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// sayFlite speaks with flite, which also tells when each sound ends.
func sayFlite(voice string, words []string) (Speech, error) {
	dir, err := os.MkdirTemp("", "lesson")
	if err != nil {
		return Speech{}, err
	}
	defer os.RemoveAll(dir)
	file := filepath.Join(dir, "line.wav")
	durations, err := flite("-voice", voice, "-psdur", "-t", strings.Join(words, " "), file)
	if err != nil {
		return Speech{}, err
	}
	sp := Speech{}
	if sp.Samples, err = Load(file); err != nil {
		return Speech{}, err
	}
	var sounds []string
	var from, to []float64
	at := 0.0
	for _, f := range strings.Fields(durations) {
		name, end, ok := strings.Cut(f, ":")
		if !ok {
			continue
		}
		t, err := strconv.ParseFloat(end, 64)
		if err != nil {
			return Speech{}, fmt.Errorf("flite: %q", f)
		}
		if name != "pau" {
			sounds, from, to = append(sounds, name), append(from, at), append(to, t)
		}
		at = t
	}
	var expected []string
	var owner []int
	for i, w := range words {
		alone, err := soundsOf(voice, w)
		if err != nil {
			return Speech{}, err
		}
		for _, p := range alone {
			expected, owner = append(expected, p), append(owner, i)
		}
	}
	if len(sounds) == 0 {
		return Speech{}, fmt.Errorf("flite said nothing for %q", strings.Join(words, " "))
	}
	sp.Begins, sp.Ends = make([]float64, len(words)), make([]float64, len(words))
	for i := range words {
		sp.Begins[i] = -1
	}
	for i, j := range pair(sounds, expected) {
		w := owner[j]
		if sp.Begins[w] < 0 {
			sp.Begins[w] = from[i]
		}
		sp.Ends[w] = to[i]
	}
	sp.unspoken(words)
	return sp, nil
}

var (
	spelt   = map[[2]string][]string{}
	spellMu sync.Mutex
)

// soundsOf are the sounds of a word said alone.
func soundsOf(voice, word string) ([]string, error) {
	spellMu.Lock()
	defer spellMu.Unlock()
	key := [2]string{voice, word}
	if p, ok := spelt[key]; ok {
		return p, nil
	}
	out, err := flite("-voice", voice, "-ps", "-t", word, "none")
	if err != nil {
		return nil, err
	}
	p := slices.DeleteFunc(strings.Fields(out), func(s string) bool { return s == "pau" })
	spelt[key] = p
	return p, nil
}

// pair gives, for each sound spoken, the expected sound it stands for: the
// order-keeping pairing with the fewest differences (a word said in a sentence
// loses or changes a sound against the word said alone).
func pair(spoken, expected []string) []int {
	n, m := len(spoken), len(expected)
	cost := make([][]int, n+1)
	for i := range cost {
		cost[i] = make([]int, m+1)
		for j := range cost[i] {
			switch {
			case i == 0:
				cost[i][j] = j
			case j == 0:
				cost[i][j] = i
			default:
				d := 1
				if spoken[i-1] == expected[j-1] {
					d = 0
				}
				cost[i][j] = min(cost[i-1][j-1]+d, cost[i-1][j]+1, cost[i][j-1]+1)
			}
		}
	}
	pairs := make([]int, n)
	i, j := n, m
	for i > 0 {
		d := 1
		if j > 0 && spoken[i-1] == expected[j-1] {
			d = 0
		}
		switch {
		case j > 0 && cost[i][j] == cost[i-1][j-1]+d:
			i, j = i-1, j-1
			pairs[i] = j
		case j > 0 && cost[i][j] == cost[i][j-1]+1:
			j--
		default:
			i--
			pairs[i] = max(0, min(j, m-1))
		}
	}
	return pairs
}

func flite(args ...string) (string, error) {
	var out, complaint bytes.Buffer
	cmd := exec.Command("flite", args...)
	cmd.Stdout, cmd.Stderr = &out, &complaint
	if err := cmd.Run(); err != nil {
		return "", fmt.Errorf("flite (Debian package flite): %w: %s", err, strings.TrimSpace(complaint.String()))
	}
	return out.String(), nil
}
