package callouts

import (
	"slices"
	"strings"
	"testing"
)

// ids are agreed with the procedures.
var ids = strings.Fields(`clearing-turns pre-maneuver-check carb-heat-on carb-heat-cold power-back power-set
	cruise-power power-idle full-power nose-up nose-down trim-set flaps flaps-full flaps-up airspeed airspeed-alive
	altitude heading bank positive-rate gear-up gear-down stall-warning recover wings-level straight-and-level
	mixture-rich fuel-both lights-on gauges-green controls-mine controls-yours discontinue do-again going-around
	clear-left clear-right clear-above full-stall right-rudder steep-turn rolling-out leveling-off
	propeller-forward propeller-set manifold-pressure climb-power mixture-lean mixture-cutoff fuel-off
	fuel-pump-on fuel-pump-off cowl-flaps-open cowl-flaps-closed alternate-air magnetos-both magnetos-off
	master-off brakes-set controls-free instruments-set magneto-check carb-heat-check propeller-check idle-check
	suction-ammeter trim-takeoff flaps-takeoff doors-closed belts-secure takeoff-briefing transponder-set
	before-takeoff-check lined-up rotate climb-speed climb-check cruise-check lights-off reject-takeoff braking
	downwind abeam base final before-landing-check runway-clear stabilized clear-of-runway after-landing-check
	emergency-descent engine-failure best-glide field-picked restart mayday squawk-emergency doors-open diverting
	time-noted distance eta fuel-check advise-atc lost climb-to-see last-position request-help landmark save-fuel
	position-fixed`)

func TestTheBuiltInLexiconHasTheAgreedCallouts(t *testing.T) {
	lex, _ := builtinFinder(t)
	for _, id := range ids {
		if lex.index(id) < 0 {
			t.Errorf("no callout %q", id)
		}
	}
	for _, c := range lex.Callouts {
		if !slices.Contains(ids, c.ID) {
			t.Errorf("callout %q is in no agreement", c.ID)
		}
		if c.Title == "" {
			t.Errorf("callout %q has no title", c.ID)
		}
	}
}

// aFigure is a figure to say in a phrase of each quantity.
var aFigure = map[Quantity]struct {
	words string
	value float64
}{
	Altitude: {"three thousand five hundred", 3500}, Heading: {"two seven zero", 270}, Airspeed: {"six five", 65},
	RPM: {"seventeen hundred", 1700}, Flaps: {"twenty", 20}, Bank: {"thirty", 30}, Count: {"eighteen", 18},
}

func TestEveryPhraseOfTheLexiconIsHeardAsItsCallout(t *testing.T) {
	lex, f := builtinFinder(t)
	for _, c := range lex.Callouts {
		for _, list := range []struct {
			phrases []string
			stance  Stance
		}{{c.Say, Done}, {c.Alone, Done}, {c.Order, Ordered}} {
			for _, s := range list.phrases {
				ways, err := compilePhrase(s, c.Quantity)
				if err != nil {
					t.Fatal(err)
				}
				for _, w := range ways {
					words := slices.Clone(w.pre)
					if w.slot {
						words = append(words, aFigure[c.Quantity].words)
					}
					text := strings.Join(append(words, w.post...), " ")
					calls := f.Find(line(text))
					if len(calls) != 1 || calls[0].ID != c.ID || calls[0].Stance != list.stance || calls[0].Confidence < 0.5 {
						t.Errorf("%q: got [%s] %v, want %s %s", text, brief(calls), calls, c.ID, list.stance)
						continue
					}
					if w.slot && (calls[0].Value == nil || *calls[0].Value != aFigure[c.Quantity].value) {
						t.Errorf("%q: got [%s], want the value %v", text, brief(calls), aFigure[c.Quantity].value)
					}
				}
			}
		}
	}
}

func TestABrokenLexiconSaysWhereAndWhat(t *testing.T) {
	for _, c := range []struct{ yaml, want string }{
		{"", "x.yaml:1:1: no callouts"},
		{"callouts:\n  - id: a\n    say: [carb heat on]\n    sya: [x]\n", "x.yaml:4:5: unknown field"},
		{"callouts:\n  - id: a\n    say: [carb heat on\n", "x.yaml:3:"},
		{"callouts:\n  - title: A\n    say: [carb heat on]\n", "x.yaml:2:"},
		{"callouts:\n  - id: Carb Heat\n    say: [carb heat on]\n", "x.yaml:2:9: id \"Carb Heat\": use small letters"},
		{"callouts:\n  - id: a\n    quantity: speed\n    say: [carb heat on]\n", "x.yaml:3:15: unknown quantity \"speed\""},
		{"callouts:\n  - id: a\n    title: A\n", "has nothing to say"},
		{"callouts:\n  - id: a\n    say:\n      - carb heat on\n      - \"flaps {flaps}\"\n", "x.yaml:5:9: phrase \"flaps {flaps}\" asks for {flaps} but the callout has no quantity"},
		{"callouts:\n  - id: a\n    quantity: rpm\n    say:\n      - \"flaps {flaps}\"\n", "the callout's quantity is rpm"},
		{"callouts:\n  - id: a\n    quantity: rpm\n    say:\n      - \"{rpm}\"\n", "needs words as well"},
		{"callouts:\n  - id: a\n    say:\n      - \"carb [heat on\"\n", "x.yaml:4:9: phrase \"carb [heat on\": \"[\" without \"]\""},
		{"callouts:\n  - id: a\n    say:\n      - \"carb heat] on\"\n", "\"]\" without \"[\""},
		{"callouts:\n  - id: a\n    say:\n      - up\n", "too short"},
		{"callouts:\n  - id: a\n    say: [carb heat on]\n  - id: a\n    say: [carb heat off]\n", "x.yaml:4:9: callout \"a\" is written twice"},
		{"callouts:\n  - id: a\n    say:\n      - \"a/b/c/d a/b/c/d a/b/c/d a/b/c/d\"\n", "more than 64 ways"},
	} {
		_, err := ParseLexicon("x.yaml", []byte(c.yaml))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q:\n got %v\nwant %s", c.yaml, err, c.want)
		}
	}
}

func TestPhrasesCanBeAddedToTheLexicon(t *testing.T) {
	lex, _ := builtinFinder(t)
	before := len(lex.Callouts)
	more := lex.With(
		Callout{ID: "carb-heat-on", Say: []string{"alternate warm air"}},
		Callout{ID: "cowl-flaps-open", Title: "Cowl flaps open", Say: []string{"cowl flaps open"}},
	)
	f, err := NewFinder(more)
	if err != nil {
		t.Fatal(err)
	}
	if got := brief(f.Find(line("Alternate warm air. Cowl flaps open."))); got != "carb-heat-on, cowl-flaps-open" {
		t.Errorf("got %s", got)
	}
	if len(lex.Callouts) != before || slices.Contains(lex.Callouts[lex.index("carb-heat-on")].Say, "alternate warm air") {
		t.Error("With changed the lexicon it was asked of")
	}
	if _, err := NewFinder(lex.With(Callout{ID: "x", Say: []string{"{rpm} x"}})); err == nil || !strings.Contains(err.Error(), `callout "x"`) {
		t.Errorf("a bad phrase added: got %v, want an error naming its callout", err)
	}
}

func TestPhrasesExpandToEveryWayTheyAreSaid(t *testing.T) {
	got, err := expand("power [is [now]] back/reduced")
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(got)
	want := []string{"power back", "power is back", "power is now back", "power is now reduced", "power is reduced", "power reduced"}
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}
