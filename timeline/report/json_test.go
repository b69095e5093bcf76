package report

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"sidetone/audio/transcript"
	"sidetone/rules"
	"sidetone/timeline"
)

func schema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(Schema))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("debrief.schema.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("debrief.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// written is what JSON writes of tl, as any reader would see it.
func written(t *testing.T, tl *timeline.Timeline) map[string]any {
	t.Helper()
	var b bytes.Buffer
	if err := JSON(&b, tl); err != nil {
		t.Fatal(err)
	}
	v, err := jsonschema.UnmarshalJSON(&b)
	if err != nil {
		t.Fatal(err)
	}
	return v.(map[string]any)
}

func TestJSONFollowsItsSchema(t *testing.T) {
	s := schema(t)
	hollow := &timeline.Timeline{
		Transcript: []transcript.Utterance{{}},
		Maneuvers:  []rules.Assessment{{Procedure: "slow-flight-clean"}},
	}
	for name, tl := range map[string]*timeline.Timeline{"the lesson": lesson(), "nothing at all": {}, "nil lists": hollow} {
		if err := s.Validate(written(t, tl)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// The field names are the contract other programs read: they are written out
// here so that a renamed field fails, whatever the schema says.
func TestJSONHasTheFieldsOfTheContract(t *testing.T) {
	got := written(t, lesson())
	for path, want := range map[string][]string{
		"":                   {"version", "recording", "transcript", "calls", "judged", "maneuvers"},
		"recording":          {"file", "duration", "channels", "sample_rate", "speech_seconds"},
		"transcript":         {"start", "end", "channel", "speaker", "text", "words"},
		"transcript.words":   {"text", "start", "end", "confidence"},
		"calls":              {"id", "start", "end", "speaker", "stance", "value", "unit", "confidence", "heard"},
		"maneuvers":          {"procedure", "title", "start", "end", "abandoned", "steps", "findings", "remarks"},
		"maneuvers.steps":    {"id", "title", "phase", "verdict", "waived", "prompted", "at", "call", "value", "confidence", "reason"},
		"maneuvers.findings": {"step", "kind", "severity", "at", "message", "reference"},
	} {
		var v any = got
		for _, key := range strings.FieldsFunc(path, func(r rune) bool { return r == '.' }) {
			v = v.(map[string]any)[key]
			if list, ok := v.([]any); ok {
				v = list[0]
			}
		}
		have := map[string]bool{}
		for key := range v.(map[string]any) {
			have[key] = true
		}
		need := map[string]bool{}
		for _, key := range want {
			need[key] = true
		}
		if d := cmp.Diff(need, have); d != "" {
			t.Errorf("%q: -want +got\n%s", path, d)
		}
	}
	if v := got["version"]; v != json.Number("1") {
		t.Errorf("version %v", v)
	}
}

func TestSchemaRefuses(t *testing.T) {
	s := schema(t)
	type object = map[string]any
	first := func(v any) object { return v.([]any)[0].(object) }
	maneuver := func(d object) object { return first(d["maneuvers"]) }
	for name, change := range map[string]func(d object){
		"another version":      func(d object) { d["version"] = json.Number("2") },
		"a version in words":   func(d object) { d["version"] = "1" },
		"no calls":             func(d object) { delete(d, "calls") },
		"null for a list":      func(d object) { d["calls"] = nil },
		"null maneuvers":       func(d object) { d["maneuvers"] = nil },
		"null words":           func(d object) { first(d["transcript"])["words"] = nil },
		"null steps":           func(d object) { maneuver(d)["steps"] = nil },
		"null findings":        func(d object) { maneuver(d)["findings"] = nil },
		"a field nobody knows": func(d object) { d["notes"] = []any{} },
		"a misspelt field": func(d object) {
			r := d["recording"].(object)
			r["samplerate"] = r["sample_rate"]
			delete(r, "sample_rate")
		},
		"a negative time":              func(d object) { first(d["transcript"])["start"] = json.Number("-1") },
		"time in words":                func(d object) { first(d["calls"])["start"] = "0:33" },
		"a stance nobody knows":        func(d object) { first(d["calls"])["stance"] = "shouted" },
		"a unit nobody knows":          func(d object) { first(d["calls"])["unit"] = "furlong" },
		"certainty above one":          func(d object) { first(d["calls"])["confidence"] = json.Number("1.1") },
		"a verdict nobody knows":       func(d object) { first(maneuver(d)["steps"])["verdict"] = "failed" },
		"half a call":                  func(d object) { first(maneuver(d)["steps"])["call"] = json.Number("1.5") },
		"a call before the first":      func(d object) { first(maneuver(d)["steps"])["call"] = json.Number("-1") },
		"prompted in words":            func(d object) { first(maneuver(d)["steps"])["prompted"] = "yes" },
		"a step without its reason":    func(d object) { delete(first(maneuver(d)["steps"]), "reason") },
		"a severity nobody knows":      func(d object) { first(maneuver(d)["findings"])["severity"] = "fatal" },
		"a finding for what was heard": func(d object) { first(maneuver(d)["findings"])["kind"] = "heard" },
		"a finding without reference":  func(d object) { delete(first(maneuver(d)["findings"]), "reference") },
		"a waiver nobody knows":        func(d object) { first(maneuver(d)["steps"])["waived"] = "weather" },
		"abandoned without a reason":   func(d object) { maneuver(d)["abandoned"] = object{"at": json.Number("3")} },
		"null remarks":                 func(d object) { maneuver(d)["remarks"] = nil },
		"half a stretch":               func(d object) { d["judged"] = object{"from": json.Number("3")} },
		"an id with a blank":           func(d object) { first(d["calls"])["id"] = "carb heat" },
	} {
		t.Run(name, func(t *testing.T) {
			doc := written(t, lesson())
			if err := s.Validate(doc); err != nil {
				t.Fatal(err)
			}
			change(doc)
			if s.Validate(doc) == nil {
				t.Error("the schema lets it pass")
			}
		})
	}
}

func TestJSONRefusesWhatWouldMislead(t *testing.T) {
	bad := lesson()
	bad.Maneuvers[0].Steps[0].Call = ref(len(bad.Calls))
	var b bytes.Buffer
	if err := JSON(&b, bad); err == nil || b.Len() > 0 {
		t.Errorf("a step resting on a call that does not exist: %v, %d bytes written", err, b.Len())
	}
	bad = lesson()
	bad.Recording.Duration = math.NaN()
	if err := JSON(&b, bad); err == nil || b.Len() > 0 {
		t.Errorf("a length that is no number: %v, %d bytes written", err, b.Len())
	}
}

func TestJSONReadsBackAsTranscript(t *testing.T) {
	tl := lesson()
	var b bytes.Buffer
	if err := JSON(&b, tl); err != nil {
		t.Fatal(err)
	}
	got, err := transcript.Read("lesson.json", &b)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(tl.Transcript, got.Utterances); d != "" {
		t.Errorf("-want +got\n%s", d)
	}
}
