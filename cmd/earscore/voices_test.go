package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sidetone/audio"
	"sidetone/audio/audiotest"
	"sidetone/audio/models/modelstest"
	"sidetone/audio/transcript"
	"sidetone/audio/voices"
	"sidetone/cmd/internal/lesson"
)

// inCockpit are sentences of a lesson, a call or some talk each.
var inCockpit = strings.Split(`Carb heat on. Power back, seventeen hundred.
Flaps ten.
Airspeed six five knots, trim set.
Full power, carb heat cold.
Nice and level here, whenever you are ready.
Positive rate, flaps up.
Feel how soft the controls are, and how much right rudder it wants.
I can see him, he is well below us.
Heading two seven zero.
Altitude three thousand five hundred.
Let us go back to normal cruise.
Clearing turns complete.
Cruise power, twenty three hundred.
Look how high the nose is and how little we see of the road ahead.
It feels like we are hanging on the propeller.
We will talk about that one on the ground.
Fuel pump on, mixture rich.
Good eyes. That was well flown.
Nose coming up.
Flaps thirty.
Landing light on, belts fastened.
How was your altitude?
Steep turn to the left, forty five degrees of bank.
Take us out of it.
I think we lost a little, then it came back.
Wings level, nose down, power idle.
Next time a little earlier with the rudder.
Runway in sight, turning base.
Gear down, three green.
You have the controls. I have the controls.`, "\n")

// synthetic is what a synthetic voice says.
func synthetic(t *testing.T, name string) (out [][]float32) {
	t.Helper()
	v, err := lesson.ParseVoice(name)
	if err != nil {
		t.Fatal(err)
	}
	audiotest.Need(t, v.Engine)
	for _, s := range inCockpit {
		if v.Engine == "flite" { // without the times of the words, which take longest
			out = append(out, audiotest.Say(t, v.Name, s))
			continue
		}
		sp, err := lesson.Say(v, strings.Fields(s))
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, sp.Samples)
	}
	return out
}

// recorded is what somebody says in up to n files, of a second to five.
func recorded(t *testing.T, pkg, files string, n int) (out [][]float32) {
	t.Helper()
	audiotest.Need(t, "ffmpeg")
	names, err := filepath.Glob(files)
	if err != nil {
		t.Fatal(err)
	}
	if len(names) == 0 {
		modelstest.Missing(t, "Debian's "+pkg)
	}
	slices.Sort(names)
	for i := 0; i < len(names) && len(out) < n; i += 1 + len(names)/(3*n) {
		x := audiotest.Load(t, names[i])
		if s := float64(len(x)) / audio.Rate; s > 1 && s < 5 {
			out = append(out, x)
		}
	}
	return out
}

// scene is a recording of one channel in which several speak in turn: those who are
// taught, and then somebody who is not.
type scene struct {
	name   string
	voices [][][]float32
	radio  bool // the one who is not taught speaks over the radio
}

// staged is a scene as it would be heard.
type staged struct {
	sounds     []voices.Sound
	utterances []transcript.Utterance
	who        []int
}

const strangersSay = 8 // utterances of the one who is not taught

// stage mixes a scene over engine noise. Voices are louder and fainter by up to 4 dB,
// and reach the recorder through an intercom's band.
func (s scene) stage(snr float64) *staged {
	rng := rand.New(rand.NewPCG(1, 5))
	type turn struct{ who, line, from, to int }
	var turns []turn
	for who, lines := range s.voices {
		if who == len(s.voices)-1 {
			lines = lines[:strangersSay]
		}
		for i := range lines {
			turns = append(turns, turn{who: who, line: i})
		}
	}
	rng.Shuffle(len(turns), func(i, j int) { turns[i], turns[j] = turns[j], turns[i] })
	x := make([]float64, audio.Rate)
	for i := range turns {
		w := &turns[i]
		line := levelled(s.voices[w.who][w.line])
		if s.radio && w.who == len(s.voices)-1 {
			line = lesson.Band(line, 450, 2600)
			for i := range line {
				line[i] = 1.6 * speechRMS * math.Tanh(line[i]/speechRMS)
			}
		}
		g := math.Pow(10, (rng.Float64()*8-4)/20)
		w.from = len(x)
		for _, v := range line {
			x = append(x, g*v)
		}
		w.to = len(x)
		x = append(x, make([]float64, audio.Rate*6/10)...)
	}
	x = lesson.Band(x, 300, 3400)
	noise := lesson.Engine{Firing: 76, Fall: 0.7, Hum: 0.5, Wind: 1.2, Hiss: 0.35}.Noise(len(x), rng)
	g := speechRMS / math.Sqrt(lesson.Power(lesson.Band(noise, 300, 3400))) * math.Pow(10, -snr/20)
	samples := make([]float32, len(x))
	for i := range x {
		samples[i] = float32(x[i] + g*noise[i])
	}
	out := &staged{}
	for _, w := range turns {
		lo, hi := max(0, w.from-audio.Rate/5), min(len(samples), w.to+audio.Rate/5)
		out.sounds = append(out.sounds, voices.Listen(audio.Segment{Start: float64(lo) / audio.Rate, Samples: samples[lo:hi]}))
		u := transcript.Utterance{Start: float64(w.from) / audio.Rate, End: float64(w.to) / audio.Rate, Text: "said"}
		u.Words = transcript.Spread(u.Text, u.Start, u.End)
		out.utterances = append(out.utterances, u)
		out.who = append(out.who, w.who)
	}
	return out
}

