package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/mattn/go-runewidth"

	"sidetone/rules/library"
)

const brokenOverride = `extends: slow-flight-clean
titel: Ours
change:
  - {id: nose-up, say: [alpha, "{altitude"]}
  - {id: trim, refrence: x, optional: maybe, after: [nothere], when: carb}
add:
  - below: power-back
    steps: [{id: e, title: E, call: carb-heat-onn, reference: r}]
remove: [zz]
`

func TestCheckTellsAllThatIsWrong(t *testing.T) {
	dir := t.TempDir()
	bad := put(t, filepath.Join(dir, "over.yaml"), []byte(brokenOverride))
	good := put(t, filepath.Join(dir, "good.yaml"), []byte("extends: slow-flight-clean\nremove: [nose-down]\n"))
	craft := put(t, filepath.Join(dir, "craft.yaml"), []byte("id: c\ntitle: C\nfacts:\n  Speed: {value: 3}\n  carburettor: {valeu: true}\n"))
	code, stdout, stderr := sidetone(t, "procedures", "check", bad, good, craft, filepath.Join(dir, "none.yaml"))
	if code != exitFailure || !strings.Contains(stderr, "3 of 4 files are not in order") {
		t.Errorf("exit status %d, %q", code, stderr)
	}
	for _, line := range []string{
		bad + `:2:1: no setting is called "titel"; did you mean "title"?`,
		bad + `:4:32: phrase "{altitude": `,
		bad + `:5:16: no setting is called "refrence"; did you mean "reference"?`,
		bad + `:5:39: "maybe" does not fit here: true or false is wanted`,
		bad + `:5:54: step "trim" comes after "nothere", which is no step`,
		bad + `:5:70: step "trim", when "carb": the aircraft "trainer" has no fact "carb"`,
		bad + `:8:37: step "e": no callout is called "carb-heat-onn"; did you mean "carb-heat-on"?`,
		bad + `:9:10: "slow-flight-clean" has no step, hold or never "zz" to remove`,
		good + ": ok (procedure slow-flight-clean, ",
		craft + `:4:10: the fact name "Speed"`,
		craft + `:5:17: no setting is called "valeu"; did you mean "value"?`,
		"none.yaml: there is no such file",
		"    2 | titel: Ours\n      | ^\n",
	} {
		if !strings.Contains(stdout, line) {
			t.Errorf("does not say %s", line)
		}
	}
	if n := strings.Count(stdout, bad+":"); n != 8 {
		t.Errorf("%d things are wrong, want 8:\n%s", n, stdout)
	}
	if n := strings.Count(stdout, craft+":"); n != 2 {
		t.Errorf("%d things are wrong, want 2:\n%s", n, stdout)
	}
}

func TestCheckTakesWhatIsBuiltIn(t *testing.T) {
	dir := t.TempDir()
	procs, err := library.Procedures()
	if err != nil {
		t.Fatal(err)
	}
	args := []string{"procedures", "check"}
	for _, p := range procs {
		b, err := library.Source(p.ID)
		if err != nil {
			t.Fatal(err)
		}
		args = append(args, put(t, filepath.Join(dir, p.ID+".yaml"), b))
	}
	if code, stdout, stderr := sidetone(t, args...); code != exitDone || strings.Count(stdout, ": ok (") != len(procs) {
		t.Errorf("exit status %d, %s%s", code, stdout, stderr)
	}
	if code, _, _ := sidetone(t, "procedures", "check"); code != exitUsage {
		t.Errorf("nothing to check: exit status %d", code)
	}
}

func TestNewBeginsAProcedureThatIsInOrder(t *testing.T) {
	t.Chdir(t.TempDir())
	if code, _, stderr := sidetone(t, "procedures", "new", "our-turns"); code != exitDone {
		t.Fatal(stderr)
	}
	b, err := os.ReadFile("our-turns.yaml")
	if err != nil || !strings.Contains(string(b), "\nid: our-turns\n") {
		t.Fatalf("%v: %s", err, b)
	}
	if code, stdout, _ := sidetone(t, "procedures", "check", "our-turns.yaml"); code != exitDone || !strings.Contains(stdout, "our-turns.yaml: ok (procedure our-turns, 7 steps, for ") {
		t.Errorf("exit status %d, %s", code, stdout)
	}
	if code, _, stderr := sidetone(t, "procedures", "new", "our-turns"); code != exitFailure || !strings.Contains(stderr, "is there already") {
		t.Errorf("written over: %d %q", code, stderr)
	}
	if code, _, _ := sidetone(t, "procedures", "new", "../x"); code != exitUsage {
		t.Errorf("a name that is a path: exit status %d", code)
	}
	if _, stdout, _ := sidetone(t, "procedures", "new"); !strings.Contains(stdout, "id: our-maneuver") {
		t.Errorf("without a name: %s", stdout)
	}
}

// The change of a built-in procedure the template shows is one that works.
func TestTheTemplateShowsAChangeThatIsInOrder(t *testing.T) {
	_, rest, _ := strings.Cut(library.Template("x"), "#   extends:")
	text, _, _ := strings.Cut("#   extends:"+rest, "#\nid:")
	text = strings.ReplaceAll(strings.ReplaceAll(text, "#   ", ""), "\n#", "\n")
	file := put(t, filepath.Join(t.TempDir(), "ours.yaml"), []byte(text))
	if code, stdout, _ := sidetone(t, "procedures", "check", file); code != exitDone {
		t.Errorf("%s\n%s", text, stdout)
	}
}

