package main

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strings"

	"sidetone/callouts"
	"sidetone/callouts/meaning/train"
)

// grammar draws sentences: "(a|b)" is one of them, "[a]" a or nothing, "$name" what
// is defined as "$name = a | b", "~" a spoken figure.
type grammar struct {
	named   map[string]string
	ways    [][]string // of each class
	figures [][]string // of each class
}

// What people put around anything they say.
var (
	before = []string{"okay", "and", "so", "alright", "now", "um", "okay so", "right", "good", "well", "and now", "then", "let's see", "uh", "yes", "yeah", "no", "oh", "first", "next", "so then", "okay now", "alright then", "there", "from here", "here we go"}
	after  = []string{"now", "please", "for me", "there", "okay", "nice and easy", "as you can see", "thanks", "like that", "for now", "then", "sir", "again", "good", "right", "alright", "here", "so", "I think", "as well", "too", "at last", "straight away", "in a moment", "when you're ready", "if you can", "today"}
)

func readGrammar(file string, classes []string, quantity []callouts.Quantity) (*grammar, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	g := &grammar{named: map[string]string{}, ways: make([][]string, len(classes)), figures: make([][]string, len(classes))}
	for i, q := range quantity {
		g.figures[i] = callouts.SpokenFigures(q)
	}
	class := -1
	lines := bufio.NewScanner(f)
	for n := 1; lines.Scan(); n++ {
		text := lines.Text()
		line := strings.TrimSpace(text)
		name, is, defines := strings.Cut(line, " = ")
		switch {
		case line == "" || line[0] == '#':
		case defines && line[0] == '$':
			g.named[name] = "(" + is + ")"
		case text[0] != ' ':
			if class = slices.Index(classes, line); line == "talk" {
				class = 0
			}
			if class < 0 {
				return nil, fmt.Errorf("%s:%d: no callout is called %q", file, n, line)
			}
		case class < 0:
			return nil, fmt.Errorf("%s:%d: write the callout's id before the ways to say it", file, n)
		default:
			if _, err := g.draw(line, class, rand.New(rand.NewPCG(1, 1))); err != nil {
				return nil, fmt.Errorf("%s:%d: %w", file, n, err)
			}
			g.ways[class] = append(g.ways[class], line)
		}
	}
	return g, lines.Err()
}

// draw makes the choices of a way to say something.
func (g *grammar) draw(s string, class int, rng *rand.Rand) (string, error) {
	var b strings.Builder
	for i := 0; i < len(s); {
		switch s[i] {
		case '(', '[':
			end, parts, err := choices(s, i)
			if err != nil {
				return "", err
			}
			if s[i] == '[' && rng.IntN(2) == 0 {
				parts = []string{""}
			}
			text, err := g.draw(parts[rng.IntN(len(parts))], class, rng)
			if err != nil {
				return "", err
			}
			b.WriteString(text)
			i = end
		case '$':
			end := i + 1
			for end < len(s) && s[end] >= 'a' && s[end] <= 'z' {
				end++
			}
			is, ok := g.named[s[i:end]]
			if !ok {
				return "", fmt.Errorf("%s is not defined", s[i:end])
			}
			text, err := g.draw(is, class, rng)
			if err != nil {
				return "", err
			}
			b.WriteString(text)
			i = end
		case '~':
			all := g.figures[class]
			if len(all) == 0 {
				return "", fmt.Errorf("a figure, but the callout has none")
			}
			figure := all[rng.IntN(len(all))]
			if rng.IntN(5) == 0 { // as a recogniser may write it
				figure = "65"
				if strings.Contains(strings.Join(all, " "), "thousand") {
					figure = "2500"
				}
			}
			b.WriteString(figure)
			i++
		case ')', ']', '|':
			return "", fmt.Errorf("%q has a %q too many", s, s[i])
		default:
			b.WriteByte(s[i])
			i++
		}
	}
	return b.String(), nil
}

// choices are those in the brackets that open at i, and where they end.
func choices(s string, i int) (end int, parts []string, err error) {
	depth, from := 0, i+1
	for k := i; k < len(s); k++ {
		switch s[k] {
		case '(', '[':
			depth++
		case ')', ']':
			if depth--; depth == 0 {
				return k + 1, append(parts, s[from:k]), nil
			}
		case '|':
			if depth == 1 {
				parts = append(parts, s[from:k])
				from = k + 1
			}
		}
	}
	return 0, nil, fmt.Errorf("%q: a bracket is not closed", s)
}

// sentences draws some of a class, with what people put around them.
func (g *grammar) sentences(class, many int, rng *rand.Rand) []sentence {
	var out []sentence
	for len(out) < many {
		way := rng.IntN(len(g.ways[class]))
		text, err := g.draw(g.ways[class][way], class, rng)
		if err != nil {
			panic(err) // the file was read with it
		}
		var s sentence
		if rng.Float64() < 0.3 {
			s.add(before[rng.IntN(len(before))]+[]string{"", ","}[rng.IntN(2)], 0, train.Any)
		}
		s.add(text, class, train.Any)
		if rng.Float64() < 0.25 {
			if rng.IntN(2) == 0 {
				s.words[len(s.words)-1].Comma = true
			}
			s.add(after[rng.IntN(len(after))], 0, train.Any)
		}
		if len(s.words) > 0 {
			s.words[len(s.words)-1].Stop = rng.Float64() < 0.8
			out = append(out, s)
		}
	}
	return out
}
