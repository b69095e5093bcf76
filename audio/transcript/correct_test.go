package transcript

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// heardLesson is a little lesson as it was recognised, on two channels.
func heardLesson() *Transcript {
	say := func(start float64, channel int, speaker, text string) Utterance {
		u := Utterance{Start: start, Channel: channel, Speaker: speaker, Text: text}
		for _, f := range strings.Fields(text) {
			u.Words = append(u.Words, Word{Text: f, Start: start, End: start + 0.25, Confidence: 0.7})
			start += 0.3
		}
		u.End = start - 0.05
		return u
	}
	return &Transcript{[]Utterance{
		say(10, 0, "Student", "Carve ye on."),
		say(14, 1, "Instructor", "Good, and the power."),
		say(20, 0, "Student", "Power back to seventeen hundred."),
		say(30, 0, "Student", "Flaps up."),
		say(90, 0, "Student", "Flaps up."),
	}}
}

// times writes words with their starts.
func times(us []Utterance) (out []string) {
	for _, u := range us {
		for _, w := range u.Words {
			out = append(out, fmt.Sprintf("%d %s %.2f", u.Channel, w.Text, w.Start))
		}
	}
	return out
}

func TestWordsCorrectedByHandKeepTheTimesOfTheOthers(t *testing.T) {
	for name, c := range map[string]struct {
		edited string
		want   []string
	}{
		"nothing changed": {"0:10 Carve ye on.\n0:14 Good, and the power.\n0:20 Power back to seventeen hundred.\n0:30 Flaps up.\n1:30 Flaps up.\n",
			times(heardLesson().Utterances)},
		"two words for two": {"0:10 Carb heat on.\n",
			[]string{"0 Carb 10.00", "0 heat 10.30", "0 on. 10.60"}},
		"capitals and marks are no change": {"0:10 CARVE YE ON!\n",
			[]string{"0 CARVE 10.00", "0 YE 10.30", "0 ON! 10.60"}},
		"one word for two": {"0:20 Power idle seventeen hundred.\n",
			[]string{"0 Power 20.00", "0 idle 20.30", "0 seventeen 20.90", "0 hundred. 21.20"}},
		"three words for one share its time": {"0:20 Power back to one seven zero hundred.\n",
			[]string{"0 Power 20.00", "0 back 20.30", "0 to 20.60", "0 one 20.90", "0 seven 20.97", "0 zero 21.07", "0 hundred. 21.20"}},
		"a word put in stands in the pause": {"0:30 Flaps full up.\n",
			[]string{"0 Flaps 30.00", "0 full 30.25", "0 up. 30.30"}},
		"words put in before the others": {"0:30 Okay flaps up.\n",
			[]string{"0 Okay 29.60", "0 flaps 30.00", "0 up. 30.30"}},
		"a word taken out leaves the others alone": {"0:20 Power seventeen hundred.\n",
			[]string{"0 Power 20.00", "0 seventeen 20.90", "0 hundred. 21.20"}},
		"the second of two that are the same": {"1:30 Flaps up.\n",
			[]string{"0 Flaps 90.00", "0 up. 90.30"}},
		"a line nobody heard": {"WEBVTT\n\n00:40.000 --> 00:41.000\nTrim set.\n",
			[]string{"0 Trim 40.00", "0 set. 40.56"}},
		"lines put together, and the channel is that of the words": {"0:14 good and the power is yours\n",
			[]string{"1 good 14.00", "1 and 14.30", "1 the 14.60", "1 power 14.90", "1 is 15.15", "1 yours 15.42"}},
	} {
		t.Run(name, func(t *testing.T) {
			edited, err := Read("edited", strings.NewReader(c.edited))
			if err != nil {
				t.Fatal(err)
			}
			got := Correct(heardLesson(), edited)
			if d := cmp.Diff(c.want, times(got.Utterances)); d != "" {
				t.Errorf("-want +got:\n%s", d)
			}
		})
	}
}

