package transcript

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestReadsLinesThatBeginWithTheirTime(t *testing.T) {
	carbHeat := said{"", 0, 18, 20.5, "Carb heat on."} // a second and half a second a word
	for name, c := range map[string]struct {
		in   string
		want []said
	}{
		"a time and words":                    {"0:18 Carb heat on.\n", []said{carbHeat}},
		"the time on a line of its own":       {"0:18\nCarb heat on.\n\n1:30\nTrim set.\n", []said{carbHeat, {"", 0, 90, 92, "Trim set."}}},
		"brackets, a tab, a dash":             {"[0:18]\tCarb heat on.\n(1:30) - Trim set.\n", []said{carbHeat, {"", 0, 90, 92, "Trim set."}}},
		"hours, long minutes, thousandths":    {"90:00 Trim set.\n1:30:10.250 Flaps up.\n", []said{{"", 0, 5400, 5402, "Trim set."}, {"", 0, 5410.25, 5412.25, "Flaps up."}}},
		"a line lasts until the next":         {"0:18 Carb heat on.\n0:19 Trim set.\n", []said{{"", 0, 18, 19, "Carb heat on."}, {"", 0, 19, 21, "Trim set."}}},
		"or as long as it says":               {"0:18 - 0:25 Carb heat on.\n", []said{{"", 0, 18, 25, "Carb heat on."}}},
		"lines that begin together share it":  {"0:18 Carb heat on.\n0:18 Trim set.\n", []said{{"", 0, 18, 18 + 2.5*13/22, "Carb heat on."}, {"", 0, 18 + 2.5*13/22, 20.5, "Trim set."}}},
		"a role is who speaks":                {"0:18 Student: Carb heat on.\n0:40 okay\n1:00 go on\n", []said{{"Student", 0, 18, 20.5, "Carb heat on."}, {"", 0, 40, 41.5, "okay"}, {"", 0, 60, 62, "go on"}}},
		"a name most lines have is, too":      {"0:18 Ana: Carb heat on.\n0:40 Ana: okay\n1:00 go on\n", []said{{"Ana", 0, 18, 20.5, "Carb heat on."}, {"Ana", 0, 40, 41.5, "okay"}, {"", 0, 60, 62, "go on"}}},
		"another word before a colon is said": {"0:18 Checklist: gas\n", []said{{"", 0, 18, 20, "Checklist: gas"}}},
		"a time in the words is no line":      {"0:18 Carb heat on.\nat 12:30 we land\n", []said{{"", 0, 18, 22.5, "Carb heat on. at 12:30 we land"}}},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := Read("x", strings.NewReader(c.in))
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(c.want, saidIn(got), cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-9 })); d != "" {
				t.Errorf("-want +got:\n%s", d)
			}
			for _, u := range got.Utterances {
				for _, w := range u.Words {
					if !w.Estimated {
						t.Errorf("the time of %q is not marked as estimated", w.Text)
					}
				}
			}
		})
	}
	if _, err := Read("x.txt", strings.NewReader("0:18 go\n0:25 - 0:20 Carb heat on.\n")); err == nil || !strings.Contains(err.Error(), "x.txt:2:") {
		t.Errorf("a line that ends before it starts: %v", err)
	}
	for _, s := range []string{"Dear diary\n", "12:99 no time\n", "1:75:10 neither\n", "12:301 nor this\n"} {
		if f := Detect([]byte(s)); f != "" {
			t.Errorf("%q is %s", s, f)
		}
	}
}

// Captions that roll up, and lines shown for too long: the words of the first are said
// before those of the second.
func TestLinesThatRunIntoEachOtherKeepTheirOrder(t *testing.T) {
	got, err := Read("x", strings.NewReader("WEBVTT\n\n00:10.000 --> 00:15.000\nflaps ten trim set\n\n00:12.000 --> 00:17.000\nfull power now\n\n00:13.000 --> 00:14.000\n<v Instructor>good job\n"))
	if err != nil {
		t.Fatal(err)
	}
	want := []said{{"", 0, 10, 12, "flaps ten trim set"}, {"", 0, 12, 17, "full power now"}, {"Instructor", 0, 13, 14, "good job"}}
	if d := cmp.Diff(want, saidIn(got)); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
	if w := got.Utterances[0].Words[3]; w.End != 12 || !w.Estimated {
		t.Errorf("the last word is %+v", w)
	}
}

func TestPlainLinesReadBackAsTheyWereToTheSecond(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := lessons.Draw(t, "lesson")
		for i := range want.Utterances {
			want.Utterances[i].Speaker = rapid.SampledFrom([]string{"", "Student", "Instructor"}).Draw(t, "who")
			for j, w := range want.Utterances[i].Words {
				want.Utterances[i].Words[j].Text = "w" + w.Text // a bare "1:30" would be a time
			}
		}
		var b strings.Builder
		if err := WritePlain(&b, want); err != nil {
			t.Fatal(err)
		}
		if b.Len() == 0 {
			return
		}
		got, err := Read("x", strings.NewReader(b.String()))
		if err != nil {
			t.Fatalf("%v\n%s", err, b.String())
		}
		if len(got.Utterances) != len(want.Utterances) {
			t.Fatalf("%d lines of %d\n%s", len(got.Utterances), len(want.Utterances), b.String())
		}
		inSecond := map[float64]int{} // words: lines of one second share its time
		for _, u := range want.Utterances {
			inSecond[math.Floor(u.Start)] += len(u.Words)
		}
		for i, u := range got.Utterances {
			w := want.Utterances[i]
			late := 1 + perWord*float64(inSecond[math.Floor(w.Start)])
			if u.Text != Join(w.Words) || u.Speaker != w.Speaker || u.Start < math.Floor(w.Start) || u.Start-w.Start > late {
				t.Fatalf("%+v came back as %+v", w, u)
			}
		}
	})
}
