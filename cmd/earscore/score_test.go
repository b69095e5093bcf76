package main

import (
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/callouts/stance"
	"sidetone/cmd/internal/lesson"
	"sidetone/rules"
)

func val(f float64) *float64 { return &f }

func saidCall(id string, at float64, stance callouts.Stance, value *float64) lesson.SpokenCall {
	return lesson.SpokenCall{ID: id, Start: at, End: at + 1, Stance: stance, Value: value, Voice: "flite:slt"}
}

func perhaps(id string, at float64) lesson.SpokenCall {
	c := saidCall(id, at, callouts.Done, nil)
	c.Perhaps = true
	return c
}

func heardCall(id string, at float64, stance callouts.Stance, value *float64) callouts.Call {
	return callouts.Call{ID: id, Start: at, End: at + 1, Stance: stance, Value: value, Confidence: 0.9}
}

func TestACallIsRightWhenCalloutValueStanceAndTimeAgree(t *testing.T) {
	made := saidCall("flaps", 10, callouts.Done, val(20))
	for _, c := range []struct {
		name          string
		found         callouts.Call
		paired, right bool
	}{
		{"the same call", heardCall("flaps", 10, callouts.Done, val(20)), true, true},
		{"a little early", heardCall("flaps", 7.6, callouts.Done, val(20)), true, true},
		{"a little late", heardCall("flaps", 12.4, callouts.Done, val(20)), true, true},
		{"too early", heardCall("flaps", 7.4, callouts.Done, val(20)), false, false},
		{"too late", heardCall("flaps", 12.6, callouts.Done, val(20)), false, false},
		{"another figure", heardCall("flaps", 10, callouts.Done, val(30)), true, false},
		{"no figure", heardCall("flaps", 10, callouts.Done, nil), true, false},
		{"another stance", heardCall("flaps", 10, callouts.Ordered, val(20)), true, false},
		{"another callout", heardCall("flaps-up", 10, callouts.Done, nil), false, false},
	} {
		p := pair([]lesson.SpokenCall{made}, []callouts.Call{c.found})
		if (len(p) == 1) != c.paired || c.paired && p[0].right() != c.right {
			t.Errorf("%s: %+v", c.name, p)
		}
	}
	either := made
	either.Or = []string{"flaps-up"}
	either.Value = nil
	if p := pair([]lesson.SpokenCall{either}, []callouts.Call{heardCall("flaps-up", 10, callouts.Done, nil)}); len(p) != 1 || !p[0].right() {
		t.Error("a call that may be taken for another is not taken for it")
	}
}

func TestAnOrderAndItsAnswerAreToldApart(t *testing.T) {
	made := []lesson.SpokenCall{saidCall("carb-heat-on", 10, callouts.Ordered, nil), saidCall("carb-heat-on", 11.2, callouts.Done, nil)}
	p := pair(made, []callouts.Call{heardCall("carb-heat-on", 11.1, callouts.Done, nil)})
	if len(p) != 1 || p[0].made != 1 || !p[0].right() {
		t.Errorf("the answer was heard and not the order, but the pairing is %+v", p)
	}
	p = pair(made, []callouts.Call{heardCall("carb-heat-on", 10, callouts.Done, nil), heardCall("carb-heat-on", 11.2, callouts.Done, nil)})
	if len(p) != 2 || p[0].made != 1 || p[0].found != 1 || p[1].stance {
		t.Errorf("the order was taken for a call: %+v", p)
	}
}

func flownClean() lesson.FlownProcedure {
	return lesson.FlownProcedure{Procedure: "slow-flight-clean", Start: 10, End: 60, Voice: "flite:slt", Verdicts: map[string]rules.Verdict{
		"carb-heat-on": rules.Heard, "power-back": rules.Heard, "trim": rules.OutOfOrder,
		"airspeed": rules.NotHeard, "heading": rules.NotApplicable, "altitude": rules.Heard,
	}}
}

