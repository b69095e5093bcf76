package callouts

import (
	"fmt"
	"strings"
	"sync"
	"testing"

	"sidetone/audio/transcript"
)

// built is made once: it takes a second under -race.
var built = sync.OnceValues(func() (*Finder, error) {
	lex, err := Builtin()
	if err != nil {
		return nil, err
	}
	return NewFinder(lex)
})

func builtinFinder(t testing.TB) (*Lexicon, *Finder) {
	t.Helper()
	f, err := built()
	if err != nil {
		t.Fatal(err)
	}
	return f.lexicon, f
}

var builtListed = sync.OnceValues(func() (*Finder, error) {
	lex, err := Builtin()
	if err != nil {
		return nil, err
	}
	f, err := NewFinder(lex)
	if err == nil {
		f.ListedOnly()
	}
	return f, err
})

// listedFinder goes by the words of the lexicon alone.
func listedFinder(t testing.TB) *Finder {
	t.Helper()
	f, err := builtListed()
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// said makes an utterance of a line, a word every third of a second; "|" is a
// pause of one second.
func said(at float64, line string) transcript.Utterance {
	u := transcript.Utterance{Start: at}
	for w := range strings.FieldsSeq(line) {
		if w == "|" {
			at++
			continue
		}
		u.Words = append(u.Words, transcript.Word{Text: w, Start: at, End: at + 0.3, Confidence: 1})
		at += 0.33
	}
	u.End = at
	u.Text = strings.ReplaceAll(line, "| ", "")
	return u
}

func line(s string) *transcript.Transcript {
	return &transcript.Transcript{Utterances: []transcript.Utterance{said(0, s)}}
}

// brief writes calls as "id=value" with the stance when it is not done.
func brief(calls []Call) string {
	var out []string
	for _, c := range calls {
		s := c.ID
		if c.Value != nil {
			s += fmt.Sprintf("=%v", *c.Value)
		}
		if c.Corrected != nil {
			s += fmt.Sprintf("(not %v)", *c.Corrected)
		}
		if c.Stance != Done {
			s += " " + string(c.Stance)
		}
		out = append(out, s)
	}
	return strings.Join(out, ", ")
}

// made keeps the calls that are done or ordered, more likely than not.
func made(calls []Call) []Call {
	var out []Call
	for _, c := range sure(calls) {
		if c.Stance == Done || c.Stance == Ordered {
			out = append(out, c)
		}
	}
	return out
}

// sure keeps the calls that are more likely than not.
func sure(calls []Call) []Call {
	var out []Call
	for _, c := range calls {
		if c.Confidence >= 0.5 {
			out = append(out, c)
		}
	}
	return out
}
