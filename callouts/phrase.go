package callouts

import (
	"cmp"
	"errors"
	"fmt"
	"strings"

	"sidetone/callouts/sound"
)

// spoken is one way a phrase comes out once choices are made: words, perhaps a
// figure, perhaps words after it.
type spoken struct {
	pre, post []string
	slot      bool
}

// variants is the most ways one phrase may be said.
const variants = 64

// compilePhrase reads the phrase language of Callout.
func compilePhrase(s string, q Quantity) ([]spoken, error) {
	all, err := expand(s)
	if err != nil {
		return nil, err
	}
	var out []spoken
	for _, v := range all {
		p, err := split(s, v, q)
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

// expand makes the choices: every way to read "[x]" and "x/y".
func expand(s string) ([]string, error) {
	open := strings.IndexByte(s, '[')
	if open >= 0 {
		depth, end := 0, -1
		for i := open; i < len(s) && end < 0; i++ {
			switch s[i] {
			case '[':
				depth++
			case ']':
				if depth--; depth == 0 {
					end = i
				}
			}
		}
		if end < 0 {
			return nil, fmt.Errorf("phrase %q: \"[\" without \"]\"", s)
		}
		with, err := expand(s[:open] + " " + s[open+1:end] + " " + s[end+1:])
		if err != nil {
			return nil, err
		}
		without, err := expand(s[:open] + " " + s[end+1:])
		if err != nil {
			return nil, err
		}
		return bounded(s, append(with, without...))
	}
	if strings.Contains(s, "]") {
		return nil, fmt.Errorf("phrase %q: \"]\" without \"[\"", s)
	}
	out := []string{""}
	for word := range strings.FieldsSeq(s) {
		var next []string
		for _, head := range out {
			for alt := range strings.SplitSeq(word, "/") {
				if alt == "" {
					return nil, fmt.Errorf("phrase %q: write a word on both sides of \"/\"", s)
				}
				next = append(next, strings.TrimSpace(head+" "+alt))
			}
		}
		var err error
		if out, err = bounded(s, next); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func bounded(s string, all []string) ([]string, error) {
	if len(all) > variants {
		return nil, fmt.Errorf("phrase %q can be said in more than %d ways: write it as several", s, variants)
	}
	return all, nil
}

// split parts one variant at its slot and checks it.
func split(s, variant string, q Quantity) (spoken, error) {
	var p spoken
	for word := range strings.FieldsSeq(variant) {
		name, slot := strings.CutPrefix(word, "{")
		name, closed := strings.CutSuffix(name, "}")
		switch {
		case slot != closed || strings.ContainsAny(name, "{}"):
			return p, fmt.Errorf("phrase %q: write a figure as {%s}, a word by itself", s, cmp.Or(q, Altitude))
		case slot && q == "":
			return p, fmt.Errorf("phrase %q asks for {%s} but the callout has no quantity", s, name)
		case slot && Quantity(name) != q:
			return p, fmt.Errorf("phrase %q asks for {%s} but the callout's quantity is %s", s, name, q)
		case slot && p.slot:
			return p, fmt.Errorf("phrase %q has two figures: write one", s)
		case slot:
			p.slot = true
		case p.slot:
			p.post = append(p.post, word)
		default:
			p.pre = append(p.pre, word)
		}
	}
	if len(p.pre)+len(p.post) == 0 {
		return p, fmt.Errorf("phrase %q needs words as well as a figure", s)
	}
	for _, part := range [][]string{p.pre, p.post} {
		if len(part) > 0 && !sound.NewPhrase(part).Findable() {
			return p, fmt.Errorf("phrase %q: %q is too short to be told from other words", s, strings.Join(part, " "))
		}
	}
	if len(p.pre)+len(p.post) > maxWords {
		return p, errors.New("phrase is longer than anybody says in one breath: " + s)
	}
	return p, nil
}

const maxWords = 16
