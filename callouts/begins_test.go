package callouts

import "testing"

func TestACallBeginsWithItsWordingNotWithTheListedPhrase(t *testing.T) {
	_, f := builtinFinder(t)
	for _, c := range []struct {
		name, line string
		heard      []string
	}{
		{"who does it belongs to it", "I take the flaps up.", []string{"I take the flaps up."}},
		{"so does how it is done", "I am going to set flaps twenty.", []string{"set flaps twenty."}},
		{"not what is said before", "Nice work, and we have a positive rate.", []string{"have a positive rate."}},
		{"not another clause", "There we go, flaps up.", []string{"flaps up."}},
		{"not another call", "Carb heat on and we take flaps ten.", []string{"Carb heat on", "we take flaps ten."}},
	} {
		t.Run(c.name, func(t *testing.T) {
			u := line(c.line)
			calls := f.Find(u)
			if len(calls) != len(c.heard) {
				t.Fatalf("%q: got [%s], want %d calls", c.line, brief(calls), len(c.heard))
			}
			for i, call := range calls {
				if call.Heard != c.heard[i] {
					t.Errorf("%q: heard %q, want %q", c.line, call.Heard, c.heard[i])
				}
			}
			if calls[0].Heard == c.line && calls[0].Start != u.Utterances[0].Start {
				t.Errorf("%q begins at %.2f s, want %.2f s", c.line, calls[0].Start, u.Utterances[0].Start)
			}
		})
	}
}