func TestVerdictsAreHeldAgainstTheSheet(t *testing.T) {
	found := rules.Assessment{Procedure: "slow-flight-clean", Start: 12, End: 50, Steps: []rules.StepResult{
		{ID: "carb-heat-on", Verdict: rules.NotHeard},  // called: falsely accused
		{ID: "power-back", Verdict: rules.Unsure},      // called: not right, and no accusation
		{ID: "trim", Verdict: rules.OutOfOrder},        // as the sheet says
		{ID: "airspeed", Verdict: rules.OffValue},      // never called: not right, and no false accusation
		{ID: "heading", Verdict: rules.NotApplicable},  // optional, not called: left out
		{ID: "altitude", Verdict: rules.NotApplicable}, // optional and called, but not heard
	}}
	elsewhere := rules.Assessment{Procedure: "slow-flight-clean", Start: 100, End: 150, Steps: []rules.StepResult{
		{ID: "trim", Verdict: rules.Heard}, {ID: "power-back", Verdict: rules.NotHeard}, {ID: "heading", Verdict: rules.NotApplicable}}}
	s := &scored{made: &made{truth: lesson.Truth{Maneuvers: []lesson.FlownProcedure{flownClean()}}, found: []rules.Assessment{elsewhere, found}}, byVoice: map[string]*tally{}}
	s.countSteps()
	got := *s.of("flite:slt")
	if got.Steps != 5 || got.StepRight != 1 || got.StepsMade != 4 || got.Accused != 1 || got.Unsure != 1 || got.Flown != 1 || got.Spotted != 1 {
		t.Errorf("of the maneuver flown: %+v", got)
	}
	got = *s.of("")
	if got.Steps != 2 || got.StepRight != 0 || got.StepsMade != 0 || got.Accused != 1 || got.Invented != 1 {
		t.Errorf("of the maneuver nobody flew: %+v", got)
	}
}

func TestAManeuverThatIsNotFoundAccusesNobody(t *testing.T) {
	other := rules.Assessment{Procedure: "slow-flight-landing", Start: 12, End: 50}
	s := &scored{made: &made{truth: lesson.Truth{Maneuvers: []lesson.FlownProcedure{flownClean()}}, found: []rules.Assessment{other}}, byVoice: map[string]*tally{}}
	s.countSteps()
	got := *s.of("flite:slt")
	if got.Steps != 5 || got.StepRight != 0 || got.Accused != 0 || got.Spotted != 0 || s.of("").Invented != 1 {
		t.Errorf("%+v", got)
	}
}

func TestCallsAreCountedByWhatCanChangeAVerdict(t *testing.T) {
	s := &scored{byVoice: map[string]*tally{}, made: &made{
		truth: lesson.Truth{
			Lines: []lesson.SpokenLine{{Start: 0, End: 100, Voice: "flite:slt"}},
			Calls: []lesson.SpokenCall{
				saidCall("flaps", 10, callouts.Done, val(10)),
				saidCall("flaps", 20, callouts.Ordered, val(20)),
				saidCall("trim-set", 30, callouts.TalkedAbout, nil), // found as done: a false alarm
				saidCall("full-power", 40, callouts.Asked, nil),     // not found: nothing lost
				saidCall("nose-up", 50, callouts.Done, nil),         // not found: missed
				perhaps("distance", 60),                             // not found: nothing lost
				perhaps("landmark", 90),                             // found: nothing wrong
			},
		},
		calls: []callouts.Call{
			heardCall("flaps", 10.2, callouts.Done, val(10)),
			heardCall("flaps", 10.5, callouts.Done, val(10)), // the same once more: "flaps, flaps ten"
			heardCall("flaps", 20, callouts.Ordered, val(20)),
			heardCall("trim-set", 30, callouts.Done, nil),
			heardCall("gear-up", 70, callouts.Announced, nil), // named by nobody, and harmless
			heardCall("gear-up", 80, callouts.Done, nil),      // named by nobody
			heardCall("landmark", 90, callouts.Done, nil),
		},
	}}
	s.countCalls()
	got := *s.of("flite:slt")
	if got.Made != 3 || got.Found != 4 || got.Right != 2 || got.Stances != 3 || got.StancesRight != 2 {
		t.Errorf("made %d, found %d, right %d; stances %d, right %d", got.Made, got.Found, got.Right, got.Stances, got.StancesRight)
	}
	if want := []float64{0.2, 0}; len(got.TimeErrors) != 2 || math.Abs(got.TimeErrors[0]+got.TimeErrors[1]-want[0]) > 1e-9 {
		t.Errorf("time errors %v, want %v", got.TimeErrors, want)
	}
	// Of the five at 0.9, three were made with that value at that time, in whatever stance.
	if b := got.Bins[binOf(0.9)]; b.Calls != 5 || b.Right != 3 {
		t.Errorf("confidence: %+v", b)
	}
}

