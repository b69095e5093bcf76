package main

import (
	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/timeline"
)

// cause is the stage something went wrong in: the last one that, given what the
// sheet says the stage before should have given, still gets it wrong.
type cause string

const (
	hearing       cause = "hearing"       // right from the words as they were said
	matching      cause = "matching"      // the words themselves are not found to be the call
	stancing      cause = "stance"        // found in the words as said, with another stance
	understanding cause = "understanding" // a verdict wrong from the words as they were said
	judging       cause = "judging"       // wrong from the calls as they were made
)

// blamer tells causes: it debriefs the lesson from its words, and judges it from
// its calls.
type blamer struct {
	words map[int]pairing // call made to call found
	found []callouts.Call
	steps map[string]bool // procedure, step and place of those right from the words
	calls map[string]bool // and from the calls
}

func newBlamer(m *made, finder *callouts.Finder, procedures []*rules.Procedure, ac *rules.Aircraft, lexicon *callouts.Lexicon) (*blamer, error) {
	said := script(m)
	b := &blamer{words: map[int]pairing{}, found: finder.Find(said), steps: map[string]bool{}, calls: map[string]bool{}}
	for _, p := range pair(m.truth.Calls, b.found) {
		b.words[p.made] = p
	}
	for _, from := range []struct {
		calls []callouts.Call
		right map[string]bool
	}{{b.found, b.steps}, {perfect(m.truth.Calls, said.Utterances, lexicon), b.calls}} {
		found, err := timeline.Find(&timeline.Lesson{Calls: from.calls, Radio: callouts.OnRadio(said, from.calls)}, procedures, ac)
		if err != nil {
			return nil, err
		}
		steps, _ := judged(m.truth.Maneuvers, found)
		for _, s := range steps {
			if s.right() {
				from.right[s.key()] = true
			}
		}
	}
	return b, nil
}

// call is why call i of the sheet was not found as it was made.
func (b *blamer) call(i int) cause {
	p, ok := b.words[i]
	switch {
	case !ok || !p.value:
		return matching
	case !p.stance:
		return stancing
	}
	return hearing
}

// alarm is why a call was found that nobody made: the words as said may give it too.
func (b *blamer) alarm(f callouts.Call) cause {
	for _, c := range b.found {
		if c.ID == f.ID && counts(c.Stance) && c.Start <= f.End+near && c.End >= f.Start-near && sameValue(c.Value, f.Value) {
			return matching
		}
	}
	return hearing
}

func (b *blamer) step(s stepScore) cause {
	switch {
	case s.Sheet == "":
		return hearing
	case !b.calls[s.key()]:
		return judging
	case !b.steps[s.key()]:
		return understanding
	}
	return hearing
}
