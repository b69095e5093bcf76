package schema_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"sidetone/rules"
	"sidetone/rules/library"
	"sidetone/rules/schema"
)

func compile(t *testing.T, b []byte) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("schema.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func validate(t *testing.T, s *jsonschema.Schema, text []byte) error {
	t.Helper()
	b, err := yaml.YAMLToJSON(text)
	if err != nil {
		t.Fatal(err)
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	return s.Validate(v)
}

func source(t *testing.T, id string) []byte {
	t.Helper()
	b, err := library.Source(id)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestTheLibraryKeepsToTheSchemas(t *testing.T) {
	procs, err := library.Procedures()
	if err != nil {
		t.Fatal(err)
	}
	s := compile(t, schema.Procedure)
	for _, p := range procs {
		if err := validate(t, s, source(t, p.ID)); err != nil {
			t.Errorf("%s: %v", p.ID, err)
		}
	}
	fleet, err := library.AllAircraft()
	if err != nil {
		t.Fatal(err)
	}
	s = compile(t, schema.Aircraft)
	for _, a := range fleet {
		if err := validate(t, s, source(t, a.ID)); err != nil {
			t.Errorf("%s: %v", a.ID, err)
		}
	}
}

// What the schema refuses, the parser refuses as well.
func TestWhatTheSchemasRefuse(t *testing.T) {
	good := string(source(t, "slow-flight-clean"))
	aircraft := string(source(t, "trainer"))
	procedures, craft := compile(t, schema.Procedure), compile(t, schema.Aircraft)
	for _, c := range []struct{ says, text, old, new string }{
		{"a mistyped setting", good, "    reference: common", "    referense: common"},
		{"a step without call", good, "        call: nose-up\n", ""},
		{"an unknown severity", good, "severity: safety", "severity: grave"},
		{"an unknown quantity", good, "of: rpm", "of: revs"},
		{"a tolerance below nothing", good, "minus: 0", "minus: -1"},
		{"a tolerance of nothing", good, "value: {of: altitude}", "value: {of: altitude, tolerance: 3}"},
		{"an id with a blank", good, "id: nose-up", "id: nose up"},
		{"no time to be within", good, "seconds: 20", "seconds: 0"},
		{"an order and none", good, "        anytime: true\n", "        anytime: true\n        after: []\n"},
		{"no phases", good, "phases:", "stages:"},
		{"a fact without value", aircraft, "{value: 1700, unit: rpm}", "{unit: rpm}"},
		{"a fact that is a list of words", aircraft, "[10, 20, 30]", "[ten, twenty]"},
		{"an aircraft without title", aircraft, "title: ", "name: "},
	} {
		text := strings.Replace(c.text, c.old, c.new, 1)
		if text == c.text {
			t.Fatalf("%s: %q is not in the file", c.says, c.old)
		}
		s := procedures
		_, err := rules.ParseProcedure("x.yaml", []byte(text))
		if c.text == aircraft {
			s = craft
			_, err = rules.ParseAircraft("x.yaml", []byte(text))
		}
		if err == nil {
			t.Errorf("%s: the parser takes it", c.says)
		}
		if validate(t, s, []byte(text)) == nil {
			t.Errorf("%s: the schema takes it", c.says)
		}
	}
}