func TestTheCardIsWhatAStudentStudies(t *testing.T) {
	code, stdout, stderr := sidetone(t, "procedures", "show", "slow-flight-landing")
	if code != exitDone {
		t.Fatal(stderr)
	}
	for _, part := range []string{
		"SLOW FLIGHT, LANDING CONFIGURATION\n", `Named aloud: "slow flight landing configuration", "slow flight", `, "\nEntry\n-----\n", "Carb heat on", `"carb heat on"`,
		"flaps 20", "60 +10/-0 kt", "VERIFY: POH (slow flight speed landing 60 kt)", "VERIFY: POH (carburettor yes)",
		"[FAA-S-ACS-6C, VII.A S5 (±10°)]", "within 20 s of full power",
	} {
		if !strings.Contains(stdout, part) {
			t.Errorf("does not say %q", part)
		}
	}
	procs, err := library.Procedures()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range procs {
		_, card, _ := sidetone(t, "procedures", "show", p.ID)
		for line := range strings.Lines(card) {
			if n := runewidth.StringWidth(strings.TrimSuffix(line, "\n")); n > cardWidth {
				t.Errorf("%s: %d columns: %s", p.ID, n, line)
			}
		}
	}
}

func TestTheCardOfASchoolsOwnWords(t *testing.T) {
	file := put(t, filepath.Join(t.TempDir(), "ours.yaml"), []byte(`extends: slow-flight-clean
title: Ours
change:
  - {id: nose-up, say: [up she goes], by: student}
add:
  - phase: Recovery
    steps:
      - {id: lights, title: Lights, call: our-lights, say: [landing light and strobes], reference: our handbook}
`))
	_, stdout, stderr := sidetone(t, "procedures", "show", file)
	for _, part := range []string{"OURS\n", `"up she goes"`, "said by the student", `"landing light and strobes"`, "[our handbook]"} {
		if !strings.Contains(stdout, part) {
			t.Errorf("does not say %q: %s%s", part, stdout, stderr)
		}
	}
	_, yaml, _ := sidetone(t, "procedures", "show", "slow-flight-clean", "--yaml")
	if b, err := library.Source("slow-flight-clean"); err != nil || yaml != string(b) {
		t.Error("--yaml is not the file")
	}
	_, facts, _ := sidetone(t, "procedures", "show", "trainer")
	if !strings.Contains(facts, "flap stages") || !strings.Contains(facts, "10/20/30 deg") || !strings.Contains(facts, "VERIFY: POH") {
		t.Errorf("%s", facts)
	}
}

func TestTheWordsOfASchoolAreHeard(t *testing.T) {
	dir := t.TempDir()
	var vtt strings.Builder
	vtt.WriteString("WEBVTT\n\n")
	for i, line := range []string{"carb heat on", "power back", "up she goes", "airspeed six five", "trim set", "full power", "carb heat cold", "cruise power", "trim set", "landing light and strobes"} {
		vtt.WriteString("00:01:" + two(6*i%60) + ".000 --> 00:01:" + two((6*i+2)%60) + ".000\n" + line + "\n\n")
	}
	words := put(t, filepath.Join(dir, "lesson.vtt"), []byte(vtt.String()))
	ours := put(t, filepath.Join(dir, "ours.yaml"), []byte(`extends: slow-flight-clean
change:
  - {id: nose-up, say: [up she goes]}
add:
  - phase: Recovery
    steps:
      - {id: lights, title: Lights, call: our-lights, say: [landing light and strobes], reference: our handbook}
`))
	_, stdout, stderr := sidetone(t, "debrief", words, "--procedure", ours, "--no-html", "--json", "-")
	for _, step := range []string{`"up she goes"`, `"landing light and strobes"`} {
		if !strings.Contains(stdout, step) {
			t.Errorf("%s is not heard: %s", step, stderr)
		}
	}
	if strings.Contains(stdout, `"verdict": "not-heard"`) {
		t.Error("something is not heard")
	}
}

func TestTheSchemasArePrinted(t *testing.T) {
	for _, c := range []struct {
		args  []string
		title string
	}{{nil, "phases"}, {[]string{"procedure"}, "phases"}, {[]string{"aircraft"}, "facts"}} {
		code, stdout, stderr := sidetone(t, append([]string{"procedures", "schema"}, c.args...)...)
		var doc struct {
			Schema     string `json:"$schema"`
			Properties map[string]any
		}
		if err := json.Unmarshal([]byte(stdout), &doc); err != nil || code != exitDone || !strings.Contains(doc.Schema, "2020-12") || doc.Properties[c.title] == nil {
			t.Errorf("%q: exit status %d, %v, %s", c.args, code, err, stderr)
		}
	}
	if code, _, stderr := sidetone(t, "procedures", "schema", "recording"); code != exitUsage || !strings.Contains(stderr, "procedure, aircraft") {
		t.Errorf("exit status %d, %s", code, stderr)
	}
}
