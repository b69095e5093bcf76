package timeline_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/rulestest"
	"sidetone/timeline"
)

// What is said in an hour of flying beside the calls: lines of an invented crew, of
// the radio, and of a teacher who speaks of maneuvers, calls and their figures.
const saidBetween = `
That was a bumpy ride over the ridge, wasn't it?
Keep your eyes outside for a minute, there is a lot of haze today.
Meadow traffic, trainer six one is five miles to the north, two thousand five hundred, inbound, Meadow.
Do you see the two gliders at our ten o'clock?
I see one of them, the other one is behind the hill.
Last week your steep turns were good, today we want them smooth.
The common mistake in slow flight is to trim before the power is back.
When you feel the buffet, lower the nose first and then add full power.
If the engine quits, you pitch for best glide and pick a field.
Meadow traffic, biplane is turning left base, runway two seven, Meadow.
What would you do if the flaps did not come up?
I would land without them, a bit faster.
Never let the airspeed decay on final.
Meadow traffic, trainer six one going around, sheep on the runway, Meadow.
How is your sister doing at the new school?
She likes it, but the bus ride is long.
The stall warning in this one is a reed, in the other one it is a vane.
Next week we will fly to the coast if the weather holds.
Trainer four two, traffic is a glider, two miles, opposite direction.
Traffic in sight, four two.
People always forget the carb heat in a go-around.
We talked about the power off stall on the ground, remember?
You had the trim wheel all the way back last time.
Let us climb a little and get out of the bumps.
Nice view of the lake from up here.
The examiner will want to see you within a hundred feet.
Somebody is burning leaves down there, see the smoke?
Meadow traffic, glider tow is taking off runway two seven, Meadow.
I had a student once who raised the gear instead of the flaps.
The wind is two four zero at eight, gusting to fifteen.
Your scan is much better than it was.
Could you hold that map for me please?
In an emergency descent we would have the gear down in the other airplane.
A diversion is nothing but a short flight plan made in a hurry.
I wonder whether the café is open on Sundays.
That field over there would do for a landing, the other one has wires.
We have about two hours of fuel left in the tanks, by my watch.
Remember that full flaps is drag and not lift.
The rejected takeoff is something everybody should practice once a year.
It says in the handbook to lean above three thousand feet.
Do you always put your headset on that way around?
I can smell the rain already.
`

// script is an hour in words: maneuvers in random order, and talk between them. Some
// of them are named before. It gives the maneuvers and when they were flown.
func script(rng *rand.Rand, plans []*rules.Plan, lex *callouts.Lexicon) (t *transcript.Transcript, want []string, flown [][2]float64) {
	lines := strings.Split(strings.TrimSpace(saidBetween), "\n")
	t = &transcript.Transcript{}
	at := 0.0
	say := func(from float64, text string) float64 {
		end := from + 0.3 + 0.33*float64(len(strings.Fields(text)))
		t.Utterances = append(t.Utterances, transcript.Utterance{Start: from, End: end, Text: text})
		return end
	}
	talk := func(until float64) {
		for at < until {
			at = say(at, lines[rng.IntN(len(lines))]) + 1.5 + 9*rng.Float64()
		}
	}
	for i, k := range rng.Perm(len(plans))[:8] {
		talk(3600.0/8*(float64(i)+0.5) - 60*rng.Float64())
		names := plans[k].Procedure.SpokenNames()
		if rng.IntN(2) == 0 {
			at = say(at, "Okay, let's do the "+plainPhrase(names[rng.IntN(len(names))], "")+" now.") + 8
		}
		calls, _ := rulestest.Perfect(plans[k], at)
		for _, c := range calls {
			at = max(at, say(c.Start, sayCall(lex, c)))
		}
		want = append(want, plans[k].Procedure.ID)
		flown = append(flown, [2]float64{calls[0].Start, at})
		at += 6
	}
	talk(3600)
	return t, want, flown
}

