package callouts

import (
	"strings"
	"testing"

	"sidetone/audio/transcript"
)

// mostPhrases is how many phrases a recogniser is asked to listen for at most:
// figures multiply, and each costs it time.
const mostPhrases = 60_000

func TestThePhrasesToListenForStayFew(t *testing.T) {
	lex, _ := builtinFinder(t)
	all, err := expectedPhrases(lex)
	if err != nil {
		t.Fatal(err)
	}
	if len(all) > mostPhrases {
		t.Errorf("%d phrases, want at most %d", len(all), mostPhrases)
	}
	t.Logf("%d phrases", len(all))
}

// Every phrase the recogniser is told to listen for, heard word for word, is
// found as the callout it is of and as no other. Of phrases that differ in their
// figure only, a sample is tried.
// By the words of the lexicon; TestWhatIsListenedForIsUnderstood goes by what they
// mean too, for a share of them.
func TestEveryExpectedPhraseIsFoundAsItsOwnCallout(t *testing.T) {
	f := listedFinder(t)
	lex := f.lexicon
	for _, c := range lex.Callouts {
		all, err := expectedPhrases((&Lexicon{Callouts: []Callout{c}}))
		if err != nil {
			t.Fatal(err)
		}
		every := 1
		switch { // of one act there are many phrases that differ in a little word
		case len(all) > 100 && c.Quantity != "":
			every = 13
		case len(all) > 100:
			every = 3
		}
		for i := 0; i < len(all); i += every {
			p := all[i]
			if c.ID == "flaps" && strings.HasSuffix(p, "zero") {
				continue // flaps zero is flaps up
			}
			u := transcript.Utterance{Start: 1, End: 3, Text: p}
			calls := f.Find(&transcript.Transcript{Utterances: []transcript.Utterance{u}})
			if len(calls) != 1 || calls[0].ID != c.ID || calls[0].Confidence < 0.5 {
				t.Errorf("%q of %s: got [%s] %v", p, c.ID, brief(calls), calls)
			}
		}
	}
}

// The ways pilots say them, beside the phrases of the lexicon.
func TestCallsOfTheGroundThePatternAndTheStalls(t *testing.T) {
	_, f := builtinFinder(t)
	for _, c := range []struct{ line, want string }{
		{"Okay, clear left.", "clear-left"},
		{"Clear right, steep turn to the right.", "clear-right, steep-turn"},
		{"Clear left, clear right.", "clear-left, clear-right"},
		{"There's the stall. Recovering.", "full-stall, recover"},
		{"Horn. Buffet. Stall.", "stall-warning, stall-warning, full-stall"},
		{"Rolling out.", "rolling-out"},
		{"And leveling off.", "leveling-off"},
		{"Leveling off three thousand five hundred.", "altitude=3500"},
		{"Prop forward.", "propeller-forward"},
		{"Prop twenty three hundred.", "propeller-set=2300"},
		{"Manifold pressure eighteen inches.", "manifold-pressure=18"},
		{"Twenty two inches.", "manifold-pressure=22"},
		{"Leaning the mixture.", "mixture-lean"},
		{"Mixture rich.", "mixture-rich"},
		{"Mixture idle cutoff, fuel off, magnetos off.", "mixture-cutoff, fuel-off, magnetos-off"},
		{"Boost pump on.", "fuel-pump-on"},
		{"Fuel pump's off.", "fuel-pump-off"},
		{"Cowl flaps open.", "cowl-flaps-open"},
		{"Cowl flaps closed.", "cowl-flaps-closed"},
		{"Left mag... right mag... both.", "magneto-check, magneto-check"},
		{"Parking brake is set.", "brakes-set"},
		{"Controls are free and correct.", "controls-free"},
		{"Before takeoff checklist complete.", "before-takeoff-check"},
		{"Run-up complete.", "before-takeoff-check"},
		{"Airspeed alive. Fifty five, rotate.", "airspeed-alive, rotate=55"},
		{"Rotate.", "rotate"},
		{"Positive rate, gear up.", "positive-rate, gear-up"},
		{"Seventy five for the climb.", "climb-speed=75"},
		{"Cruise checklist complete.", "cruise-check"},
		{"Cruise power, twenty three hundred.", "cruise-power=2300"},
		{"Abort, abort, abort!", "reject-takeoff"},
		{"Aborting the takeoff.", "reject-takeoff"},
		{"Maximum braking.", "braking"},
		{"Meadow traffic, trainer is left downwind runway two seven, Meadow.", "downwind"},
		{"Abeam the numbers, carb heat on, power back.", "abeam, carb-heat-on, power-back"},
		{"Meadow traffic, trainer turning left base.", "base"},
		{"Turning final.", "final"},
		{"Before landing check complete.", "before-landing-check"},
		{"Gear down, three green.", "gear-down, gear-down"},
		{"Clear of the runway.", "clear-of-runway"},
		{"After landing checklist complete.", "after-landing-check"},
		{"Pitching for best glide, seventy five.", "best-glide=75"},
		{"I've got a field.", "field-picked"},
		{"Mayday, mayday, mayday.", "mayday"},
		{"Squawking seventy seven hundred.", "squawk-emergency"},
		{"Diverting to Meadow.", "diverting"},
		{"Time noted.", "time-noted"},
		{"We have plenty of fuel.", "fuel-check"},
		{"I'm not sure where we are.", "lost"},
		{"We're lost.", "lost"},
		{"I know where we are.", "position-fixed"},
		{"Requesting vectors.", "request-help"},
	} {
		if got := brief(sure(f.Find(line(c.line)))); got != c.want {
			t.Errorf("%q: got [%s], want %s", c.line, got, c.want)
		}
	}
}

