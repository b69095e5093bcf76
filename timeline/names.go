package timeline

import (
	"fmt"
	"slices"
	"strings"

	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/rules"
)

// Naming is a maneuver named aloud as one to be flown: "let's do a power-off
// stall". Procedures are the ids of those that go by the name. At is when, in
// seconds of the recording.
type Naming struct {
	Procedures []string
	At         float64
	Heard      string
}

// Names listens for the names of procedures. It is safe for concurrent use.
type Names struct {
	finder *callouts.Finder
	of     map[string][]string // by callout: the procedures of that name
}

// NewNames prepares for listening for the names of procedures. Each name is a
// callout of a lexicon of its own: in that of the calls a "steep turn" would be two
// things at once.
func NewNames(procs []*rules.Procedure) (*Names, error) {
	n := &Names{of: map[string][]string{}}
	ids := map[string]string{} // by name
	lex := &callouts.Lexicon{}
	for _, p := range procs {
		ways, err := (&callouts.Lexicon{Callouts: []callouts.Callout{{ID: p.ID, Say: p.SpokenNames()}}}).Expected()
		if err != nil {
			return nil, fmt.Errorf("the names of %q: %w", p.ID, err)
		}
		for _, w := range ways {
			id, ok := ids[w.Phrase]
			if !ok {
				id = fmt.Sprintf("name-%d", len(ids))
				ids[w.Phrase] = id
				lex.Callouts = append(lex.Callouts, callouts.Callout{ID: id, Say: []string{w.Phrase}})
			}
			if !slices.Contains(n.of[id], p.ID) {
				n.of[id] = append(n.of[id], p.ID)
			}
		}
	}
	var err error
	n.finder, err = callouts.NewFinder(lex)
	return n, err
}

// Find gives the maneuvers named in a transcript as ones to be flown, in order of
// time. A name that is asked about, denied or only talked about is none.
func (n *Names) Find(t *transcript.Transcript) []Naming {
	var out []Naming
	for _, c := range n.finder.Find(t) {
		if c.Confidence < clearly {
			continue
		}
		switch c.Stance {
		case callouts.Ordered, callouts.Announced:
		case callouts.Done:
			if !announced(&t.Utterances[c.Utterance], &c) {
				continue
			}
		default:
			continue
		}
		out = append(out, Naming{n.of[c.ID], c.Start, c.Heard})
	}
	return out
}

var (
	// leadIns stand before a name that is announced: "next one is a steep turn".
	leadIns = []string{"next", "next one", "next is", "one is", "up is", "next up", "first up", "ready for", "time for", "up for", "start with", "begin with",
		"continue with", "on to", "onto", "give me", "show me", "demonstrate", "practice", "practise", "do", "try", "fly", "set up for"}
	// passedOver are words that may stand between a lead-in and the name, or before a
	// name that is said by itself.
	passedOver = words("a an the some another one more your our my simulated practice okay ok alright right so now and well uh um good then this is")
	// sided are what may follow a name that is said by itself.
	sided = words("to the left right other side next now please")
)

func words(s string) map[string]bool {
	out := map[string]bool{}
	for w := range strings.FieldsSeq(s) {
		out[w] = true
	}
	return out
}

// announced tells whether a name stands behind a lead-in, or by itself. The names of
// a maneuver come up in other talk as well.
func announced(u *transcript.Utterance, c *callouts.Call) bool {
	all := u.Words
	if len(all) == 0 {
		all = transcript.Spread(u.Text, u.Start, u.End)
	}
	var before, after []string
	for _, w := range all {
		text := strings.ToLower(strings.Trim(w.Text, " \"'“”‘’(),.;:?!…-–—"))
		mid, ends := (w.Start+w.End)/2, strings.ContainsAny(w.Text, ".;?!,")
		if mid > c.End {
			after = append(after, text)
		} else if mid < c.Start {
			before = append(before, text)
			if ends {
				before = nil // another clause
			}
		}
		if ends && w.End >= c.End {
			break
		}
	}
	for len(before) > 0 {
		line := strings.Join(before, " ")
		if slices.ContainsFunc(leadIns, func(l string) bool { return line == l || strings.HasSuffix(line, " "+l) }) {
			return true
		}
		if !passedOver[before[len(before)-1]] {
			return false
		}
		before = before[:len(before)-1]
	}
	return !slices.ContainsFunc(after, func(w string) bool { return !sided[w] })
}
