package main

import (
	"encoding/json"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"sidetone/audio"
	"sidetone/audio/audiotest"
	"sidetone/audio/models/modelstest"
	"sidetone/rules"
	"sidetone/timeline"
)

// The demo lesson in so much noise that hardly every other call is made out.
func TestARecordingTooPoorSaysSoBeforeItAccusesAnyone(t *testing.T) {
	set := modelstest.Find(t)
	x := audiotest.Load(t, demoFile("lesson.wav"))[:72*audio.Rate]
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range x {
		x[i] += float32(0.05 * rng.NormFloat64())
	}
	path := wav(t, filepath.Join(t.TempDir(), "lesson.wav"), x)
	args := []string{"debrief", path, "--models", set.Dir, "--no-html", "--procedure", "slow-flight-clean"}
	code, stdout, stderr := sidetone(t, append(args, "--json", "-")...)
	if code != exitDone {
		t.Fatalf("exit status %d: %s", code, stderr)
	}
	var tl timeline.Timeline
	if err := json.Unmarshal([]byte(stdout), &tl); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(tl.Recording.Poor, "above the noise") || len(tl.Maneuvers) == 0 {
		t.Fatalf("poor: %q, %d maneuvers, levels %+v", tl.Recording.Poor, len(tl.Maneuvers), tl.Recording.Levels)
	}
	unsure := 0
	for _, s := range tl.Maneuvers[0].Steps {
		switch s.Verdict {
		case rules.Heard, rules.NotApplicable:
		case rules.Unsure:
			unsure++
		default:
			t.Errorf("%s is %s", s.ID, s.Verdict)
		}
	}
	if unsure == 0 {
		t.Error("nothing is unsure: the test shows nothing")
	}
	_, stdout, _ = sidetone(t, args...)
	text := strings.Join(strings.Fields(stdout), " ")
	said, table := strings.Index(text, "too poor to judge anybody by"), strings.Index(text, "Verdict")
	if said < 0 || table < said {
		t.Errorf("it is not said before the verdicts:\n%s", stdout)
	}
}
