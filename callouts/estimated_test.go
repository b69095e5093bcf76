package callouts

import (
	"strings"
	"testing"

	"sidetone/audio/transcript"
)

// A call is as well timed as its words.
func TestACallFromALineWithOneTimeIsMarkedEstimated(t *testing.T) {
	_, finder := builtinFinder(t)
	for name, c := range map[string]struct {
		captions string
		want     bool
	}{
		"a line with a time of its own":  {"WEBVTT\n\n00:10.000 --> 00:14.000\nokay, carb heat on\n", true},
		"a line with times of its words": {"WEBVTT\n\n00:10.000 --> 00:14.000\nokay, <00:12.000>carb <00:12.300>heat <00:12.600>on\n", false},
	} {
		words, err := transcript.Read("x", strings.NewReader(c.captions))
		if err != nil {
			t.Fatal(err)
		}
		calls := finder.Find(words)
		if len(calls) != 1 || calls[0].Estimated != c.want {
			t.Errorf("%s: %+v", name, calls)
		}
	}
}
