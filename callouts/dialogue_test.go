package callouts

import (
	"strings"
	"testing"

	"sidetone/audio/transcript"
)

// dialogue is what several say, a line each: "instructor: and the carb heat off". Lines are
// two seconds apart. A line without a speaker is by nobody known.
func dialogue(lines ...string) *transcript.Transcript {
	t := &transcript.Transcript{}
	at := 0.0
	for _, l := range lines {
		who, text, ok := strings.Cut(l, ": ")
		if !ok {
			who, text = "", l
		}
		u := said(at, text)
		u.Speaker = who
		t.Utterances = append(t.Utterances, u)
		at = u.End + 2
	}
	return t
}

func TestWhoOrdersAllTheTimeOrdersWithoutAVerbToo(t *testing.T) {
	_, f := builtinFinder(t)
	ordering := []string{
		"instructor: give me flaps ten", "student: flaps ten",
		"instructor: bring the power back", "student: power back",
		"instructor: please lower the nose", "student: nose down",
		"instructor: let's have the landing light on", "student: landing light on",
	}
	last := func(lines ...string) Call {
		calls := f.Find(dialogue(lines...))
		return calls[len(calls)-1]
	}
	if c := last(append(ordering, "instructor: and now the carb heat off")...); c.Stance != Ordered {
		t.Errorf("by one who gives all the orders: %s", c.Stance)
	}
	if c := last(append(ordering, "student: and now the carb heat off")...); c.Stance != Done {
		t.Errorf("by the one who flies: %s", c.Stance)
	}
	if c := last("and now the carb heat off"); c.Stance != Done {
		t.Errorf("by nobody known: %s", c.Stance)
	}
}

func TestTheAnswerMakesTheOrder(t *testing.T) {
	_, f := builtinFinder(t)
	first := func(lines ...string) Call { return f.Find(dialogue(lines...))[0] }
	alone := first("instructor: next stage, flaps to ten")
	answered := first("instructor: next stage, flaps to ten", "student: flaps ten")
	other := first("instructor: next stage, flaps to ten", "student: flaps twenty")
	if answered.Meant.Of(Ordered) <= alone.Meant.Of(Ordered) {
		t.Errorf("an answer makes an order likelier: %.2f with it, %.2f without", answered.Meant.Of(Ordered), alone.Meant.Of(Ordered))
	}
	if other.Meant.Of(Ordered) != alone.Meant.Of(Ordered) {
		t.Errorf("another figure is no answer: %.2f, alone %.2f", other.Meant.Of(Ordered), alone.Meant.Of(Ordered))
	}
}

func TestAFigureAloneIsAFlapCallWhereFlapsAreTalkedOf(t *testing.T) {
	_, f := builtinFinder(t)
	for _, c := range []struct {
		name  string
		lines []string
		want  string
	}{
		{"after a flap call", []string{"student: flaps twenty", "instructor: let's have thirty"}, "flaps=20, flaps=30 ordered"},
		{"before the answer", []string{"instructor: give me ten please", "student: flaps ten"}, "flaps=10 ordered, flaps=10"},
		{"by the one who flies", []string{"student: flaps ten", "student: and twenty now"}, "flaps=10, flaps=20"},
		{"no flaps near", []string{"instructor: let's have thirty", "student: the sandwiches are good"}, ""},
		{"more than a figure", []string{"student: flaps ten", "instructor: thirty people came"}, "flaps=10"},
		{"no flap setting", []string{"student: flaps ten", "instructor: let's have twelve"}, "flaps=10"},
		{"the same figure again", []string{"student: flaps ten", "instructor: ten it is"}, "flaps=10"},
	} {
		if got := brief(made(f.Find(dialogue(c.lines...)))); got != c.want {
			t.Errorf("%s: got [%s], want [%s]", c.name, got, c.want)
		}
	}
}
