package callouts

import (
	"strings"
	"testing"
)

func TestACallIsFoundInWhateverWordsItIsTold(t *testing.T) {
	_, f := builtinFinder(t)
	for _, c := range []struct{ line, want string }{
		{"I'm just easing those flaps all the way back up", "flaps-up"},
		{"down go the flaps, ten degrees", "flaps=10"},
		{"and we've brought the power right back to idle", "power-idle"},
		{"so I trim off the pressure", "trim-set"},
		{"and I have trimmed", "trim-set"},
		{"pitching it up a little", "nose-up"},
		{"I let the nose come down to the horizon", "nose-down"},
		{"the doors have been latched", "doors-closed"},
		{"I'm pushing the carb heat in", "carb-heat-cold"},
		{"bringing back the power to fifteen hundred", "power-back=1500"},
		{"throttle's going fully forward", "full-power"},
		{"gear is on its way down", "gear-down"},
		{"retracting the gear", "gear-up"},
		{"the speed is now sixty five", "airspeed=65"},
		{"and the wings have come level", "wings-level"},
		{"fifty five and rotate", "rotate=55"},
		{"Let's have the carb heat off", "carb-heat-cold ordered"},
	} {
		if got := brief(sure(f.Find(line(c.line)))); got != c.want {
			t.Errorf("%q: got [%s], want [%s]", c.line, got, c.want)
		}
	}
}

func TestWhatIsSaidOfAThingIsNotAlwaysACall(t *testing.T) {
	f := listedFinder(t)
	for _, text := range []string{
		"the flaps in this airplane are electric",
		"the carb heat on the other one is broken",
		"enough so that the altimeter stays where it is",
		"squawk four seven two one",
		"squawk one two zero zero for now",
		"go around the lake once more",
		"the nose wheel needs air",
		"he was trimming the hedge on Sunday",
		"they levelled the hangar floor",
	} {
		for _, c := range made(f.Find(line(text))) {
			t.Errorf("%q: got %s %s, confidence %.2f, want no call", text, c.ID, c.Stance, c.Confidence)
		}
	}
}

func TestTheLastThingSaidOfWhatBecomesOfItCounts(t *testing.T) {
	_, f := builtinFinder(t)
	for _, c := range []struct{ line, want string }{
		// A longer name is another thing.
		{"cowl flaps open", "cowl-flaps-open"},
		{"I'm closing the cowl flaps", "cowl-flaps-closed"},
		// What stands first behind the thing becomes of it.
		{"we have the carb heat on in good time", "carb-heat-on"},
		{"flaps up and the power comes back", "flaps-up, power-back"},
		// A thing that is only named makes no call of its own.
		{"the flaps work by electricity", "flaps talked-about"},
		{"no carb heat today", "carb-heat-on denied"},
	} {
		if got := brief(sure(f.Find(line(c.line)))); got != c.want {
			t.Errorf("%q: got [%s], want [%s]", c.line, got, c.want)
		}
	}
}

func TestAThingOnlyNamedIsAtMostDoubtful(t *testing.T) {
	_, f := builtinFinder(t)
	for _, text := range []string{"carb heat", "the carb heat", "that one is the carb heat"} {
		for _, c := range f.Find(line(text)) {
			if c.Stance == Done && c.Confidence >= 0.5 {
				t.Errorf("%q: %+v, want no clear call", text, c)
			}
		}
	}
}

func TestActsSayWhatIsWrongWithThem(t *testing.T) {
	for _, c := range []struct{ act, want string }{
		{"{state: up}", "needs a thing or a verb"},
		{"{thing: ladder}", "say with state"},
		{`{thing: ladder, state: "{flaps}"}`, "write a figure as {altitude}"},
		{`{thing: ladder, state: "up to {altitude}"}`, "by itself"},
		{`{thing: "ladder ["}`, "without"},
	} {
		_, err := ParseLexicon("my.yaml", []byte("callouts:\n  - id: ladder\n    title: Ladder\n    quantity: altitude\n    acts:\n      - "+c.act+"\n"))
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "my.yaml:6:") {
			t.Errorf("%s: %v, want line 6 and %q", c.act, err, c.want)
		}
	}
}