func TestConfidencesFallIntoTheirBins(t *testing.T) {
	for c, from := range map[float64]float64{0: 0, 0.29: 0, 0.3: 0.3, 0.59: 0.5, 0.8: 0.8, 0.95: 0.95, 1: 0.95} {
		if got := binEdges[binOf(c)]; got != from {
			t.Errorf("%g is in the bin from %g, want %g", c, got, from)
		}
	}
}

func TestQuantilesAreByNearestRank(t *testing.T) {
	v := []float64{5, 1, 2, 4, 3}
	for q, want := range map[float64]float64{0.5: 3, 0.95: 5, 0.2: 1, 0.21: 2} {
		if got := quantile(v, q); got != want {
			t.Errorf("quantile %g is %g, want %g", q, got, want)
		}
	}
	if !math.IsNaN(quantile(nil, 0.5)) || !slices.Equal(v, []float64{5, 1, 2, 4, 3}) {
		t.Error("quantile of nothing, or it sorts what it is given")
	}
}

func TestWordErrorsAreThoseOfWhoeverSpoke(t *testing.T) {
	w := func(texts ...string) (out []lesson.SpokenWord) {
		for _, s := range texts {
			out = append(out, lesson.SpokenWord{Text: s})
		}
		return out
	}
	m := &made{name: "x", channels: []int{0}, truth: lesson.Truth{Lines: []lesson.SpokenLine{
		{Voice: "flite:slt", Channel: -1, Text: "Flaps ten.", Words: w("Flaps", "ten.")},
		{Voice: "flite:rms", Channel: -1, Text: "Very good.", Words: w("Very", "good.")},
	}}, words: &transcript.Transcript{Utterances: []transcript.Utterance{
		{Words: []transcript.Word{{Text: "flaps"}, {Text: "tan"}}},
		{Words: []transcript.Word{{Text: "very"}, {Text: "good"}, {Text: "indeed"}}},
	}}}
	s := &scored{made: m, byVoice: map[string]*tally{}}
	s.countWords()
	if a, b := s.of("flite:slt"), s.of("flite:rms"); a.Words != 2 || a.WordErrors != 1 || b.Words != 2 || b.WordErrors != 1 {
		t.Errorf("%d of %d, and %d of %d", a.WordErrors, a.Words, b.WordErrors, b.Words)
	}
}

func TestWithTwoChannelsEachIsHeldAgainstItsOwnSeat(t *testing.T) {
	m := &made{channels: []int{0, 1}, truth: lesson.Truth{Lines: []lesson.SpokenLine{
		{Channel: 0, Text: "Flaps ten."}, {Channel: 1, Text: "Good."}, {Channel: -1, Text: "Meadow traffic."},
	}}, words: &transcript.Transcript{Utterances: []transcript.Utterance{
		{Channel: 0, Words: []transcript.Word{{Text: "flaps"}}}, {Channel: 1, Words: []transcript.Word{{Text: "good"}}},
	}}}
	p, _ := m.passages()
	if len(p) != 2 || !slices.Equal(p[0].ref, []string{"flaps", "ten", "meadow", "traffic"}) || !slices.Equal(p[1].ref, []string{"good", "meadow", "traffic"}) ||
		!slices.Equal(p[0].hyp, []string{"flaps"}) || !slices.Equal(p[1].hyp, []string{"good"}) {
		t.Errorf("%+v", p)
	}
}

func TestPocketsphinxSegmentsAreRead(t *testing.T) {
	id, words, err := readSegment("s0-3 S 0 T -3934139 A -3932160 L -1979 0 -302080 0 <s> 19 -955392 -749 card 48 -1337344 -1050 eon(2) 109 -1 -1 <sil> 110 -1 -1 [NOISE] 111 -1337344 -180 </s> 117")
	if err != nil {
		t.Fatal(err)
	}
	want := []transcript.Word{{Text: "card", Start: 0.19, End: 0.48, Confidence: 1}, {Text: "eon", Start: 0.48, End: 1.09, Confidence: 1}}
	if id != "s0-3" || !slices.Equal(words, want) {
		t.Errorf("%q %v, want %v", id, words, want)
	}
	if _, _, err := readSegment("s0-3 S 0 T 1 A 2 L 3 x y z word w"); err == nil {
		t.Error("a line without frames is taken")
	}
}

