package transcript

import (
	"html"
	"math"
	"strings"
	"testing"

	"github.com/asticode/go-astisub"
	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

var spokenWord = rapid.StringMatching(`[A-Za-z0-9<>&'",.-]{1,9}`)

// lessons gives transcripts with whole milliseconds and one word or more per
// utterance, the words touching each other.
var lessons = rapid.Custom(func(t *rapid.T) *Transcript {
	var tr Transcript
	ms := int64(0)
	at := func() float64 { return float64(ms) / 1000 }
	for range rapid.IntRange(0, 5).Draw(t, "utterances") {
		ms += rapid.Int64Range(1, 4000_000).Draw(t, "pause")
		u := Utterance{Start: at(), Channel: rapid.IntRange(0, 2).Draw(t, "channel"),
			Speaker: rapid.SampledFrom([]string{"", "Student", "Instructor", "Left & right", "a<b>"}).Draw(t, "speaker")}
		for range rapid.IntRange(1, 6).Draw(t, "words") {
			w := Word{Text: spokenWord.Draw(t, "word"), Start: at(), Confidence: 1}
			ms += rapid.Int64Range(1, 900).Draw(t, "length")
			w.End = at()
			u.Words = append(u.Words, w)
		}
		u.End, u.Text = at(), Join(u.Words)
		tr.Utterances = append(tr.Utterances, u)
	}
	return &tr
})

func TestWebVTTReadsBackAsItWas(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := lessons.Draw(t, "lesson")
		var b strings.Builder
		if err := WriteVTT(&b, want); err != nil {
			t.Fatal(err)
		}
		got, err := Read("x.vtt", strings.NewReader(b.String()))
		if err != nil {
			t.Fatalf("%v\n%s", err, b.String())
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Fatalf("-want +got:\n%s\n%s", d, b.String())
		}
	})
}

func TestJSONReadsBackAsItWas(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := lessons.Draw(t, "lesson")
		for _, u := range want.Utterances {
			u.Words[0].Confidence = rapid.Float64Range(0, 1).Draw(t, "confidence")
		}
		var b strings.Builder
		if err := WriteJSON(&b, want); err != nil {
			t.Fatal(err)
		}
		got, err := Read("x.json", strings.NewReader(b.String()))
		if err != nil {
			t.Fatalf("%v\n%s", err, b.String())
		}
		if len(want.Utterances) > 0 {
			if d := cmp.Diff(want, got); d != "" {
				t.Fatalf("-want +got:\n%s", d)
			}
		}
	})
}

// A second reader, go-astisub, must find the same lines at the same times in
// what is written here.
func TestAnotherReaderAgrees(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := lessons.Draw(t, "lesson")
		for i := range want.Utterances { // it decodes only some entities
			for j := range want.Utterances[i].Words {
				w := &want.Utterances[i].Words[j]
				w.Text = strings.NewReplacer("<", "l", ">", "g", "&", "n").Replace(w.Text)
			}
			want.Utterances[i].Text = Join(want.Utterances[i].Words)
			want.Utterances[i].Speaker = strings.Trim(want.Utterances[i].Speaker, "a<b>")
		}
		if len(want.Utterances) == 0 {
			return
		}
		var vtt, srt strings.Builder
		if err := WriteVTT(&vtt, want); err != nil {
			t.Fatal(err)
		}
		if err := WriteSRT(&srt, want); err != nil {
			t.Fatal(err)
		}
		fromVTT, err := astisub.ReadFromWebVTT(strings.NewReader(vtt.String()))
		if err != nil {
			t.Fatal(err)
		}
		fromSRT, err := astisub.ReadFromSRT(strings.NewReader(srt.String()))
		if err != nil {
			t.Fatal(err)
		}
		ours, err := Read("x.srt", strings.NewReader(srt.String()))
		if err != nil {
			t.Fatal(err)
		}
		if len(fromVTT.Items) != len(want.Utterances) || len(fromSRT.Items) != len(want.Utterances) || len(ours.Utterances) != len(want.Utterances) {
			t.Fatalf("%d, %d and %d cues of %d\n%s", len(fromVTT.Items), len(fromSRT.Items), len(ours.Utterances), len(want.Utterances), srt.String())
		}
		for i, u := range want.Utterances {
			for _, item := range []*astisub.Item{fromVTT.Items[i], fromSRT.Items[i]} {
				if math.Abs(item.StartAt.Seconds()-u.Start) > 1e-6 || math.Abs(item.EndAt.Seconds()-u.End) > 1e-6 {
					t.Fatalf("cue %d from %v to %v, want %g to %g", i, item.StartAt, item.EndAt, u.Start, u.End)
				}
				var text []string
				for _, l := range item.Lines {
					text = append(text, strings.Join(strings.Fields(l.String()), " "))
				}
				if got := strings.Join(text, " "); got != u.Text {
					t.Fatalf("cue %d says %q, want %q", i, got, u.Text)
				}
			}
			if got := html.UnescapeString(fromVTT.Items[i].Lines[0].VoiceName); got != u.Speaker {
				t.Fatalf("cue %d by %q, want %q", i, got, u.Speaker)
			}
			if o := ours.Utterances[i]; o.Text != u.Text || o.Start != u.Start || o.End != u.End {
				t.Fatalf("our SRT reader: %+v, want %+v", o, u)
			}
		}
	})
}

func TestWritesUtterancesThatHaveOnlyText(t *testing.T) {
	var b strings.Builder
	err := WriteVTT(&b, &Transcript{[]Utterance{{Start: 1, End: 1, Text: "two words", Speaker: "Student"}, {Text: " "}}})
	want := "WEBVTT\n\n00:00:01.000 --> 00:00:01.001\n<v Student>two words\n"
	if err != nil || b.String() != want {
		t.Errorf("got %q, %v\nwant %q", b.String(), err, want)
	}
}

func BenchmarkReadVTT(b *testing.B) {
	var tr Transcript
	for i := range 2000 { // a two-hour lesson of 20,000 words
		at := float64(i) * 3.6
		tr.Utterances = append(tr.Utterances, Utterance{Start: at, End: at + 3, Speaker: "Student",
			Words: Spread("and now carb heat comes on then power back gently", at, at+3)})
	}
	var s strings.Builder
	if err := WriteVTT(&s, &tr); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(s.Len()))
	for b.Loop() {
		if _, err := Read("x", strings.NewReader(s.String())); err != nil {
			b.Fatal(err)
		}
	}
}
