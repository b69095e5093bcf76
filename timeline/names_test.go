package timeline_test

import (
	"slices"
	"strings"
	"testing"

	"sidetone/audio/transcript"
	"sidetone/rules/library"
	"sidetone/timeline"
)

func libraryNames(t testing.TB) *timeline.Names {
	t.Helper()
	procs, err := library.Procedures()
	if err != nil {
		t.Fatal(err)
	}
	n, err := timeline.NewNames(procs)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// spoken is a line said at second 10, its words spread over the seconds it takes.
func spoken(line string) *transcript.Transcript {
	end := 10 + 0.35*float64(len(strings.Fields(line)))
	return &transcript.Transcript{Utterances: []transcript.Utterance{{Start: 10, End: end, Text: line}}}
}

func TestManeuversNamedAloud(t *testing.T) {
	n := libraryNames(t)
	both := "slow-flight-clean slow-flight-landing"
	for _, c := range []struct{ line, want string }{
		{"Let's do a power-off stall.", "power-off-stall"},
		{"Okay, next one is steep turns to the left.", "steep-turns"},
		{"Next is a departure stall.", "power-on-stall"},
		{"Now let's try some slow flight.", both},
		{"Let's do some slow flight with the flaps out.", "slow-flight-landing"},
		{"Steep turn to the right.", "steep-turns"},
		{"Alright, steep turns.", "steep-turns"},
		{"Show me a power on stall.", "power-on-stall"},
		{"I want you to do an emergency descent.", "emergency-descent"},
		{"We'll do another power off stall.", "power-off-stall"},
		{"Are you ready for a rejected takeoff?", ""},
		{"Ready for slow flight.", both},
		{"Let's start with clearing turns.", "clearing-turns"},
		{"On to the steep turns.", "steep-turns"},
		{"Simulated engine failure.", "engine-failure"},
		{"Give me an engine failure.", "engine-failure"},

		{"Last week your steep turns were good.", ""},
		{"The examiner likes steep turns.", ""},
		{"Steep turns are fun.", ""},
		{"Slow flight is where people forget the rudder.", ""},
		{"We did slow flight last time.", ""},
		{"If you do a power-off stall too low, you have no way out.", ""},
		{"What is the speed for steep turns?", ""},
		{"People always rush the clearing turns.", ""},
		{"I don't want to do a power on stall today.", ""},
		{"You never do steep turns below fifteen hundred feet.", ""},
		{"He had an engine failure over the lake.", ""},
		{"The flight was slow because of the wind.", ""},
		{"The engine failure checklist is on page two.", ""},
		{"Traffic in the pattern, two miles ahead.", ""},
		{"Do you remember the power-off stall?", ""},
	} {
		var got []string
		for _, m := range n.Find(spoken(c.line)) {
			got = append(got, m.Procedures...)
		}
		slices.Sort(got)
		if g := strings.Join(slices.Compact(got), " "); g != c.want {
			t.Errorf("%q names [%s], want [%s]", c.line, g, c.want)
		}
	}
}