func sayCall(lex *callouts.Lexicon, c callouts.Call) string {
	i := slices.IndexFunc(lex.Callouts, func(o callouts.Callout) bool { return o.ID == c.ID })
	o := lex.Callouts[i]
	all := slices.Concat(o.Say, o.Alone)
	figure := ""
	if c.Value != nil {
		figure = strconv.FormatFloat(*c.Value, 'f', -1, 64)
		all = slices.DeleteFunc(all, func(s string) bool { return !strings.Contains(s, "{") })
	} else if plain := slices.IndexFunc(all, func(s string) bool { return !strings.Contains(s, "{") }); plain >= 0 {
		all = all[plain:]
	}
	if c.Value != nil && o.Quantity == callouts.Heading {
		figure = fmt.Sprintf("%03.0f", *c.Value)
	}
	s := plainPhrase(all[0], figure)
	return strings.ToUpper(s[:1]) + s[1:] + "."
}

// plainPhrase is the shortest way to say a phrase of the lexicon.
func plainPhrase(s, figure string) string {
	for strings.Contains(s, "[") {
		open := strings.LastIndex(s, "[")
		s = s[:open] + s[open+strings.Index(s[open:], "]")+1:]
	}
	var out []string
	for w := range strings.FieldsSeq(s) {
		if strings.HasPrefix(w, "{") {
			w = figure
		}
		w, _, _ = strings.Cut(w, "/")
		out = append(out, w)
	}
	return strings.Join(out, " ")
}

// An hour of eight maneuvers in random order with talk and radio between them, from
// the words on: all of them are found, where they were flown, and no other.
func TestTheManeuversOfAnHourOfTalkAreAllFoundAndNoneInvented(t *testing.T) {
	lex, err := callouts.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	finder, err := callouts.NewFinder(lex)
	if err != nil {
		t.Fatal(err)
	}
	named := libraryNames(t)
	for ac, plans := range wholeLibrary(t) {
		for seed := range uint64(3) {
			words, want, flown := script(rand.New(rand.NewPCG(seed, 17)), plans, lex)
			found := timeline.Understand(words, finder, named).Find(plans)
			if got := told(found); !slices.Equal(got, want) {
				t.Errorf("%s, hour %d: told %q, want %q", ac, seed, got, want)
				continue
			}
			for i, a := range found {
				if math.Abs(a.Start-flown[i][0]) > 5 || math.Abs(a.End-flown[i][1]) > 5 {
					t.Errorf("%s, hour %d: %s found from %.0f to %.0f, flown from %.0f to %.0f", ac, seed, a.Procedure, a.Start, a.End, flown[i][0], flown[i][1])
				}
				for _, f := range a.Findings {
					if f.Severity != rules.Note {
						t.Errorf("%s, hour %d, %s: %s", ac, seed, a.Procedure, f.Message)
					}
				}
			}
		}
	}
}

func TestHalfAnHourOfTalkAndRadioHoldsNoManeuver(t *testing.T) {
	lex, err := callouts.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	finder, err := callouts.NewFinder(lex)
	if err != nil {
		t.Fatal(err)
	}
	named := libraryNames(t)
	lines := strings.Split(strings.TrimSpace(saidBetween), "\n")
	for ac, plans := range wholeLibrary(t) {
		for seed := range uint64(4) {
			rng := rand.New(rand.NewPCG(seed, 19))
			words := &transcript.Transcript{}
			for at := 0.0; at < 1800; {
				line := lines[rng.IntN(len(lines))]
				end := at + 0.3 + 0.33*float64(len(strings.Fields(line)))
				words.Utterances = append(words.Utterances, transcript.Utterance{Start: at, End: end, Text: line})
				at = end + 0.5 + 4*rng.Float64()
			}
			if got := told(timeline.Understand(words, finder, named).Find(plans)); len(got) > 0 {
				t.Errorf("%s, half hour %d: told %q", ac, seed, got)
			}
		}
	}
}
