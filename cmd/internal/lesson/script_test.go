package lesson

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sidetone/callouts"
	"sidetone/rules"
)

func TestALineIsReadWithItsMarks(t *testing.T) {
	v := func(f float64) *float64 { return &f }
	for _, c := range []struct {
		text  string
		words string
		marks []mark
	}{
		{"Nothing to see here.", "Nothing to see here.", nil},
		{"{carb-heat-on: Carb heat on.}", "Carb heat on.", []mark{{[]string{"carb-heat-on"}, nil, callouts.Done, false, 0, 3}}},
		{"Now {flaps=20: flaps twenty}, please.", "Now flaps twenty, please.", []mark{{[]string{"flaps"}, v(20), callouts.Done, false, 1, 3}}},
		{"{trim-set!denied: Don't trim yet.}", "Don't trim yet.", []mark{{[]string{"trim-set"}, nil, callouts.Denied, false, 0, 3}}},
		{"{flaps=10!ordered: Give me ten} and {trim-set: trim}", "Give me ten and trim",
			[]mark{{[]string{"flaps"}, v(10), callouts.Ordered, false, 0, 3}, {[]string{"trim-set"}, nil, callouts.Done, false, 4, 5}}},
		{"{power-set|power-back=1700: Power seventeen hundred.}", "Power seventeen hundred.",
			[]mark{{[]string{"power-set", "power-back"}, v(1700), callouts.Done, false, 0, 3}}},
		{"{distance?: Five miles east.}", "Five miles east.", []mark{{[]string{"distance"}, nil, callouts.Done, true, 0, 3}}},
	} {
		words, marks, err := parseLine(c.text)
		if err != nil {
			t.Errorf("%q: %v", c.text, err)
			continue
		}
		if got := strings.Join(words, " "); got != c.words {
			t.Errorf("%q is said as %q, want %q", c.text, got, c.words)
		}
		same := func(a, b mark) bool {
			return slices.Equal(a.IDs, b.IDs) && a.Stance == b.Stance && a.Perhaps == b.Perhaps && a.From == b.From && a.To == b.To &&
				(a.Value == nil) == (b.Value == nil) && (a.Value == nil || *a.Value == *b.Value)
		}
		if !slices.EqualFunc(marks, c.marks, same) {
			t.Errorf("%q: marks %+v, want %+v", c.text, marks, c.marks)
		}
	}
}

// lines makes a script of lines written in YAML.
func lines(l string) string {
	return "title: x\nvoices: {student: slt, instructor: rms}\nlines:\n" + l
}

func TestAScriptSaysWhatIsWrongWithIt(t *testing.T) {
	for _, c := range []struct{ name, script, complaint string }{
		{"an unknown key", "title: x\nspeed: 3\n", "speed"},
		{"no lines", "title: x\nvoices: {a: slt}\n", "no lines"},
		{"a speaker without a voice", lines("- {who: tower, say: hello}"), `no voice for "tower"`},
		{"an engine nobody knows", "title: x\nvoices: {a: 'harp:slt'}\nlines: [{who: a, say: hello}]", `no engine is called "harp"`},
		{"a voice flite lacks", "title: x\nvoices: {a: bob}\nlines: [{who: a, say: hello}]", `no voice "bob"`},
		{"a mistyped callout", lines(`- {who: student, say: "{carb-heat-onn: Carb heat on}"}`), `did you mean "carb-heat-on"?`},
		{"a stance nobody knows", lines(`- {who: student, say: "{trim-set!maybe: Trim}"}`), `no stance is called "maybe"`},
		{"a broken mark", lines(`- {who: student, say: "{trim-set Trim}"}`), "not of the form"},
		{"a mark without words", lines(`- {who: student, say: "so {trim-set: }"}`), "has no words"},
		{"punctuation by itself", lines(`- {who: student, say: "so - there"}`), "is no word"},
		{"letters no voice can time", lines(`- {who: student, say: "naïve"}`), "plain punctuation"},
		{"three channels", "title: x\nchannels: 3\nvoices: {a: slt}\nlines: [{who: a, say: hello}]", "channels 3"},
		{"two channels without seats", "title: x\nchannels: 2\nvoices: {a: slt}\nlines: [{who: a, say: hello}]", "two seats"},
		{"a leak louder than the voice", "title: x\nleak: 3\nvoices: {a: slt}\nlines: [{who: a, say: hello}]", "quieter"},
		{"an unknown procedure", lines("- {begin: barrel-roll}\n- {end: barrel-roll}"), "barrel-roll"},
		{"a maneuver that does not end", lines("- {begin: slow-flight-clean}\n- {who: student, say: hello}"), "does not end"},
		{"a maneuver that did not begin", lines("- {end: slow-flight-clean}"), "did not begin"},
		{"a maneuver within a maneuver", lines("- {begin: slow-flight-clean}\n- {begin: slow-flight-landing}"), "within"},
		{"an unknown step", lines("- {begin: slow-flight-clean, verdicts: {trimm: late}}\n- {end: slow-flight-clean}"), `did you mean "trim"?`},
		{"an unknown verdict", lines("- {begin: slow-flight-clean, verdicts: {trim: bad}}\n- {end: slow-flight-clean}"), `no verdict is called "bad"`},
		{"a step that should be heard and is not said", lines("- {begin: slow-flight-clean}\n- {who: student, say: hello}\n- {end: slow-flight-clean}"), "but no line calls"},
		{"verdicts in the wrong place", lines("- {who: student, say: hello, verdicts: {trim: late}}"), "stand with begin"},
	} {
		_, err := Parse("some.yaml", []byte(c.script))
		if err == nil {
			t.Errorf("%s: no complaint", c.name)
		} else if !strings.Contains(err.Error(), c.complaint) || !strings.HasPrefix(err.Error(), "some.yaml") {
			t.Errorf("%s: %q does not say %q", c.name, err, c.complaint)
		}
	}
}

