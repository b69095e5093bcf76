package stance

import (
	"math"
	"slices"
	"strings"
	"testing"
)

// said is a sentence with its call in braces: "in a moment {flaps up}"; {*flaps}
// only names its thing. "..." is a short pause.
func said(text string) Said {
	var s Said
	call := false
	for w := range strings.FieldsSeq(text) {
		if rest, ok := strings.CutPrefix(w, "{"); ok {
			w, call = rest, true
			s.First, s.Thing = len(s.Words), len(s.Words)
			if w, s.Named = strings.CutPrefix(w, "*"); s.Named {
				w = strings.TrimPrefix(w, "*")
			}
		}
		pause := 0.0
		if rest, ok := strings.CutSuffix(w, "..."); ok { // a short pause
			w, pause = rest, 0.3
		}
		bare := strings.Trim(w, "},.?")
		s.Words = append(s.Words, Word{
			Text: strings.ToLower(bare), Comma: strings.HasSuffix(w, ","),
			Stop: strings.HasSuffix(w, ".") || strings.HasSuffix(w, "?"), Question: strings.HasSuffix(w, "?"), Pause: pause,
		})
		if call && strings.Contains(w, "}") {
			call = false
			s.End = len(s.Words)
		}
	}
	s.Words[len(s.Words)-1].Apart = true
	return s
}

// clauses are those of the sentence of a call, parted by bars.
func clauses(s Said) string {
	x := parse(&s)
	var out []string
	for _, c := range x.clauses {
		out = append(out, strings.Join(x.texts(c.from, c.to), " "))
	}
	return strings.Join(out, " | ")
}

func TestSentencesArePartedIntoClauses(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"if you pull harder {the nose comes up}", "if you pull harder | the nose comes up"},
		{"if we sink {raise the nose}", "if we sink | raise the nose"},
		{"okay i bring {the power back} and {trim}", "okay | i bring the power back | and trim"},
		{"before i forget {carb heat's on}", "before i forget | carb heat is on"},
		{"when you've done that {bring the power back}", "when you have done that | bring the power back"},
		{"in a moment we {add power}", "in a moment we add power"},
		{"i'll take the radio you {bring the flaps up}", "i will take the radio | you bring the flaps up"},
		{"i wonder did we {take the heat off}", "i wonder | did we take the heat off"},
		{"he is fast so {power back}", "he is fast | so power back"},
		{"you can see {the flaps are up}", "you can see the flaps are up"},
		{"stop don't {raise the nose}", "stop | do not raise the nose"},
		{"{flaps up} isn't it", "flaps up | is not it"},
		{"let's try it again... {fuel on both}... mixture rich", "let us try it again | fuel on both | mixture rich"},
		{"let's try it, once... again, {fuel on both}", "let us try it | once again | fuel on both"},
		{"they can make it {were abeam}", "they can make it | we are abeam"},
		{"{landing lights on} were lined up", "landing lights on | we are lined up"},
		{"if it {were abeam} now", "if it were abeam now"},
		{"{the flaps were up}", "the flaps were up"},
		{"your turn {give me carb heat}", "your turn | give me carb heat"},
		{"as soon as we're level i {trim}", "as soon as we are level | i trim"},
		{"i leave it and just {lower the nose}", "i leave it | and just lower the nose"},
		{"that was good, {flaps ten}", "that was good | flaps ten"},
		{"right, {right rudder}", "right | right rudder"},
		{"{right rudder} now", "right rudder now"},
	} {
		if got := clauses(said(c.text)); got != c.want {
			t.Errorf("%q: %s, want %s", c.text, got, c.want)
		}
	}
}

func TestFactsAreReadFromHowASentenceIsBuilt(t *testing.T) {
	for _, c := range []struct{ text, want, not string }{
		{"{flaps up}", "bare", "named"},
		{"{*flaps}", "named", "bare"},
		{"{bring the power back}", "order", "no verb"},
		{"I {bring the power back}", "I present", "order"},
		{"i leave it and {bring the power back}", "I present", "order"},
		{"please {raise the nose}", "order", "bare"},
		{"don't {raise the nose}", "do not do it", "order"},
		{"don't forget {the trim}", "reminder", "do not do it"},
		{"is {the carb heat on}", "question", "thing is"},
		{"the {carb heat is on}", "thing is", "question"},
		{"next is {*flaps}", "plan", "question"},
		{"can you {raise the nose}", "can you", "question"},
		{"can you tell me {the trim is set}", "before: question", "before: can you"},
		{"can I have {*flaps}", "can I have", "question"},
		{"what about {*flaps}", "wh question", "why not"},
		{"how about {*flaps}", "why not", "wh question"},
		{"we'll {raise the nose}", "will", "I present"},
		{"I'm going to {raise the nose}", "going to", "I doing"},
		{"I'm {raising the nose}", "I doing", "going to"},
		{"I would {raise the nose}", "would", "I present"},
		{"I'd {raised the nose}", "had done", "would"},
		{"you should have {raised the nose}", "should have", "should"},
		{"we {raised the flaps}", "past", "I present"},
		{"we have {raised the flaps}", "I perfect", "past"},
		{"people {raise the nose}", "people present", "order"},
		{"if we sink {raise the nose}", "order, after if", "in if"},
		{"if you {raise the nose} it stalls", "in if", "after if"},
		{"if you like, {raise the nose}", "if you would", "after if"},
		{"when we turn I {raise the nose}", "after when, I", "in when"},
		{"no {*flaps}", "no thing", "no verb"},
		{"no, {flaps up}", "no verb", "no thing"},
		{"without {*flaps}", "without", "no verb"},
		{"{raising the nose} makes it slow", "doing it does", "doing"},
		{"{raising the nose}", "doing", "doing it does"},
		{"{flaps up} isn't it", "tag", "not"},
		{"{flaps up} not yet", "not yet, after", "bare"},
		{"the danger of {*flaps} is drag", "topic", "bare"},
		{"on a hot day {the heat comes off}", "in such a case", "for later"},
		{"in a moment {the heat comes off}", "for later", "in such a case"},
		{"{the heat comes off} in two minutes", "for later", "now"},
		{"he told me {flaps up}", "quoted", "bare"},
		{"I don't think {the flaps are up}", "before: think not", "before: not"},
		{"that was better than last week, {flaps ten}", "by itself", "topic"},
		{"here comes {the heat}", "here it comes", "order"},
		{"the more you pull {the nose comes up}", "the more", "bare"},
	} {
		f := facts(Facts(said(c.text)))
		if !f.has(c.want) || f.has(c.not) {
			t.Errorf("%q: %v, want %q and not %q", c.text, f, c.want, c.not)
		}
	}
}