const speechRMS = 0.09

func levelled(x []float32) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = float64(v)
	}
	g := speechRMS / math.Sqrt(lesson.Sounding(out)+1e-12)
	for i := range out {
		out[i] *= g
	}
	return out
}

// told is how utterances of a scene were told that taught nothing.
type told struct{ right, wrong, unsure, strangers, taken int }

func (a *told) add(b told) {
	a.right, a.wrong, a.unsure = a.right+b.right, a.wrong+b.wrong, a.unsure+b.unsure
	a.strangers, a.taken = a.strangers+b.strangers, a.taken+b.taken
}

func (a told) String() string {
	n := float64(max(1, a.right+a.wrong+a.unsure)) / 100
	return fmt.Sprintf("right %5.1f %%, unsure %5.1f %%, wrong %4.1f %% of %d; strangers given a name: %d of %d",
		float64(a.right)/n, float64(a.unsure)/n, float64(a.wrong)/n, a.right+a.wrong+a.unsure, a.taken, a.strangers)
}

// tell teaches each voice by the first so many seconds of it.
func (s scene) tell(st *staged, seconds float64) (out told) {
	names := []string{"first", "second", "third"}[:len(s.voices)-1]
	var taught []voices.Taught
	lesson := map[int]bool{}
	for who, name := range names {
		had := 0.0
		for i, u := range st.utterances {
			if st.who[i] == who && had < seconds {
				taught = append(taught, voices.Taught{Name: name, From: u.Start - 0.1, To: u.End + 0.1})
				lesson[i] = true
				had += u.End - u.Start
			}
		}
	}
	named, _ := voices.Name(st.utterances, st.sounds, taught)
	for i, u := range named {
		switch {
		case lesson[i]:
		case st.who[i] == len(names):
			out.strangers++
			if u.Speaker != "" {
				out.taken++
			}
		case u.Speaker == "":
			out.unsure++
		case u.Speaker == names[st.who[i]]:
			out.right++
		default:
			out.wrong++
		}
	}
	return out
}

// The figures of the README: SIDETONE_LONG=1 go test ./cmd/earscore -run WhoSpeaks -v
func TestWhoSpeaksIsToldByVoice(t *testing.T) {
	if os.Getenv("SIDETONE_LONG") == "" {
		t.Skip("this is long: SIDETONE_LONG=1")
	}
	slt, rms, awb := synthetic(t, "slt"), synthetic(t, "rms"), synthetic(t, "awb")
	kal, robot := synthetic(t, "kal16"), synthetic(t, "espeak-ng:en-us")
	// Two people who speak Dutch in the same studio; and prompts for telephones, in
	// English and in French: there the language is another as well, which helps.
	const fish = "/usr/share/games/fillets-ng/sound/*/nl/*-"
	small, big := recorded(t, "fillets-ng-data-nl", fish+"m-*.ogg", 30), recorded(t, "fillets-ng-data-nl", fish+"v-*.ogg", 30)
	const prompts = "/usr/share/asterisk/sounds/"
	english := recorded(t, "asterisk-core-sounds-en-wav", prompts+"en_US_f_*/*.wav", 30)
	french := recorded(t, "asterisk-core-sounds-fr-wav", prompts+"fr_CA_f_*/*.wav", 30)
	for _, group := range []struct {
		name   string
		scenes []scene
		least  map[float64]int // percent told rightly, by signal-to-noise ratio
	}{
		{"synthetic voices", []scene{
			{"slt and rms, awb on the radio", [][][]float32{slt, rms, awb}, true},
			{"rms and awb, slt", [][][]float32{rms, awb, slt}, false},
			{"awb and kal16, rms", [][][]float32{awb, kal, rms}, false},
			{"espeak-ng and slt, kal16", [][][]float32{robot, slt, kal}, false},
		}, map[float64]int{20: 80, 10: 65}},
		{"two people, the same language", []scene{
			{"Dutch, French on the radio", [][][]float32{small, big, french}, true},
			{"Dutch, English", [][][]float32{small, big, english}, false},
		}, map[float64]int{20: 60, 10: 40}},
		{"two people, each in another language", []scene{
			{"English and French, Dutch on the radio", [][][]float32{english, french, big}, true},
		}, map[float64]int{20: 60, 10: 40}},
	} {
		for _, snr := range []float64{20, 10} {
			var all told
			for _, s := range group.scenes {
				got := s.tell(s.stage(snr), 10)
				t.Logf("%2.0f dB, %-40s %s", snr, s.name, got)
				if s.radio && got.taken > 1 {
					t.Errorf("%g dB, %s: the radio was given a name %d times", snr, s.name, got.taken)
				}
				all.add(got)
			}
			t.Logf("%2.0f dB, %s: %s", snr, group.name, all)
			n := all.right + all.wrong + all.unsure
			if 100*all.right < group.least[snr]*n || 100*all.wrong > 3*n {
				t.Errorf("%g dB, %s: %s", snr, group.name, all)
			}
		}
	}
}
