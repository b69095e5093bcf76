package lesson

import (
	"fmt"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"sidetone/callouts"
	"sidetone/rules"
)

// mark is a call within the words of a line: words[From:To].
type mark struct {
	IDs      []string // any of which the words may be taken for
	Value    *float64
	Stance   callouts.Stance
	Perhaps  bool // a listener may take the words for a call or not
	From, To int
}

var marked = regexp.MustCompile(`\{([a-z-]+(?:\|[a-z-]+)*)(\?)?(?:=([0-9.]+))?(?:!([a-z-]+))?:\s*([^}]*)\}`)

// parseLine separates the words to say from the calls marked in them.
func parseLine(text string) (words []string, marks []mark, err error) {
	for len(text) > 0 {
		at := marked.FindStringSubmatchIndex(text)
		if at == nil {
			if strings.ContainsAny(text, "{}") {
				return nil, nil, fmt.Errorf("a mark is not of the form {id=value!stance: words}: %q", text)
			}
			return append(words, strings.Fields(text)...), marks, nil
		}
		group := func(i int) string {
			if at[2*i] < 0 {
				return ""
			}
			return text[at[2*i]:at[2*i+1]]
		}
		if strings.ContainsAny(text[:at[0]], "{}") {
			return nil, nil, fmt.Errorf("a mark is not of the form {id=value!stance: words}: %q", text[:at[0]])
		}
		words = append(words, strings.Fields(text[:at[0]])...)
		m := mark{IDs: strings.Split(group(1), "|"), Stance: callouts.Stance(group(4)), Perhaps: group(2) != "", From: len(words)}
		if m.Stance == "" {
			m.Stance = callouts.Done
		}
		if v := group(3); v != "" {
			f, err := strconv.ParseFloat(v, 64)
			if err != nil {
				return nil, nil, fmt.Errorf("figure %q: %w", v, err)
			}
			m.Value = &f
		}
		words = append(words, strings.Fields(group(5))...)
		rest := text[at[1]:]
		// Punctuation right behind a mark belongs to its last word.
		if n := strings.IndexFunc(rest, func(r rune) bool { return !strings.ContainsRune(".,?!;:", r) }); n != 0 {
			if n < 0 {
				n = len(rest)
			}
			if len(words) > 0 {
				words[len(words)-1] += rest[:n]
			}
			rest = rest[n:]
		}
		m.To = len(words)
		if m.To == m.From {
			return nil, nil, fmt.Errorf("the mark %q has no words", text[at[0]:at[1]])
		}
		marks = append(marks, m)
		text = rest
	}
	return words, marks, nil
}

var stances = []callouts.Stance{callouts.Done, callouts.Ordered, callouts.Asked, callouts.Announced, callouts.Denied, callouts.TalkedAbout}

func (m mark) check(known []string) error {
	for _, id := range m.IDs {
		if !slices.Contains(known, id) {
			return fmt.Errorf("no callout is called %q%s", id, meant(id, known))
		}
	}
	if !slices.Contains(stances, m.Stance) {
		return fmt.Errorf("no stance is called %q; one of %q", m.Stance, stances)
	}
	return nil
}

func meant(what string, known []string) string {
	if near := rules.Nearest(what, known); near != "" {
		return fmt.Sprintf("; did you mean %q?", near)
	}
	return ""
}

var knownCallouts = sync.OnceValues(func() ([]string, error) {
	lexicon, err := callouts.Builtin()
	if err != nil {
		return nil, err
	}
	var known []string
	for _, c := range lexicon.Callouts {
		known = append(known, c.ID)
	}
	return known, nil
})

// sayable tells what a voice could not say so that its words can be timed:
// anything but letters and digits with their punctuation.
func sayable(words []string) error {
	if len(words) == 0 {
		return fmt.Errorf("nothing is said")
	}
	for _, w := range words {
		if letters(w) == "" {
			return fmt.Errorf("%q is no word: set punctuation behind one", w)
		}
		if i := strings.IndexFunc(w, func(r rune) bool { return r > '~' || r < '!' || strings.ContainsRune(`"\()<>[]&*`, r) }); i >= 0 {
			return fmt.Errorf("%q: letters, digits and plain punctuation only", w)
		}
	}
	return nil
}

// letters are a word's letters and digits, in small letters.
func letters(w string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, strings.ToLower(w))
}

// MarkedCall is a call marked in a sentence, in words [From, To).
type MarkedCall struct {
	ID       string
	Stance   callouts.Stance
	From, To int
}

// MarkedLine is a sentence of a file with the calls marked in it.
type MarkedLine struct {
	Words []string
	Calls []MarkedCall
	First bool // under a comment, which begins another lesson in files of lessons
}

// MarkedFile is a file of marked sentences.
type MarkedFile struct {
	Lines   []MarkedLine
	Lessons bool // a comment begins each; else every line stands for itself
	Stances bool // it is marked how the calls are meant
}

// How the first line of a file of lessons begins, and what is in it when their stances
// are marked.
const (
	ofLessons   = "# Invented lessons"
	withStances = "how they are meant"
)

// ReadMarked reads a file of sentences, one a line; lines with # are comments.
func ReadMarked(file string) (*MarkedFile, error) {
	b, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	out := &MarkedFile{}
	n, first := 0, true
	for line := range strings.Lines(string(b)) {
		if n++; n == 1 && strings.HasPrefix(line, ofLessons) {
			out.Lessons, out.Stances = true, strings.Contains(line, withStances)
		}
		if line = strings.TrimSpace(line); line == "" || line[0] == '#' {
			first = true
			continue
		}
		words, calls, err := markedIn(line)
		if err != nil {
			return nil, fmt.Errorf("%s:%d: %w", file, n, err)
		}
		out.Lines = append(out.Lines, MarkedLine{words, calls, first})
		first = false
	}
	return out, nil
}

// markedIn parts a sentence from the calls marked in it, as the lines of a script are.
// Of a call that may be taken for several the first is given.
func markedIn(text string) (words []string, calls []MarkedCall, err error) {
	words, marks, err := parseLine(text)
	if err != nil {
		return nil, nil, err
	}
	known, err := knownCallouts()
	if err != nil {
		return nil, nil, err
	}
	for _, m := range marks {
		if err := m.check(known); err != nil {
			return nil, nil, err
		}
		calls = append(calls, MarkedCall{m.IDs[0], m.Stance, m.From, m.To})
	}
	return words, calls, nil
}
