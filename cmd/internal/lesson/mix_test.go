package lesson

import (
	"bytes"
	"crypto/sha256"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"sidetone/audio/models/modelstest"
)

// hum is a voice for tests that needs no engine: each word is 0.3 s of a tone,
// with 0.1 s of silence before, between and after words.
func hum(v Voice, words []string) (Speech, error) {
	pitch := map[string]float64{"slt": 500, "rms": 900, "awb": 1300}[v.Name]
	var sp Speech
	gap := make([]float32, rate/10)
	sp.Samples = append(sp.Samples, gap...)
	for range words {
		sp.Begins = append(sp.Begins, float64(len(sp.Samples))/rate)
		for i := range 3 * rate / 10 {
			sp.Samples = append(sp.Samples, float32(0.5*math.Sin(2*math.Pi*pitch*float64(i)/rate)))
		}
		sp.Ends = append(sp.Ends, float64(len(sp.Samples))/rate)
		sp.Samples = append(sp.Samples, gap...)
	}
	return sp, nil
}

const humScript = `
title: humming
seed: 7
voices: {student: slt, instructor: rms, tower: awb}
lines:
- {who: instructor, say: "one two three four five"}
- {who: student, say: "six {trim-set: trim set} nine"}
- {who: tower, say: "ten eleven twelve"}
`

// mixed is the script hummed, with options changed.
func mixed(t *testing.T, change func(*Script)) ([][]float64, Truth) {
	t.Helper()
	s, err := Parse("hum", []byte(humScript))
	if err != nil {
		t.Fatal(err)
	}
	change(s)
	sp, err := Speak(s, hum)
	if err != nil {
		t.Fatal(err)
	}
	channels, truth, err := sp.Mix()
	if err != nil {
		t.Fatal(err)
	}
	return channels, truth
}

const noNoise = 200 // dB

func minus(a, b []float64) []float64 {
	out := slices.Clone(a)
	for i := range out {
		out[i] -= b[i]
	}
	return out
}

func dB(ratio float64) float64 { return 10 * math.Log10(ratio) }

func TestSpeechIsAsFarAboveTheEngineAsAskedFor(t *testing.T) {
	for _, narrow := range []bool{false, true} {
		clean, truth := mixed(t, func(s *Script) { s.SNR, s.Narrow = noNoise, narrow })
		for _, snr := range []float64{30, 20, 15, 10, 5} {
			noisy, _ := mixed(t, func(s *Script) { s.SNR, s.Narrow = snr, narrow })
			noise := Power(Band(minus(noisy[0], clean[0]), 300, 3400))
			var speech []float64
			for _, l := range truth.Lines {
				for _, w := range l.Words {
					speech = append(speech, clean[0][int(w.Start*rate):int(w.End*rate)]...)
				}
			}
			if got := dB(Power(speech) / noise); math.Abs(got-snr) > 1 {
				t.Errorf("narrow %v: %.1f dB, %g was asked for", narrow, got, snr)
			}
		}
	}
}

func TestTheSameScriptGivesTheSameSamplesAndAnotherSeedOthers(t *testing.T) {
	everything := func(s *Script) {
		s.Channels, s.Seats, s.Radio, s.Riding, s.Clip = 2, []string{"student", "instructor"}, []string{"tower"}, 6, 0.1
	}
	a, _ := mixed(t, everything)
	b, _ := mixed(t, everything)
	for c := range a {
		if !slices.Equal(a[c], b[c]) {
			t.Errorf("channel %d differs from one time to the next", c)
		}
	}
	other, _ := mixed(t, func(s *Script) { everything(s); s.Seed = 8 })
	if slices.Equal(a[0], other[0]) {
		t.Error("another seed gives the same samples")
	}
}

func TestEffectsLeaveTheEngineNoiseAsItWas(t *testing.T) {
	noise := func(change func(*Script)) []float64 {
		clean, _ := mixed(t, func(s *Script) { change(s); s.SNR = noNoise })
		noisy, _ := mixed(t, func(s *Script) { change(s); s.SNR = 20 })
		return minus(noisy[0], clean[0])
	}
	plain := noise(func(*Script) {})
	other := noise(func(s *Script) { s.Clip = 0.1; s.Radio = []string{"tower"} })
	// A radio's tail makes the lesson longer, and the level is that of all of it.
	gain := other[0] / plain[0]
	if math.Abs(dB(gain*gain)) > 0.5 {
		t.Errorf("the level differs by %.2f dB", dB(gain*gain))
	}
	for i := range min(len(plain), len(other)) {
		if math.Abs(gain*plain[i]-other[i]) > 1e-9 {
			t.Fatalf("the noise differs from sample %d on", i)
		}
	}
}

func TestEachSeatIsOnItsChannelAndLeaksIntoTheOther(t *testing.T) {
	both, truth := mixed(t, func(s *Script) {
		s.SNR, s.Channels, s.Seats, s.Leak = noNoise, 2, []string{"student", "instructor"}, -20
	})
	for _, l := range truth.Lines {
		from, to := int(l.Start*rate), int(l.End*rate)
		levels := dB(Power(both[0][from:to]) / Power(both[1][from:to]))
		want := map[string]float64{"student": 20, "instructor": -20, "tower": 0}[l.Speaker]
		if math.Abs(levels-want) > 0.5 {
			t.Errorf("%s: the left channel is %.1f dB above the right, want %g", l.Speaker, levels, want)
		}
		if wantC := map[string]int{"student": 0, "instructor": 1, "tower": -1}[l.Speaker]; l.Channel != wantC {
			t.Errorf("%s is on channel %d by the sheet, want %d", l.Speaker, l.Channel, wantC)
		}
	}
}

