package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
)

// edit is one step of an alignment: a word of the reference, of the hypothesis,
// or both. Index is -1 where there is none.
type edit struct {
	ref, hyp int
	wrong    bool
}

// What an alignment pays, as NIST sclite does by default: with these weights it
// finds the alignment whose errors are counted.
const (
	paySubstitution = 4
	payGap          = 3
)

// align puts the words heard beside the words said, at the least cost.
func align(ref, hyp []string) []edit {
	n, m := len(ref), len(hyp)
	cost := make([][]int, n+1)
	for i := range cost {
		cost[i] = make([]int, m+1)
		for j := range cost[i] {
			switch {
			case i == 0:
				cost[i][j] = j * payGap
			case j == 0:
				cost[i][j] = i * payGap
			default:
				cost[i][j] = min(cost[i-1][j-1]+differ(ref[i-1], hyp[j-1]), cost[i-1][j]+payGap, cost[i][j-1]+payGap)
			}
		}
	}
	var back []edit
	for i, j := n, m; i > 0 || j > 0; {
		switch {
		case i > 0 && j > 0 && cost[i][j] == cost[i-1][j-1]+differ(ref[i-1], hyp[j-1]):
			i, j = i-1, j-1
			back = append(back, edit{i, j, ref[i] != hyp[j]})
		case j > 0 && cost[i][j] == cost[i][j-1]+payGap:
			j--
			back = append(back, edit{-1, j, true})
		default:
			i--
			back = append(back, edit{i, -1, true})
		}
	}
	for i, j := 0, len(back)-1; i < j; i, j = i+1, j-1 {
		back[i], back[j] = back[j], back[i]
	}
	return back
}

func differ(a, b string) int {
	if a == b {
		return 0
	}
	return paySubstitution
}

// passage is what was said and what was heard of it, in plain words.
type passage struct {
	name     string
	ref, hyp []string
}

// sclite is the word errors and the words said, as NIST's scorer counts them
// (Debian: sctk).
func sclite(passages []passage) (errors, words int, err error) {
	dir, err := os.MkdirTemp("", "earscore")
	if err != nil {
		return 0, 0, err
	}
	defer os.RemoveAll(dir)
	var ref, hyp strings.Builder
	for i, p := range passages {
		fmt.Fprintf(&ref, "%s (lesson-%d)\n", strings.Join(p.ref, " "), i)
		fmt.Fprintf(&hyp, "%s (lesson-%d)\n", strings.Join(p.hyp, " "), i)
	}
	r, h := filepath.Join(dir, "ref.trn"), filepath.Join(dir, "hyp.trn")
	if err := os.WriteFile(r, []byte(ref.String()), 0o600); err != nil {
		return 0, 0, err
	}
	if err := os.WriteFile(h, []byte(hyp.String()), 0o600); err != nil {
		return 0, 0, err
	}
	var out, complaint bytes.Buffer
	cmd := exec.Command("sctk", "sclite", "-r", r, "trn", "-h", h, "trn", "-i", "spu_id", "-o", "rsum", "stdout")
	cmd.Stdout, cmd.Stderr = &out, &complaint
	if err := cmd.Run(); err != nil {
		return 0, 0, fmt.Errorf("sclite (Debian package sctk): %w: %s", err, strings.TrimSpace(complaint.String()))
	}
	for line := range strings.Lines(out.String()) {
		f := strings.Fields(strings.ReplaceAll(line, "|", " ")) // Sum snt wrd corr sub del ins err s.err
		if len(f) == 9 && f[0] == "Sum" {
			words, err1 := strconv.Atoi(f[2])
			errors, err2 := strconv.Atoi(f[7])
			if err1 != nil || err2 != nil {
				break
			}
			return errors, words, nil
		}
	}
	return 0, 0, fmt.Errorf("sclite: no sums in %q", out.String())
}