func TestCorrectedLinesKeepWhoSpoke(t *testing.T) {
	edited := &Transcript{[]Utterance{{Start: 10, End: 11, Text: "carb heat on"}, {Start: 14, End: 15, Speaker: "Examiner", Text: "good and the power"}}}
	got := Correct(heardLesson(), edited).Utterances
	if len(got) != 2 || got[0].Speaker != "Student" || got[1].Speaker != "Examiner" || got[1].Channel != 1 {
		t.Errorf("%+v", got)
	}
	if w := got[0].Words; w[0].Confidence != 1 || w[2].Confidence != 0.7 {
		t.Errorf("confidences of %+v", w)
	}
}

// What may have been said instead is of no use where the words are others by now.
func TestAlternativesGoWithTheWordsTheyReplace(t *testing.T) {
	for edited, want := range map[string]bool{
		"0:20 Power back to seventeen hundred.\n":     true,
		"0:20 Power back to eighteen hundred.\n":      true, // behind them
		"0:20 Power idle to seventeen hundred.\n":     false,
		"0:20 Power way back to seventeen hundred.\n": false,
	} {
		heard := heardLesson()
		heard.Utterances[2].Words[0].Or = &Alternative{Text: "power's back", Words: 2, Confidence: 0.2}
		words, err := Read("edited", strings.NewReader(edited))
		if err != nil {
			t.Fatal(err)
		}
		if got := Correct(heard, words).Utterances[0].Words[0]; (got.Or != nil) != want {
			t.Errorf("%q: %+v", edited, got)
		}
	}
}

func TestALineIsCorrectedByItself(t *testing.T) {
	u := heardLesson().Utterances[0]
	got := u.Correct("carb heat on")
	if d := cmp.Diff([]string{"0 carb 10.00", "0 heat 10.30", "0 on 10.60"}, times([]Utterance{got})); d != "" || got.Text != "carb heat on" || got.Speaker != "Student" {
		t.Errorf("%s%+v", d, got)
	}
	if got := u.Correct(" "); len(got.Words) != 0 || got.Start != u.Start || got.End != u.End {
		t.Errorf("no text: %+v", got)
	}
}

// Whatever is done to a transcript, every word of the edited one comes out once, in
// its line, with a time that is none before its fellows' and within the lesson.
func TestCorrectLosesNoWord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		heard, edited := lessons.Draw(t, "heard"), &Transcript{}
		end := 0.0
		for _, u := range heard.Utterances {
			end = max(end, u.End)
			if rapid.IntRange(0, 4).Draw(t, "dropped") == 0 {
				continue
			}
			e := Utterance{Start: u.Start, End: u.End, Channel: u.Channel}
			var texts []string
			for _, w := range u.Words {
				switch rapid.IntRange(0, 5).Draw(t, "edit") {
				case 0:
				case 1:
					texts = append(texts, w.Text, "new")
				case 2:
					texts = append(texts, "other")
				default:
					texts = append(texts, w.Text)
				}
			}
			e.Text = strings.Join(texts, " ")
			e.Words = Spread(e.Text, e.Start, e.End)
			edited.Utterances = append(edited.Utterances, e)
		}
		var want, got []string
		for _, u := range edited.Utterances {
			if u.Text != "" {
				want = append(want, u.Text)
			}
		}
		for _, u := range Correct(heard, edited).Utterances {
			got = append(got, u.Text)
			last := 0.0
			for _, w := range u.Words {
				if !(w.Start >= last-1e-9 && w.End >= w.Start && w.End <= end+10) || math.IsNaN(w.Start) {
					t.Fatalf("%q lasts from %g to %g, after %g, in a lesson of %g s", w.Text, w.Start, w.End, last, end)
				}
				last = w.Start
			}
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Fatalf("-want +got:\n%s", d)
		}
	})
}

func BenchmarkCorrectTwoHours(b *testing.B) {
	heard := &Transcript{}
	for i := range 2500 {
		at := float64(i) * 2.8
		text := fmt.Sprintf("and now power back to %d hundred and hold it there", i%37)
		heard.Utterances = append(heard.Utterances, Utterance{Start: at, End: at + 2.5, Text: text, Words: Spread(text, at, at+2.5)})
	}
	edited := &Transcript{}
	for i, u := range heard.Utterances {
		if i%9 == 0 {
			u.Text = strings.Replace(u.Text, "power back", "carb heat", 1)
			u.Words = nil
		}
		edited.Utterances = append(edited.Utterances, u)
	}
	for b.Loop() {
		Correct(heard, edited)
	}
}
