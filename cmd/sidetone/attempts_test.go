package main

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"
)

// A lesson in words: a slow flight announced and given up, another airplane that goes
// around on the radio, and the slow flight flown.
func TestALessonWithAnAttemptGivenUpAndABusyFrequency(t *testing.T) {
	var b strings.Builder
	b.WriteString("WEBVTT\n")
	at := 5
	say := func(who, text string, pause int) {
		fmt.Fprintf(&b, "\n00:%02d:%02d.000 --> 00:%02d:%02d.500\n<v %s>%s\n", at/60, at%60, (at+2)/60, (at+2)%60, who, text)
		at += pause
	}
	say("Instructor", "Okay, let's do some slow flight, no flaps.", 30)
	say("Student", "Carb heat on.", 7)
	say("Student", "Power back seventeen hundred.", 7)
	say("Student", "Nose up.", 9)
	say("Instructor", "Knock it off, we'll do that again.", 40)
	say("Student", "Heading two seven zero.", 6)
	say("Student", "Checks complete.", 8)
	for i, call := range []string{"Carb heat on.", "Power back seventeen hundred.", "Nose up.", "Airspeed six five.", "Trim set.", "Full power.", "Carb heat cold.", "Cruise power.", "Trim set."} {
		if i == 3 {
			say("Radio", "Meadow traffic, trainer six one is going around, runway two seven, Meadow.", 4)
		}
		say("Student", call, 7)
	}
	say("Instructor", "Good. Your steep turns were fine as well.", 5)
	in := put(t, filepath.Join(t.TempDir(), "lesson.vtt"), []byte(b.String()))
	code, stdout, stderr := sidetone(t, "debrief", in, "--no-html")
	if code != exitDone {
		t.Fatal(stderr)
	}
	table := strings.Join(strings.Fields(stdout), " ")
	for _, s := range []string{
		`Slow flight, clean 0:35 to 0:58 Abandoned at 0:58 with "Knock it off", after nose up at 0:49: 3 of 9 calls were heard.`,
		"Slow flight, clean 1:38 to 2:54 11 heard ",
		`1:38 Heading "Heading two seven heard zero." = 270°`,
		"Nothing to talk about was found in these calls.",
	} {
		if !strings.Contains(table, s) {
			t.Errorf("the table does not say %q:\n%s", s, stdout)
		}
	}
	if strings.Contains(table, "Steep turns") || strings.Contains(table, "Go-around") {
		t.Errorf("maneuvers that nobody flew:\n%s", stdout)
	}
}
