package voices

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"sidetone/audio"
	"sidetone/audio/transcript"
)

// speaker speaks vowels: pulses of a pitch through three formants, each so much longer
// or shorter than an average throat has them.
type speaker struct{ pitch, throat float64 }

var (
	low   = speaker{110, 1}
	high  = speaker{205, 1.17}
	child = speaker{300, 1.35}
)

// vowels are the first three formants of i, ae, a, u and er (G. E. Peterson and H. L.
// Barney, "Control Methods Used in a Study of the Vowels", JASA 24, 1952: men).
var vowels = [][3]float64{{270, 2290, 3010}, {660, 1720, 2410}, {730, 1090, 2440}, {300, 870, 2240}, {490, 1350, 1690}}

// say speaks for so many seconds.
func (s speaker) say(seconds float64, rng *rand.Rand) []float32 {
	out := make([]float32, int(seconds*audio.Rate))
	phase := 0.0
	var v [3]float64
	var y1, y2 [3]float64
	for i := range out {
		if i%(audio.Rate/6) == 0 {
			v = vowels[rng.IntN(len(vowels))]
		}
		t := float64(i%(audio.Rate/6)) / (audio.Rate / 6)
		x := 0.02 * rng.NormFloat64()
		phase += s.pitch * (1 + 0.1*math.Sin(2*math.Pi*float64(i)/audio.Rate/1.7)) / audio.Rate
		if phase >= 1 {
			phase--
			x++
		}
		x *= math.Sin(math.Pi * t)
		for k, hz := range v {
			r := math.Exp(-math.Pi * 90 / audio.Rate)
			y := x + 2*r*math.Cos(2*math.Pi*hz*s.throat/audio.Rate)*y1[k] - r*r*y2[k]
			y2[k], y1[k] = y1[k], y
			x = y * 0.3
		}
		out[i] = float32(0.02 * x)
	}
	return out
}

// scene is what several say, and how it is heard over noise.
type scene struct {
	rng        *rand.Rand
	sounds     []Sound
	utterances []transcript.Utterance
	at         float64
}

func newScene() *scene { return &scene{rng: rand.New(rand.NewPCG(3, 4)), at: 1} }

func (s *scene) noisy(x []float32, gain float64) []float32 {
	pad := make([]float32, audio.Rate/5)
	x = slices.Concat(pad, x, pad)
	for i := range x {
		x[i] = float32(gain*float64(x[i]) + 0.0015*s.rng.NormFloat64())
	}
	return x
}

// by adds an utterance in which each speaks for so many seconds, a word a second.
func (s *scene) by(seconds float64, who ...speaker) {
	var x []float32
	u := transcript.Utterance{Start: s.at}
	for i, w := range who {
		if i > 0 {
			x = append(x, make([]float32, audio.Rate/4)...)
			u.End += 0.25
		}
		from := s.at + float64(len(x))/audio.Rate
		x = append(x, w.say(seconds, s.rng)...)
		u.End = s.at + float64(len(x))/audio.Rate
		u.Words = append(u.Words, transcript.Spread(strings.Repeat("word ", int(math.Ceil(seconds))), from, u.End)...)
	}
	u.Text = transcript.Join(u.Words)
	s.utterances = append(s.utterances, u)
	s.sounds = append(s.sounds, Listen(audio.Segment{Start: s.at - 0.2, Samples: s.noisy(x, 1)}))
	s.at = u.End + 1
}

// talk is a conversation of so many utterances each.
func (s *scene) talk(n int, who ...speaker) {
	for range n {
		for _, w := range who {
			s.by(1.2+s.rng.Float64(), w)
		}
	}
}

func speakers(us []transcript.Utterance) (out []string) {
	for _, u := range us {
		out = append(out, u.Speaker)
	}
	return out
}

func TestVoicesOfTheRecordingItselfAreTold(t *testing.T) {
	s := newScene()
	s.by(8, low)
	s.by(8, high)
	s.talk(12, low, high)
	taught := []Taught{{Name: "instructor", From: 1, To: 9}, {Name: "student", From: 10, To: 18}}
	us, rep := Name(s.utterances, s.sounds, taught)
	right := 0
	for i, who := range speakers(us) {
		if want := []string{"instructor", "student"}[i%2]; who == want {
			right++
		} else if who != "" {
			t.Errorf("utterance %d is said to be the %s's", i, who)
		}
	}
	if right < 24 {
		t.Errorf("%d of 26 are told: %q", right, speakers(us))
	}
	if len(rep.Voices) != 2 || rep.Voices[0].Named+rep.Voices[1].Named != right || rep.Tried < 4 || rep.Right != rep.Tried || right+rep.Unsure+rep.Nobodys != len(us) {
		t.Errorf("%+v", rep)
	}
}

