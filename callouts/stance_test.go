package callouts

import "testing"

func TestTheWordsAroundACallTellHowItIsMeant(t *testing.T) {
	_, f := builtinFinder(t)
	for _, c := range []struct{ line, want string }{
		// Done.
		{"Carb heat on.", "carb-heat-on"},
		{"okay carb heat on", "carb-heat-on"},
		{"Okay, carb heat is on now, and power back.", "carb-heat-on, power-back"},
		{"Carb heat comes on, and I bring the power back.", "carb-heat-on, power-back"},
		{"I bring the power back and pitch up", "power-back, nose-up"},
		{"Now I'm reducing the power to seventeen hundred", "power-back=1700"},
		{"we have carb heat on", "carb-heat-on"},
		{"And there's the horn.", "stall-warning"},
		{"going around", "going-around"},
		{"I have the controls", "controls-mine"},
		{"your controls", "controls-yours"},

		// Ordered.
		{"Give me carb heat.", "carb-heat-on ordered"},
		{"bring the power back", "power-back ordered"},
		{"Bring your power back to seventeen hundred.", "power-back=1700 ordered"},
		{"Let's have the carb heat on", "carb-heat-on ordered"},
		{"let's go flaps ten", "flaps=10 ordered"},
		{"Go ahead and give me flaps twenty.", "flaps=20 ordered"},
		{"Can you give me flaps ten please?", "flaps=10 ordered"},
		{"carb heat on please", "carb-heat-on ordered"},
		{"I want flaps ten here", "flaps=10 ordered"},
		{"put the carb heat on", "carb-heat-on ordered"},
		{"Lower the nose.", "nose-down ordered"},
		{"Don't forget carb heat on.", "carb-heat-on ordered"},
		{"add full power", "full-power ordered"},

		// Asked.
		{"Is the carb heat on?", "carb-heat-on asked"},
		{"is the carb heat on", "carb-heat-on asked"},
		{"Did you put the carb heat on?", "carb-heat-on asked"},
		{"have you got flaps ten", "flaps=10 asked"},
		{"Are the flaps up?", "flaps-up asked"},
		{"Do we have a positive rate?", "positive-rate asked"},

		// Announced.
		{"In a moment we'll add carb heat.", "carb-heat-on announced"},
		{"I'm going to bring the power back.", "power-back announced"},
		{"we'll go flaps ten", "flaps=10 announced"},
		{"When we get to seventy knots, flaps thirty.", "airspeed=70 announced, flaps=30 announced"},
		{"As soon as you see it, full power.", "full-power announced"},

		// Denied.
		{"Don't trim yet.", "trim-set denied"},
		{"Not flaps thirty.", "flaps=30 denied"},
		{"no flaps twenty yet", "flaps=20 denied"},
		{"Flaps up? Not yet.", "flaps-up denied"},
		{"we don't have a positive rate", "positive-rate denied"},

		// Talked about.
		{"The common mistake is to go full flaps before the power is back.", "flaps-full talked-about, power-back talked-about"},
		{"Last time you forgot the carb heat on.", "carb-heat-on talked-about"},
		{"Remember, carb heat on before power back.", "carb-heat-on talked-about, power-back talked-about"},
		{"If you put the flaps up before positive rate, we sink.", "flaps-up talked-about, positive-rate talked-about"},
		{"You could go flaps ten here", "flaps=10 talked-about"},
		{"we usually go flaps ten at seventy knots", "flaps=10 talked-about, airspeed=70 talked-about"},
		{"What comes first, carb heat on or power back?", "carb-heat-on asked, power-back asked"},
		{"never flaps up before positive rate", "flaps-up talked-about, positive-rate talked-about"},
		{"you would have needed full power", "full-power talked-about"},

		// What is mentioned in passing does not touch the call after the comma.
		{"that was better than last week, flaps ten", "flaps=10"},
		{"Let's see, airspeed six five.", "airspeed=65"},
		{"we'll look at that later, trim set", "trim-set"},
		{"do you see the lake, power back", "power-back"},
		{"that's not bad at all, flaps ten", "flaps=10"},
		{"thank you, flaps up", "flaps-up"},

		// A cue far away does not touch a call said by itself.
		{"last time you forgot the carb heat okay carb heat on power back", "carb-heat-on talked-about, carb-heat-on, power-back"},
		{"If you look left you see the river and the town and the bridge. Carb heat on.", "carb-heat-on"},
		{"we usually come back over the lake | carb heat on", "carb-heat-on"},
		{"Don't worry about it. Flaps ten.", "flaps=10"},
		{"Did you see that? Power back.", "power-back"},
		{"We will talk about it later. Trim set.", "trim-set"},
	} {
		if got := brief(sure(f.Find(line(c.line)))); got != c.want {
			t.Errorf("%q: got [%s], want [%s]", c.line, got, c.want)
		}
	}
}

func TestABareCallWithAQuestionMarkIsDoubtful(t *testing.T) {
	_, f := builtinFinder(t)
	plain, rising := f.Find(line("Carb heat on.")), f.Find(line("Carb heat on?"))
	if len(rising) != 1 || rising[0].Stance != Done || rising[0].Confidence >= plain[0].Confidence {
		t.Errorf("got %+v, want done and less sure than %v", rising, plain[0].Confidence)
	}
}
