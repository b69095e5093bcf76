package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"testing"

	"sidetone/audio"
	"sidetone/audio/audiotest"
	"sidetone/cmd/internal/lesson"
)

func tone(hz, seconds float64) []float64 {
	x := make([]float64, int(seconds*audio.Rate))
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * hz * float64(i) / audio.Rate)
	}
	return x
}

// inBand is the level of a sound from 300 to 3400 Hz by sox, in dB.
func inBand(t *testing.T, x []float32) float64 {
	t.Helper()
	file := filepath.Join(t.TempDir(), "x.wav")
	f, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := audio.WriteWAV(f, audio.Rate, x); err != nil {
		t.Fatal(err)
	}
	f.Close()
	// The statistics are written to the standard error.
	out, err := exec.Command("sox", file, "-n", "sinc", fmt.Sprintf("%d-%d", bandLow, bandHigh), "stats").CombinedOutput()
	if err != nil {
		t.Fatalf("sox: %v: %s", err, out)
	}
	m := regexp.MustCompile(`RMS lev dB\s+(\S+)`).FindSubmatch(out)
	if m == nil {
		t.Fatalf("sox: %s", out)
	}
	level, err := strconv.ParseFloat(string(m[1]), 64)
	if err != nil {
		t.Fatal(err)
	}
	return level
}

func TestMixingKeepsTheSignalToNoiseRatio(t *testing.T) {
	audiotest.Need(t, "sox")
	for _, c := range []struct {
		name string
		way  way
	}{
		{"loud speech in everything the microphone hears", way{snr: 25, level: -25}},
		{"half drowned speech", way{snr: 3, level: -30}},
		{"through an intercom", way{snr: 12, level: -20, low: 300, high: 3400}},
		{"through a narrower one", way{snr: 12, level: -20, low: 350, high: 2900}},
	} {
		t.Run(c.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(2, 1))
			speech := tone(900, 4) // it sounds all the time, so its level is that of the whole
			noise := cabin(len(speech), rng)
			both := c.way.mix(speech, noise)
			silent := c.way
			silent.snr = 200
			alone := silent.mix(speech, noise)
			rest := make([]float32, len(both))
			for i := range rest {
				rest[i] = both[i] - alone[i]
			}
			if got := inBand(t, alone) - inBand(t, rest); math.Abs(got-c.way.snr) > 1 {
				t.Errorf("sox measures %.1f dB, wanted %.1f", got, c.way.snr)
			}
			if got := 10 * math.Log10(lesson.Power(doubles(alone))); math.Abs(got-c.way.level) > 0.5 {
				t.Errorf("speech is at %.1f dB of full scale, wanted %.1f", got, c.way.level)
			}
		})
	}
}

func doubles(x []float32) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = float64(v)
	}
	return out
}

func TestPumpingLiftsWhatIsQuiet(t *testing.T) {
	speech := append(tone(900, 1), tone(900, 1)...)
	for i := range speech[:audio.Rate] {
		speech[i] *= 0.1
	}
	ratio := func(pump float64) float64 {
		out := doubles(way{snr: 100, level: -30, pump: pump}.mix(speech, make([]float64, len(speech))))
		return lesson.Power(out[3*audio.Rate/2:]) / lesson.Power(out[audio.Rate/2:audio.Rate])
	}
	if plain, pumped := ratio(0), ratio(0.15); math.Abs(plain-100) > 1 || pumped > plain/3 {
		t.Errorf("the loud part has %.0f times the power of the quiet one, pumped %.0f times", plain, pumped)
	}
}

func TestStretchingMovesATone(t *testing.T) {
	for _, faster := range []float64{0.88, 1, 1.12} {
		got := stretch(tone(1000, 1), faster)
		want := tone(1000*faster, 1/faster)
		if d := len(got) - len(want); d < -1 || d > 1 {
			t.Errorf("%v times as fast: %d samples, want %d", faster, len(got), len(want))
		}
		for i := 100; i < min(len(got), len(want))-100; i++ {
			if math.Abs(got[i]-want[i]) > 0.01 {
				t.Fatalf("%v times as fast: sample %d is %v, want %v", faster, i, got[i], want[i])
			}
		}
	}
	// What would lie above half the rate is left out, not folded over.
	if p := lesson.Power(stretch(tone(7800, 1), 1.12)); p > 0.005 {
		t.Errorf("a tone of 7800 Hz, played faster, is heard with a power of %v", p)
	}
}

func TestColouredNoiseFallsAsAsked(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 1))
	for _, c := range []struct{ fall, dB float64 }{{0, 0}, {0.5, 3}, {1, 6}} {
		x := coloured(1<<16, c.fall, rng)
		// Bands an octave apart, as broad as they are high; so 3 dB more for white.
		low, high := lesson.Power(lesson.Band(x, 500, 1000)), lesson.Power(lesson.Band(x, 1000, 2000))
		if got := 10*math.Log10(low/high) + 3; math.Abs(got-c.dB) > 0.7 {
			t.Errorf("with %v it falls by %.1f dB an octave, want %v", c.fall, got, c.dB)
		}
	}
}

func TestTrimLeavesALittleSilence(t *testing.T) {
	x := slices.Concat(make([]float64, 5000), tone(500, 1), make([]float64, 5000))
	if got := len(trim(x)) - audio.Rate; got < 1000 || got > 1110 {
		t.Errorf("%d samples of silence are left, want 1100", got)
	}
}

func TestEveryJobIsDoneOnceOrTheErrorTold(t *testing.T) {
	done := make([]int, 100)
	if err := inParallel(context.Background(), 3, len(done), func(i int) error { done[i]++; return nil }); err != nil {
		t.Fatal(err)
	}
	for i, n := range done {
		if n != 1 {
			t.Errorf("job %d is done %d times", i, n)
		}
	}
	wrong := fmt.Errorf("no voice")
	if err := inParallel(context.Background(), 3, 10, func(i int) error {
		if i == 4 {
			return wrong
		}
		return nil
	}); err != wrong {
		t.Errorf("the error of a job is told as %v", err)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if err := inParallel(ctx, 3, 10, func(int) error { return nil }); err == nil {
		t.Error("stopped before its end, it tells no error")
	}
}