func TestAClipTeachesThoughItIsLouderAndFreeOfNoise(t *testing.T) {
	s := newScene()
	clip := func(w speaker) []Sound {
		return []Sound{Listen(audio.Segment{Samples: append(append(make([]float32, 3200), w.say(10, s.rng)...), make([]float32, 3200)...)})}
	}
	s.talk(12, low, high)
	us, _ := Name(s.utterances, s.sounds, []Taught{{Name: "instructor", Clip: clip(low)}, {Name: "student", Clip: clip(high)}})
	right := 0
	for i, who := range speakers(us) {
		if who == []string{"instructor", "student"}[i%2] {
			right++
		} else if who != "" {
			t.Errorf("utterance %d is said to be the %s's", i, who)
		}
	}
	// Less surely than by the recording itself, and never wrongly.
	if right < 14 {
		t.Errorf("%d of 24 are told: %q", right, speakers(us))
	}
}

func TestAVoiceNobodyWasTaughtHasNoName(t *testing.T) {
	s := newScene()
	s.by(8, low)
	s.by(8, high)
	s.talk(8, low, high, child)
	us, rep := Name(s.utterances, s.sounds, []Taught{{Name: "instructor", From: 1, To: 9}, {Name: "student", From: 10, To: 18}})
	for i, u := range us[2:] {
		if i%3 == 2 && u.Speaker != "" {
			t.Errorf("the third voice, utterance %d, is said to be the %s's", i+2, u.Speaker)
		}
	}
	if rep.Nobodys < 4 {
		t.Errorf("%+v", rep)
	}
}

func TestAnUtteranceIsPartedWhereTheVoiceChanges(t *testing.T) {
	s := newScene()
	s.by(8, low)
	s.by(8, high)
	s.talk(6, low, high)
	s.by(2, low, high)
	n := len(s.utterances)
	us, _ := Name(s.utterances, s.sounds, []Taught{{Name: "instructor", From: 1, To: 9}, {Name: "student", From: 10, To: 18}})
	if len(us) != n+1 {
		t.Fatalf("%d utterances of %d: %q", len(us), n, speakers(us))
	}
	order, answer := us[n-1], us[n]
	if order.Speaker != "instructor" || answer.Speaker != "student" || len(order.Words) != 2 || len(answer.Words) != 2 ||
		order.Text != "word word" || order.End > answer.Start || answer.End != s.utterances[n-1].End {
		t.Errorf("%+v\n%+v", order, answer)
	}
}

func TestTooLittleTeachesNothing(t *testing.T) {
	s := newScene()
	s.talk(6, low, high)
	us, rep := Name(s.utterances, s.sounds, []Taught{{Name: "student", From: 0.5, To: 2}, {Name: "instructor", Clip: []Sound{}}})
	for _, v := range rep.Voices {
		if !strings.Contains(v.Trouble, "clear speech") {
			t.Errorf("%+v", v)
		}
	}
	if len(rep.Voices) != 2 || slices.ContainsFunc(us, func(u transcript.Utterance) bool { return u.Speaker != "" }) {
		t.Errorf("%q, %+v", speakers(us), rep)
	}
	if us, _ := Name(nil, nil, []Taught{{Name: "student", From: 0, To: 9}}); len(us) != 0 {
		t.Errorf("of nothing: %v", us)
	}
}

func TestWhoIsKnownIsLeftAlone(t *testing.T) {
	s := newScene()
	s.by(8, low)
	s.talk(5, low, high)
	s.utterances[3].Speaker = "radio"
	if us, _ := Name(s.utterances, s.sounds, []Taught{{Name: "instructor", From: 1, To: 9}}); us[3].Speaker != "radio" {
		t.Errorf("%q", speakers(us))
	}
}

func TestPitchIsHeardThroughAnIntercom(t *testing.T) {
	s := newScene()
	for _, w := range []speaker{low, high, child} {
		sound := Listen(audio.Segment{Samples: s.noisy(w.say(4, s.rng), 1)})
		var hz []float64
		for _, p := range sound.pitches {
			if p > 0 {
				hz = append(hz, float64(p))
			}
		}
		slices.Sort(hz)
		if len(hz) < 60 || math.Abs(hz[len(hz)/2]/w.pitch-1) > 0.12 {
			t.Errorf("%g Hz: %d frames, the middle one of %.0f Hz", w.pitch, len(hz), hz[len(hz)/2])
		}
	}
}

func TestTheLikeliestPathChangesOnlyForGoodReason(t *testing.T) {
	for _, c := range []struct {
		name   string
		likely [][]float64
		want   []int
	}{
		{"one voice", [][]float64{{3, 0}, {2, 0}}, []int{0, 0}},
		{"a doubtful piece between sure ones", [][]float64{{5, 0}, {0, 0.5}, {5, 0}}, []int{0, 0, 0}},
		{"another goes on", [][]float64{{5, 0}, {0, 9}}, []int{0, 1}},
	} {
		if got := viterbi(c.likely, []float64{0, 0}, 0.1); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
