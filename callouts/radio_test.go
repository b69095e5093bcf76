package callouts

import (
	"testing"

	"sidetone/audio/transcript"
)

func TestACallMadeOnTheRadioIsToldFromOneInTheCockpit(t *testing.T) {
	_, f := builtinFinder(t)
	for _, c := range []struct {
		line  string
		radio bool
	}{
		{"Meadow traffic, trainer four two, going around, runway two seven, Meadow.", true},
		{"Trainer four two is going around, Meadow traffic.", true},
		{"Meadow traffic, going around.", true},
		{"Three five tango is going around.", true},
		{"Meadow tower, trainer seven two bravo going around.", true},
		{"Going around runway two seven.", true},
		{"Trainer three four kilo, go around.", true},
		{"Meadow traffic | trainer going around", true},

		{"Going around.", false},
		{"Okay, going around, full power.", false},
		{"I'm going around.", false},
		{"The traffic is in the way, going around.", false},
		{"There is traffic on the runway, I'm going around.", false},
		{"Too high, too fast. Going around, seventy five knots.", false},
		{"Going around. | | Meadow traffic, trainer four two on the go.", false},
		{"Tell the tower we are going around.", false},
		{"Going around, flaps two zero.", false},
	} {
		tr := line(c.line)
		calls := f.Find(tr)
		radio := OnRadio(tr, calls)
		found := false
		for i, call := range calls {
			if call.ID == "going-around" {
				found = true
				if radio[i] != c.radio {
					t.Errorf("%q: on the radio is %v", c.line, radio[i])
				}
			}
		}
		if !found {
			t.Errorf("%q: no going-around in %s", c.line, brief(calls))
		}
	}
}

// A transmission that was cut into two segments is one all the same.
func TestARadioCallInTwoSegments(t *testing.T) {
	_, f := builtinFinder(t)
	first, second := said(0, "Meadow traffic, trainer four two"), said(2.7, "going around")
	tr := &transcript.Transcript{Utterances: []transcript.Utterance{first, second}}
	if calls := f.Find(tr); len(calls) != 1 || !OnRadio(tr, calls)[0] {
		t.Errorf("%v", calls)
	}
	tr.Utterances[1] = said(6, "going around")
	if calls := f.Find(tr); len(calls) != 1 || OnRadio(tr, calls)[0] {
		t.Errorf("after three seconds of silence: %v", calls)
	}
	tr.Utterances[1] = said(2.7, "going around")
	tr.Utterances[1].Speaker = "Student"
	if calls := f.Find(tr); len(calls) != 1 || OnRadio(tr, calls)[0] {
		t.Errorf("by another speaker: %v", calls)
	}
}