func sentences(t *testing.T, file string) []lesson.Sentence {
	t.Helper()
	all, err := lesson.ReadSentences(filepath.Join("..", "..", "testdata", file))
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func TestTheSentencesOfStanceAreEnoughAndEven(t *testing.T) {
	lexicon, err := callouts.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	known := map[string]bool{}
	for _, c := range lexicon.Callouts {
		known[c.ID] = true
	}
	seen := map[string]bool{} // in any file: what is held back is not tuned on
	for _, file := range []string{"stances.yaml", "stances-tuning.yaml", "wordings.yaml"} {
		count := map[callouts.Stance]int{}
		all := sentences(t, file)
		for _, s := range all {
			count[s.Stance]++
			plain := strings.Join(plain(strings.Fields(s.Say)), " ")
			if file == "wordings.yaml" { // several calls may be asked of one sentence, or none
				if seen[plain] || s.ID != "" && !known[s.ID] {
					t.Errorf("%s: %q: callout %q is not known, or the sentence is in another file", file, s.Say, s.ID)
				}
				continue
			}
			if !known[s.ID] || seen[plain] {
				t.Errorf("%s: %q: callout %q is not known, or the sentence is there twice", file, s.Say, s.ID)
			} else {
				seen[plain] = true
			}
		}
		if file == "wordings.yaml" {
			continue // written in lots, each as large as it came
		}
		if len(all) < 150 {
			t.Errorf("%s: %d sentences, want 150", file, len(all))
		}
		for _, st := range stance.All {
			if count[st] < 20 {
				t.Errorf("%s: %d sentences are %s, want 20", file, count[st], st)
			}
		}
	}
}

// A guard for what was reached on the sentences to tune on, written as they are and
// as recognisers write: without capitals and punctuation.
func TestStancesToTuneOnStayRight(t *testing.T) {
	lexicon, err := callouts.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	finder, err := callouts.NewFinder(lexicon)
	if err != nil {
		t.Fatal(err)
	}
	all := sentences(t, "stances-tuning.yaml")
	for _, c := range []struct {
		name  string
		write func(string) string
		least float64
	}{
		{"as written", func(s string) string { return s }, 0.95},
		{"without punctuation", func(s string) string {
			return strings.ToLower(strings.Map(func(r rune) rune {
				if strings.ContainsRune(".,?!;:", r) {
					return -1
				}
				return r
			}, s))
		}, 0.90},
	} {
		right := 0
		for _, s := range all {
			s.Say = c.write(s.Say)
			if stanceOf(s, finder) == s.Stance {
				right++
			}
		}
		if got := share(right, len(all)); got < c.least {
			t.Errorf("%s: %.1f %% right, want %.0f", c.name, 100*got, 100*c.least)
		} else {
			t.Logf("%s: %.1f %% right", c.name, 100*got)
		}
	}
}

func TestStepsThatAnswerAnOrderAreCounted(t *testing.T) {
	prompted := func(id string, at float64, is bool) lesson.SpokenCall {
		c := saidCall(id, at, callouts.Done, nil)
		c.Prompted = is
		return c
	}
	at := func(i int) *int { return &i }
	s := &scored{byVoice: map[string]*tally{}, made: &made{
		truth: lesson.Truth{
			Maneuvers: []lesson.FlownProcedure{flownClean()},
			Calls:     []lesson.SpokenCall{prompted("carb-heat-on", 15, true), prompted("power-back", 20, true), prompted("trim-set", 30, false)},
		},
		calls: []callouts.Call{
			heardCall("carb-heat-on", 15, callouts.Done, nil), heardCall("power-back", 20, callouts.Done, nil),
			heardCall("trim-set", 30, callouts.Done, nil), heardCall("nose-up", 40, callouts.Done, nil),
		},
		found: []rules.Assessment{{Procedure: "slow-flight-clean", Start: 12, End: 50, Steps: []rules.StepResult{
			{ID: "carb-heat-on", Verdict: rules.Heard, Call: at(0), Prompted: true}, // as the sheet says
			{ID: "power-back", Verdict: rules.Heard, Call: at(1)},                   // prompted, and not said so
			{ID: "trim", Verdict: rules.Heard, Call: at(2), Prompted: true},         // not prompted
			{ID: "nose-up", Verdict: rules.Heard, Call: at(3), Prompted: true},      // nobody made it: left out
			{ID: "airspeed", Verdict: rules.NotHeard},
		}}},
	}}
	s.countCalls()
	s.countSteps()
	if got := s.of("flite:slt"); got.Prompted != 2 || got.SaidPrompted != 2 || got.RightPrompted != 1 || got.prompts() != "1/2+1" {
		t.Errorf("prompted %d, said %d, both %d, shown as %s", got.Prompted, got.SaidPrompted, got.RightPrompted, got.prompts())
	}
}

func TestTheStageToBlameIsTheOneThatErrsOnWhatItShouldHaveGot(t *testing.T) {
	lexicon, err := callouts.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	finder, err := callouts.NewFinder(lexicon)
	if err != nil {
		t.Fatal(err)
	}
	m := &made{}
	for i, text := range []string{"Carb heat on.", "Is the carb heat on?", "Bananas are yellow."} {
		at := float64(10 * i)
		l := lesson.SpokenLine{Start: at, End: at + 1, Text: text, Channel: -1, Voice: "flite:slt"}
		for _, w := range transcript.Spread(text, at, at+1) {
			l.Words = append(l.Words, lesson.SpokenWord{Text: w.Text, Start: w.Start, End: w.End})
		}
		m.truth.Lines = append(m.truth.Lines, l)
		m.truth.Calls = append(m.truth.Calls, saidCall("carb-heat-on", at, callouts.Done, nil))
	}
	b, err := newBlamer(m, finder, nil, nil, lexicon)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []cause{hearing, stancing, matching} {
		if got := b.call(i); got != want {
			t.Errorf("%q, marked as a call done and not found: %s is to blame, want %s", m.truth.Lines[i].Text, got, want)
		}
	}
}

func TestWhoSaidItIsCountedByWords(t *testing.T) {
	line := func(who string, from float64, channel int) lesson.SpokenLine {
		return lesson.SpokenLine{Speaker: who, Voice: "flite:slt", Start: from, End: from + 2, Channel: channel}
	}
	heard := func(who string, at float64, words int, channel int) transcript.Utterance {
		u := transcript.Utterance{Speaker: who, Start: at, End: at + 1, Channel: channel}
		for range words {
			u.Words = append(u.Words, transcript.Word{Text: "word", Start: at, End: at + 1})
		}
		return u
	}
	s := &scored{byVoice: map[string]*tally{}, made: &made{radio: []string{"tower"},
		truth: lesson.Truth{Lines: []lesson.SpokenLine{
			line("student", 0, -1), line("instructor", 10, -1), line("tower", 20, -1), line("student", 30, 0), line("instructor", 30.5, 1),
		}},
		words: &transcript.Transcript{Utterances: []transcript.Utterance{
			heard("student", 0.5, 3, 0),   // rightly
			heard("student", 10.5, 2, 0),  // the instructor's
			heard("", 11, 1, 0),           // not known
			heard("student", 20.5, 4, 0),  // the tower is not the student
			heard("", 21, 2, 0),           // and that is known
			heard("student", 30.9, 1, 0),  // both talk: by the channel
			heard("student", 31, 1, 1),    // wrongly
			heard("instructor", 50, 9, 0), // nobody says anything by the sheet
		}},
	}}
	s.countWho()
	got := s.of("flite:slt")
	if got.SpokenWords != 8 || got.NamedWords != 7 || got.NamedRight != 4 || got.RadioWords != 6 || got.RadioNamed != 4 {
		t.Errorf("%+v", got)
	}
	var b strings.Builder
	if err := printWho(&b, []row{{"words", allVoices, tally{SpokenWords: 8, NamedWords: 7, NamedRight: 4, RadioWords: 6, RadioNamed: 4, Prompted: 4, SaidPrompted: 5, RightPrompted: 3}}}); err != nil {
		t.Fatal(err)
	}
	if want := strings.Fields("words all voices 8 87.5 57.1 4/6 75.0 60.0"); !strings.Contains(strings.Join(strings.Fields(b.String()), " "), strings.Join(want, " ")) {
		t.Errorf("printed\n%s", b.String())
	}
}

func TestVoicesAreTaughtByTheFirstLinesOfEach(t *testing.T) {
	m := &made{radio: []string{"tower"}}
	for i, who := range []string{"student", "tower", "instructor", "student", "student", "student", "instructor"} {
		m.truth.Lines = append(m.truth.Lines, lesson.SpokenLine{Speaker: who, Start: float64(10 * i), End: float64(10*i + 3)})
	}
	seconds := map[string]float64{}
	for _, v := range m.lessons(5) {
		seconds[v.Name] += math.Round(v.To - v.From)
	}
	if len(seconds) != 2 || seconds["student"] != 6 || seconds["instructor"] != 6 {
		t.Errorf("%v", seconds)
	}
}