func TestEveryFactThatMeansSomethingCanBeSeen(t *testing.T) {
	for _, m := range meanings {
		if _, ok := fittedTold()[m.fact]; !ok {
			t.Errorf("%q means something, but told.yaml does not know it: fit the weights again", m.fact)
		}
		if _, ok := fitted()[m.fact]; !ok && !strings.HasPrefix(m.fact, "meant as ") {
			t.Errorf("%q means something, but weights.yaml does not know it: fit the weights again", m.fact)
		}
	}
}

func TestOddsAddUpAndFollowTheEvidence(t *testing.T) {
	m := Model{always: {Done: 1}, "order": {Ordered: 4}, "please": {Ordered: 2}}
	sum := func(r Reading) (s float64) {
		for _, p := range r.Odds {
			s += p
		}
		return s
	}
	none, one, half := m.Read(nil), m.Read([]Fact{{"order", 1}}), m.Read([]Fact{{"order", 0.5}})
	for _, r := range []Reading{none, one, half} {
		if math.Abs(sum(r)-1) > 1e-9 {
			t.Errorf("odds of %v add up to %v", r, sum(r))
		}
	}
	if st, _ := none.Best(); st != Done {
		t.Errorf("without evidence: %s", st)
	}
	if st, _ := one.Best(); st != Ordered || one.Of(Ordered) <= half.Of(Ordered) {
		t.Errorf("an order: %v, half of one: %v", one, half)
	}
	if got, want := one.Of(Ordered)/one.Of(Done), math.Exp(3); math.Abs(got-want) > 1e-6 {
		t.Errorf("4 nats against 1 make odds of %v, want %v", got, want)
	}
	shifted := one.Toward(Done, Ordered, 3)
	if got := shifted.Of(Ordered) / shifted.Of(Done); math.Abs(got-1) > 1e-6 || math.Abs(sum(shifted)-1) > 1e-9 {
		t.Errorf("3 nats back make odds of %v, want even", got)
	}
}

func TestWeightsAreFittedAroundWhatFactsMean(t *testing.T) {
	var examples []Example
	for range 30 {
		examples = append(examples,
			Example{[]Fact{{"made up", 1}}, Announced, 1},
			Example{[]Fact{{"no thing", 1}}, Denied, 1},
			Example{nil, Done, 1})
	}
	m := Fit(examples, 1)
	if st, p := m.Read([]Fact{{"made up", 1}}).Best(); st != Announced || p < 0.8 {
		t.Errorf("what is always announced is read as %s, %.2f", st, p)
	}
	if got := m["used to"][TalkedAbout]; got != 4 {
		t.Errorf("a fact no example has keeps what it means, 4: %v", got)
	}
	tight := Fit(examples, 0.1)
	if math.Abs(tight["made up"][Announced]) >= math.Abs(m["made up"][Announced]) {
		t.Error("a smaller spread does not hold the weights closer")
	}
	again, err := ReadModel([]byte(WriteModel(m)))
	if err != nil {
		t.Fatal(err)
	}
	for name, w := range m {
		for s, v := range w {
			if again[name][s] != v {
				t.Errorf("%s %s: %v written, %v read", name, s, v, again[name][s])
			}
		}
	}
}

func TestMisheardWordsGiveWayToThePhrase(t *testing.T) {
	s := said("i'm {rathering the knows}")
	s.Phrase, s.Misheard = []string{"raising", "the", "nose"}, true
	if got := clauses(s); got != "i am raising the nose" {
		t.Errorf("got %s", got)
	}
	if f := facts(Facts(s)); !f.has("I doing") {
		t.Errorf("got %v", f)
	}
}

func TestALongTalkIsLookedAtOnlyNearTheCall(t *testing.T) {
	words := slices.Repeat([]string{"and", "then", "we", "look"}, 200)
	s := said(strings.Join(words, " ") + " {flaps up} " + strings.Join(words, " "))
	if x := parse(&s); len(x.units) > before+after+10 {
		t.Errorf("%d words looked at", len(x.units))
	}
}