func TestALateVoiceSwitchEatsTheStartOfEachLine(t *testing.T) {
	c, truth := mixed(t, func(s *Script) { s.SNR, s.Clip = noNoise, 0.12 })
	for _, l := range truth.Lines {
		at := int(l.Start * rate)
		if p := Power(c[0][at : at+int(0.115*rate)]); p > 1e-9 {
			t.Errorf("%s: something is heard in the first tenth of a second", l.Speaker)
		}
		if p := Power(c[0][at+int(0.15*rate) : at+int(0.29*rate)]); p < 1e-4 {
			t.Errorf("%s: the rest of the first word is gone too", l.Speaker)
		}
	}
}

func TestARadioHasATailOfNoiseAndNoLowTones(t *testing.T) {
	plain, truth := mixed(t, func(s *Script) { s.SNR = noNoise })
	radio, _ := mixed(t, func(s *Script) { s.SNR, s.Radio = noNoise, []string{"tower"} })
	end := int((truth.Lines[2].End + 0.06) * rate)
	if a, b := Power(plain[0][end:end+rate/20]), Power(radio[0][end:end+rate/20]); a > 1e-9 || b < 1e-5 {
		t.Errorf("after the last word: %.2g without a radio, %.2g with one", a, b)
	}
	low := func(hz float64) float64 {
		tone := make([]float64, rate)
		for i := range tone {
			tone[i] = speechLevel * math.Sin(2*math.Pi*hz*float64(i)/rate)
		}
		return Power(Band(tone, 450, 2600)) / Power(tone)
	}
	if d := dB(low(120) / low(1200)); d > -35 {
		t.Errorf("120 Hz comes through only %.0f dB weaker than 1200 Hz", d)
	}
}

func TestTheLevelRidesNoFurtherThanAskedFor(t *testing.T) {
	// A minute of one steady tone.
	tone := make([]float64, 60*rate)
	for i := range tone {
		tone[i] = speechLevel * math.Sqrt2 * math.Sin(2*math.Pi*500*float64(i)/rate)
	}
	was := Power(tone[:rate])
	ride(tone, 6, rand.New(rand.NewPCG(3, streamDrift)))
	least, most := math.Inf(1), math.Inf(-1)
	for at := 0; at+rate <= len(tone); at += rate {
		d := dB(Power(tone[at:at+rate]) / was)
		least, most = min(least, d), max(most, d)
	}
	if least < -6.1 || most > 6.1 || most-least < 4 {
		t.Errorf("the level goes from %.1f to %.1f dB, 6 up and down were asked for", least, most)
	}
}

func TestLinesKeepTheirPausesAndMayOverlap(t *testing.T) {
	_, apart := mixed(t, func(s *Script) { s.Lines[1].Pause = 2 })
	_, over := mixed(t, func(s *Script) { s.Lines[1].Pause = -0.5 })
	// The hummed voice has 0.1 s of silence before and after its words.
	if gap := apart.Lines[1].Start - apart.Lines[0].End; math.Abs(gap-2.2) > 0.01 {
		t.Errorf("%.2f s between the lines, want 2.2", gap)
	}
	if gap := over.Lines[1].Start - over.Lines[0].End; math.Abs(gap+0.3) > 0.01 {
		t.Errorf("%.2f s between the lines, want -0.3", gap)
	}
}

func TestTheSheetHasTheTimesOfCalls(t *testing.T) {
	_, truth := mixed(t, func(*Script) {})
	l, c := truth.Lines[1], truth.Calls[0]
	if c.Start != l.Words[1].Start || c.End != l.Words[2].End || c.ID != "trim-set" || c.Voice != "flite:slt" {
		t.Errorf("the call is %+v, the line %+v", c, l)
	}
}

// The demo's recording is committed: it must stay what its script gives.
func TestTheDemoIsWhatItsScriptMakes(t *testing.T) {
	if testing.Short() {
		t.Skip("takes long")
	}
	need(t, "flite")
	dir := filepath.Join("..", "..", "..", "testdata", "demo")
	b, err := os.ReadFile(filepath.Join(dir, "lesson.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	s, err := Parse("lesson.yaml", b)
	if err != nil {
		t.Fatal(err)
	}
	sp, err := Speak(s, Say)
	if err != nil {
		t.Fatal(err)
	}
	channels, _, err := sp.Mix()
	if err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(t.TempDir(), "demo.wav")
	f, err := os.Create(out)
	if err != nil {
		t.Fatal(err)
	}
	if err := WriteWAV(f, channels); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(sum(t, out), sum(t, filepath.Join(dir, "lesson.wav"))) {
		t.Error("the recording made is not the one committed")
	}
}

func sum(t *testing.T, path string) []byte {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		t.Fatal(err)
	}
	return h.Sum(nil)
}

func need(t *testing.T, tool string) {
	t.Helper()
	if !installed(tool) {
		modelstest.Missing(t, tool)
	}
}
