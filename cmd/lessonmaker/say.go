package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/go-audio/wav"
)

const rate = 16000

// speech is a line as spoken: samples at 16 kHz, and where each word begins and
// ends in seconds.
type speech struct {
	samples []float32
	begins  []float64
	ends    []float64
}

// sayer speaks words with a voice.
type sayer func(voice string, words []string) (speech, error)

// say speaks with flite, which also tells when each sound ends.
func say(voice string, words []string) (speech, error) {
	dir, err := os.MkdirTemp("", "lessonmaker")
	if err != nil {
		return speech{}, err
	}
	defer os.RemoveAll(dir)
	file := filepath.Join(dir, "line.wav")
	durations, err := flite("-voice", voice, "-psdur", "-t", strings.Join(words, " "), file)
	if err != nil {
		return speech{}, err
	}
	sp := speech{}
	if sp.samples, err = readWAV(file); err != nil {
		return speech{}, err
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
			return speech{}, fmt.Errorf("flite: %q", f)
		}
		if name != "pau" {
			sounds, from, to = append(sounds, name), append(from, at), append(to, t)
		}
		at = t
	}
	var expected []string
	var owner []int
	for i, w := range words {
		out, err := flite("-voice", voice, "-ps", "-t", w, "none")
		if err != nil {
			return speech{}, err
		}
		for _, p := range strings.Fields(out) {
			if p != "pau" {
				expected, owner = append(expected, p), append(owner, i)
			}
		}
	}
	if len(sounds) == 0 {
		return speech{}, fmt.Errorf("flite said nothing for %q", strings.Join(words, " "))
	}
	sp.begins, sp.ends = make([]float64, len(words)), make([]float64, len(words))
	for i := range words {
		sp.begins[i] = -1
	}
	for i, j := range pair(sounds, expected) {
		w := owner[j]
		if sp.begins[w] < 0 {
			sp.begins[w] = from[i]
		}
		sp.ends[w] = to[i]
	}
	last := 0.0
	for i := range words {
		if sp.begins[i] < 0 {
			sp.begins[i], sp.ends[i] = last, last
		}
		last = sp.ends[i]
	}
	return sp, nil
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

func readWAV(file string) ([]float32, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	buf, err := wav.NewDecoder(f).FullPCMBuffer()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	if buf.Format.SampleRate != rate || buf.Format.NumChannels != 1 {
		return nil, fmt.Errorf("%s: %d Hz, %d channels; a voice of %d Hz is needed", file, buf.Format.SampleRate, buf.Format.NumChannels, rate)
	}
	out := make([]float32, len(buf.Data))
	for i, v := range buf.Data {
		out[i] = float32(v) / 32768
	}
	return out, nil
}