func TestVoicesAreNamedWithTheirEngine(t *testing.T) {
	for s, want := range map[string]Voice{
		"slt":                   {"flite", "slt"},
		"flite:kal16":           {"flite", "kal16"},
		"festival:kal_diphone":  {"festival", "kal_diphone"},
		"espeak-ng:en-us":       {"espeak-ng", "en-us"},
		"espeak-ng:en-us+f3":    {"espeak-ng", "en-us+f3"},
		"festival:x) (exit":     {},
		"espeak-ng:":            {},
		"flite:../../etc/voice": {},
	} {
		got, err := ParseVoice(s)
		if (err != nil) != (want == Voice{}) || err == nil && got != want {
			t.Errorf("%q is %v (%v), want %v", s, got, err, want)
		}
	}
}

func TestTheStepsOfAManeuverFollowFromWhatIsCalled(t *testing.T) {
	s, err := Parse("x", []byte(lines(`
- {begin: slow-flight-clean, verdicts: {trim: out-of-order, airspeed: not-heard, trim-cruise: not-heard}}
- {who: student, say: "{altitude=3000: Three thousand feet}, {carb-heat-on: carb heat on}, {trim-set: trim set}"}
- {who: student, say: "{power-back: power back}, {nose-up: nose up}, {full-power: full power}, {carb-heat-cold: carb heat cold}, {cruise-power: cruise power}"}
- {end: slow-flight-clean}`)))
	if err != nil {
		t.Fatal(err)
	}
	f, err := s.flown()
	if err != nil {
		t.Fatal(err)
	}
	for step, want := range map[string]rules.Verdict{
		"carb-heat-on":   rules.Heard,         // required and not told otherwise
		"trim":           rules.OutOfOrder,    // as told
		"airspeed":       rules.NotHeard,      // as told
		"altitude":       rules.Heard,         // optional, and called
		"clearing-turns": rules.NotApplicable, // optional, and not called
	} {
		if got := f[0].verdicts[step]; got != want {
			t.Errorf("%s is to be %q, want %q", step, got, want)
		}
	}
}

func TestACallThatServesAStepServesNoOptionalOneToo(t *testing.T) {
	for _, c := range []struct {
		says, recovery string
		want           rules.Verdict
	}{
		{"the airspeed of the entry is not that of the climb", "", rules.NotApplicable},
		{"a second airspeed is", ", {airspeed=75: seventy-five knots}", rules.Heard},
	} {
		t.Run(c.says, func(t *testing.T) {
			s, err := Parse("x", []byte(lines(`
- {begin: power-on-stall}
- {who: student, say: "{power-back: Power back}, {airspeed=55: fifty-five knots}, {full-power: full power}, {nose-up: nose up}, {stall-warning: horn}, {nose-down: nose down}, {wings-level: wings level}`+c.recovery+`, {cruise-power: cruise power}"}
- {end: power-on-stall}`)))
			if err != nil {
				t.Fatal(err)
			}
			f, err := s.flown()
			if err != nil {
				t.Fatal(err)
			}
			if got := f[0].verdicts["climb-speed"]; got != c.want {
				t.Errorf("climb speed is to be %q, want %q", got, c.want)
			}
		})
	}
}

// The scripts to measure with: enough of them, and every voice in both sets.
func TestTheScriptsToMeasureWithAreSound(t *testing.T) {
	all := []string{"flite:slt", "flite:rms", "flite:awb", "flite:kal16", "festival:kal_diphone"}
	for _, set := range []string{"tuning", "heldback"} {
		files, err := filepath.Glob(filepath.Join("..", "..", "..", "testdata", "lessons", set, "*.yaml"))
		if err != nil {
			t.Fatal(err)
		}
		if len(files) < 8 {
			t.Errorf("%s has %d scripts, want 8", set, len(files))
		}
		voices := map[string]bool{}
		for _, file := range files {
			b, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			s, err := Parse(file, b)
			if err != nil {
				t.Error(err)
				continue
			}
			for _, v := range s.Voices {
				voice, err := ParseVoice(v)
				if err != nil {
					t.Error(err)
				}
				voices[voice.String()] = true
				voices[voice.Engine] = true
			}
		}
		for _, v := range append(all, "espeak-ng") {
			if !voices[v] {
				t.Errorf("no script of %s has the voice %s", set, v)
			}
		}
	}
}