// talk has the words of calls in it, and none of the calls.
const talk = `
What a clear day, you can see for miles.
The left one is mine, the right one is yours.
There is a stall at the market that sells honey.
Turn around and look at the river.
I would like to level with you about the bill.
My propeller hat blew off at the fair.
The mixture of people there was great.
Somebody cut off the road to the airport.
He set the parking ticket on the dash.
The brakes on my car need work.
It was free and correct change only at the toll.
The doors of the hangar squeak.
Fasten your belt when you sit down in the truck.
We briefed this one before lunch.
I had a briefing with the boss this morning.
The transponder is new, it cost a lot.
The cruise ship leaves on Saturday.
The lights of the town are pretty at night.
Fuel costs more again this week.
I have to buy fuel on the way home.
The final exam is in two weeks.
She plays bass in a band.
They moved to a new base in the north.
The numbers on that runway need paint.
The runway here is long enough.
Taxi back to the ramp, please.
Who is that on the runway?
The landing was smooth yesterday.
The engine on the old truck quit last winter.
The best part is the view.
Look at the field with the cows in it.
My door at home sticks when it rains.
What time is it?
Time to go home soon.
How far is it from here to the coast?
I got lost in the parking lot.
The position is open, they are hiring.
He needed help with his homework.
They found the dog by the creek.
I know where that road goes.
The weather is stable this week.
You climbed that hill last summer?
Is that the landmark from the postcard?
The base of the clouds is high today.
I saw the final game on television.
Glider tow is three miles north of the field at two thousand.
Wind is two two zero at eight.
Meadow radio, good morning, any traffic reported?
Say again for Meadow?
Taxiing to runway two seven, Meadow.
Departing to the west, Meadow traffic.
Contact ground on one two one point eight.
Radar service terminated, have a good day.
Altimeter two niner niner two.
`

func TestTalkWithTheWordsOfCallsIsNoCallOfTheLexicon(t *testing.T) {
	f := listedFinder(t)
	for text := range strings.SplitSeq(strings.TrimSpace(talk), "\n") {
		if got := made(f.Find(line(text))); len(got) > 0 {
			t.Errorf("%q: got %s, want no call", text, brief(got))
		}
	}
}
