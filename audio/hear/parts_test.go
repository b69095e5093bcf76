package hear_test

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"sidetone/audio"
	"sidetone/audio/audiotest"
	"sidetone/audio/hear"
)

func listenTo(t *testing.T, opt hear.Options, paths ...string) *hear.Result {
	t.Helper()
	tape, err := audio.Load(context.Background(), paths...)
	if err != nil {
		t.Fatal(err)
	}
	opt.Detectors, opt.Recogniser = loudness, echo{}
	opt.Cutting = eachSound
	res, err := hear.ListenTo(context.Background(), tape, opt)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

func at(rate int, tb testing.TB, channels ...[]float32) string {
	tb.Helper()
	var b bytes.Buffer
	if err := audio.WriteWAV(&b, rate, channels...); err != nil {
		tb.Fatal(err)
	}
	path := filepath.Join(tb.TempDir(), "part.wav")
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		tb.Fatal(err)
	}
	return path
}

// A recorder that is full splits where it is full, in the middle of a word if
// need be.
func TestAWordSplitBetweenTwoFilesIsHeardAsOne(t *testing.T) {
	x := sound(20, map[float64]float64{2: 0.1, 9.6: 0.2, 15: 0.3})
	whole := listen(t, audiotest.WriteWAV(t, x), hear.Options{})
	split := listenTo(t, hear.Options{}, at(audio.Rate, t, x[:10*audio.Rate]), at(audio.Rate, t, x[10*audio.Rate:]))
	if got := texts(split.Transcript.Utterances); !slices.Equal(got, []string{"ten", "twenty", "thirty"}) {
		t.Errorf("heard %q", got)
	}
	for i, u := range split.Transcript.Utterances {
		if w := whole.Transcript.Utterances[i]; u.Start != w.Start || u.End != w.End {
			t.Errorf("%q is at %.3f to %.3f, in one file at %.3f to %.3f", u.Text, u.Start, u.End, w.Start, w.End)
		}
	}
	if split.Duration != 20 || split.Speech != whole.Speech || !slices.Equal(split.Starts, []float64{0, 10}) {
		t.Errorf("%.2f s with %.2f s of speech, parts at %v; in one file %.2f s of speech", split.Duration, split.Speech, split.Starts, whole.Speech)
	}
}

func TestFilesThatDifferAreOneTimeline(t *testing.T) {
	seats := at(audio.Rate, t, sound(8, map[float64]float64{1: 0.1, 3: 0.1}), sound(8, map[float64]float64{5: 0.2}))
	phone := at(3*audio.Rate, t, thrice(sound(6, map[float64]float64{2: 0.3})))
	again := at(audio.Rate, t, sound(4, nil), sound(4, map[float64]float64{1: 0.4}))
	res := listenTo(t, hear.Options{Speakers: map[int]string{0: "student", 1: "instructor"}}, seats, phone, again)
	var got []string
	for _, u := range res.Transcript.Utterances {
		got = append(got, fmt.Sprintf("%s on %d at %.0f by %q", u.Text, u.Channel, u.Start, u.Speaker))
	}
	// A phone has no seats: whoever speaks there is not the student for being first.
	want := []string{`ten on 0 at 1 by "student"`, `ten on 0 at 3 by "student"`, `twenty on 1 at 5 by "instructor"`, `thirty on 0 at 10 by ""`, `forty on 1 at 15 by "instructor"`}
	if !slices.Equal(got, want) {
		t.Errorf("heard %q, want %q", got, want)
	}
	if !slices.Equal(res.Starts, []float64{0, 8, 14}) || res.Duration != 18 {
		t.Errorf("parts at %v of %.2f s", res.Starts, res.Duration)
	}
}

func TestNamesAreGivenOnlyToSeatsThatAreApart(t *testing.T) {
	names := map[int]string{0: "student", 1: "instructor"}
	one := sound(8, map[float64]float64{1: 0.1, 4: 0.2})
	for _, c := range []struct {
		name string
		path string
		opt  hear.Options
		want []string
	}{
		{"one channel", audiotest.WriteWAV(t, one), hear.Options{}, []string{"", ""}},
		{"the same on both sides", audiotest.WriteWAV(t, one, slices.Clone(one)), hear.Options{}, []string{"", ""}},
		{"a side with nothing on it", audiotest.WriteWAV(t, make([]float32, len(one)), one), hear.Options{}, []string{"instructor", "instructor"}},
		{"a side that was asked for", audiotest.WriteWAV(t, one, slices.Clone(one)), hear.Options{Channels: []int{1}}, []string{"instructor", "instructor"}},
	} {
		c.opt.Speakers = names
		var got []string
		for _, u := range listen(t, c.path, c.opt).Transcript.Utterances {
			got = append(got, u.Speaker)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: spoken by %q, want %q", c.name, got, c.want)
		}
	}
}

func TestEveryChannelIsMeasuredWithWhatTheDetectorHeardOfIt(t *testing.T) {
	words := map[float64]float64{}
	for i := range 10 {
		words[1+4*float64(i)] = 0.1
	}
	talk := sound(42, words)
	for i := range talk {
		talk[i] += 0.001 * float32(i%2*2-1) // -60 dBFS, at 8 kHz
	}
	res := listen(t, at(3*audio.Rate, t, thrice(talk), make([]float32, 3*len(talk))), hear.Options{})
	if len(res.Levels) != 2 {
		t.Fatalf("%d levels", len(res.Levels))
	}
	l, r := res.Levels[0], res.Levels[1]
	if !l.Listened || l.Channels != 2 || l.Noise < -61 || l.Noise > -59 || l.Voice < -25 || l.Voice > -22 || l.Share < 0.25 || l.Share > 0.4 {
		t.Errorf("the left side is %+v", l)
	}
	if l.SNR < 35 { // what is at 8 kHz does not drown words
		t.Errorf("the left side is %.1f dB above its noise", l.SNR)
	}
	if r.Listened || r.Channel != 1 || r.Share != 0 {
		t.Errorf("the right side is %+v", r)
	}
}

// thrice is x at three times the rate, crudely.
func thrice(x []float32) (out []float32) {
	for _, v := range x {
		out = append(out, v, v, v)
	}
	return out
}
