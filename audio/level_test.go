package audio

import (
	"context"
	"io"
	"math"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// measured is the levels of a file, and what lies under its first channel.
func measured(tb testing.TB, path string, speech []float32) ([]Level, *Ground) {
	tb.Helper()
	tape := load(tb, path)
	meters := make([]LevelMeter, tape.Channels())
	s, err := tape.Open(context.Background(), Wanted{Tap: func(part int, block [][]float32) {
		for c, x := range block {
			meters[c].Add(x, tape.Parts[part].Info.SampleRate)
		}
	}})
	if err != nil {
		tb.Fatal(err)
	}
	defer s.Close()
	g := NewGround()
	judged := 0
	for samples := 0; ; {
		block, err := s.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			tb.Fatal(err)
		}
		samples += len(block[0])
		quiet := make([]float32, samples/groundWindow-judged)
		for i := range quiet {
			if judged+i < len(speech) {
				quiet[i] = speech[judged+i]
			}
		}
		judged += len(quiet)
		g.Add(block[0], quiet)
	}
	var out []Level
	for i := range meters {
		out = append(out, meters[i].Level(speech))
	}
	return out, g
}

var statLine = regexp.MustCompile(`(?m)^([A-Z][A-Za-z -]*?)\s{2,}(-?[0-9.]+|-inf)`)

// soxStats is what "sox FILE -n stats" says of the first channel.
func soxStats(tb testing.TB, path string) map[string]float64 {
	tb.Helper()
	need(tb, "sox")
	out := run(tb, "sh", "-c", `exec sox "$1" -n remix 1 stats 2>&1`, "sh", path)
	stats := map[string]float64{}
	for _, m := range statLine.FindAllSubmatch(out, -1) {
		stats[string(m[1])], _ = strconv.ParseFloat(string(m[2]), 64)
	}
	return stats
}

// astats is what ffmpeg's filter of that name says of the first channel.
func astats(tb testing.TB, path string) map[string]float64 {
	tb.Helper()
	need(tb, "ffmpeg")
	out := run(tb, "sh", "-c", `exec ffmpeg -hide_banner -i "$1" -af astats=measure_overall=none -f null - 2>&1`, "sh", path)
	stats := map[string]float64{}
	for line := range strings.Lines(string(out)) {
		_, line, ok := strings.Cut(line, "] ")
		key, value, isStat := strings.Cut(line, ": ")
		if v, err := strconv.ParseFloat(strings.TrimSpace(value), 64); ok && isStat && err == nil {
			if _, seen := stats[key]; !seen { // the first channel comes first
				stats[key] = v
			}
		}
	}
	return stats
}

func near(tb testing.TB, what string, got, want, within float64) {
	tb.Helper()
	if !(math.Abs(got-want) <= within) {
		tb.Errorf("%s is %.4f, want %.4f", what, got, want)
	}
}

func TestPeakMeanAndOffsetAreWhatSoxAndFFmpegMeasure(t *testing.T) {
	need(t, "sox", "ffmpeg")
	for _, c := range []struct{ name, rate, bits, effects string }{
		{"pink noise at 48 kHz", "48000", "16", "synth 7 pinknoise vol 0.5"},
		{"a voice-like sweep at 44.1 kHz in 24 bits", "44100", "24", "synth 7 sine 100-3000 vol 0.3"},
		{"off its middle", "16000", "16", "synth 7 pinknoise vol 0.2 dcshift 0.05"},
		{"8 bits at 8 kHz", "8000", "8", "synth 7 pinknoise vol 0.8"},
		{"hardly anything", "16000", "16", "synth 7 whitenoise vol 0.002"},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "l.wav")
			run(t, "sox", append([]string{"-R", "-n", "-r", c.rate, "-b", c.bits, path}, strings.Fields(c.effects)...)...)
			levels, _ := measured(t, path, nil)
			sox, ff := soxStats(t, path), astats(t, path)
			near(t, "peak, against sox", levels[0].Peak, sox["Pk lev dB"], 0.01)
			near(t, "RMS, against sox", levels[0].RMS, sox["RMS lev dB"], 0.01)
			near(t, "offset, against sox", levels[0].DC, sox["DC offset"], 2e-6)
			near(t, "peak, against ffmpeg", levels[0].Peak, ff["Peak level dB"], 0.01)
			near(t, "RMS, against ffmpeg", levels[0].RMS, ff["RMS level dB"], 0.01)
			near(t, "offset, against ffmpeg", levels[0].DC, ff["DC offset"], 2e-6)
			if levels[0].Tops > 0 {
				t.Errorf("%d samples are said to be cut off", levels[0].Tops)
			}
		})
	}
}

func TestSamplesCutOffAreCountedAsFFmpegCountsThem(t *testing.T) {
	need(t, "sox", "ffmpeg")
	for _, c := range []struct{ name, rate, bits, effects string }{
		{"driven 12 dB too far", "48000", "16", "synth 5 sine 100-2000 vol 4"},
		{"a little too far, in 24 bits", "44100", "24", "synth 5 sine 100-2000 vol 1.2"},
		{"too far, and turned down since", "48000", "16", "synth 5 sine 100-2000 vol 4 vol 0.5"},
		{"noise too far", "16000", "16", "synth 5 pinknoise vol 9"},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "l.wav")
			run(t, "sox", append([]string{"-R", "-D", "-r", c.rate, "-n", "-b", c.bits, path}, strings.Fields(c.effects)...)...)
			levels, _ := measured(t, path, nil)
			// ffmpeg counts the samples at the very peak, here they may be a hair below.
			if want := astats(t, path)["Peak count"]; float64(levels[0].Tops) < want || float64(levels[0].Tops) > 1.1*want {
				t.Errorf("%d samples are cut off, ffmpeg counts %.0f at the peak", levels[0].Tops, want)
			}
		})
	}
	for name, effects := range map[string]string{"a tone": "sine 440 vol 0.9", "a sweep as loud as can be": "sine 100-3000", "noise": "pinknoise gain -n -0.1"} {
		path := filepath.Join(t.TempDir(), "l.wav")
		run(t, "sox", append([]string{"-R", "-n", "-r", "48000", "-b", "16", path, "synth", "5"}, strings.Fields(effects)...)...)
		if levels, _ := measured(t, path, nil); levels[0].Tops > 0 {
			t.Errorf("of %s that is whole %d samples are said to be cut off", name, levels[0].Tops)
		}
	}
	// Lossy codecs overshoot what was cut off; it shows all the same.
	path := filepath.Join(t.TempDir(), "l.wav")
	run(t, "sox", "-R", "-D", "-n", "-r", "48000", "-b", "16", path, "synth", "5", "sine", "100-2000", "vol", "4")
	m4a := filepath.Join(t.TempDir(), "l.m4a")
	run(t, "ffmpeg", "-v", "error", "-i", path, "-b:a", "96k", m4a)
	if levels, _ := measured(t, m4a, nil); levels[0].Tops < 1000 {
		t.Errorf("of a clipped AAC file %d samples are cut off", levels[0].Tops)
	}
}

// spoken marks where somebody speaks in a recording made by talked.
func spoken(seconds int) []float32 {
	out := make([]float32, int(float64(seconds)/LevelSeconds))
	for i := range out {
		if at := math.Mod(float64(i)*LevelSeconds, 6); at >= 2 && at < 4 {
			out[i] = 1
		}
	}
	return out
}

// talked makes a recording of a minute: noise made by sox, with two seconds of a
// voice-like sound in every six. It gives the files of each alone too.
func talked(t *testing.T, rate string, noise string, voice float64) (both, noiseOnly, voiceOnly string) {
	need(t, "sox")
	dir := t.TempDir()
	both, noiseOnly, voiceOnly = filepath.Join(dir, "both.wav"), filepath.Join(dir, "noise.wav"), filepath.Join(dir, "voice.wav")
	run(t, "sox", append([]string{"-R", "-n", "-r", rate, "-b", "24", noiseOnly}, strings.Fields(noise)...)...)
	run(t, "sox", "-R", "-n", "-r", rate, "-b", "24", voiceOnly, "synth", "2", "pinknoise", "band", "-n", "700", "800",
		"gain", "-n", strconv.FormatFloat(voice, 'f', 1, 64))
	run(t, "sox", "-R", "-m", "-v", "1", noiseOnly, "-v", "1", "|sox "+voiceOnly+" -p pad 2 2 repeat 9", both)
	return
}

func TestVoiceNoiseAndTheirRatioAreWhatSoxMeasuresOfEachAlone(t *testing.T) {
	for _, c := range []struct {
		name, rate, noise string
		voice             float64 // peak, dBFS
	}{
		{"a clear recording", "48000", "synth 60 pinknoise gain -n -45", -6},
		{"a noisy one", "44100", "synth 60 pinknoise gain -n -18", -6},
		{"a voice that drowns", "16000", "synth 60 brownnoise gain -n -10", -12},
		{"a faint one", "48000", "synth 60 whitenoise gain -n -70", -45},
	} {
		t.Run(c.name, func(t *testing.T) {
			both, noise, voice := talked(t, c.rate, c.noise, c.voice)
			levels, _ := measured(t, both, spoken(60))
			n, v := soxStats(t, noise)["RMS lev dB"], soxStats(t, voice)["RMS lev dB"]
			near(t, "noise floor", levels[0].Noise, n, 1)
			near(t, "SNR", levels[0].SNR, v-n, 1.5)
			if v-n > 0 { // the rest is lost in the noise's own wandering
				near(t, "voice", levels[0].Voice, v, 1)
			}
			near(t, "share of speech", levels[0].Share, 1.0/3, 0.01)
		})
	}
}

func TestAGateThatOpensWithTheVoiceHidesNoNoise(t *testing.T) {
	both, noise, voice := talked(t, "16000", "synth 60 pinknoise gain -n -20", -6)
	x, _ := listen(t, both)
	for i := range x[0] {
		if at := math.Mod(float64(i)/Rate, 6); at < 1.7 || at > 4.7 { // the intercom is closed
			x[0][i] = 0
		}
	}
	levels, _ := measured(t, wavOf(t, "gated.wav", Rate, x[0]), spoken(60))
	want := soxStats(t, voice)["RMS lev dB"] - soxStats(t, noise)["RMS lev dB"]
	near(t, "SNR", levels[0].SNR, want, 3)
	if levels[0].Noise > -80 {
		t.Errorf("the floor is %.1f dBFS, it is silent most of the time", levels[0].Noise)
	}
}

func TestHumIsTold(t *testing.T) {
	engineAt := func(firing float64) []float32 { return cabin(firing, 60) }
	noise := noiseOf(1, 60*Rate)
	add := func(tracks ...[]float32) []float32 {
		out := make([]float32, 60*Rate)
		for _, x := range tracks {
			for i := range min(len(x), len(out)) {
				out[i] += x[i]
			}
		}
		return out
	}
	lines := func(hz float64, levels ...float64) []float32 {
		out := make([]float32, 60*Rate)
		for k, a := range levels {
			for i, v := range tone(Rate, hz*float64(k+1), a, len(out)) {
				out[i] += v
			}
		}
		return out
	}
	quiet := func(gain float32) []float32 {
		out := make([]float32, len(noise))
		for i, v := range noise {
			out[i] = gain * v
		}
		return out
	}
	for _, c := range []struct {
		name string
		x    []float32
		want float64
	}{
		{"noise", noise, 0},
		{"silence", make([]float32, 60*Rate), 0},
		{"50 Hz and harmonics in faint noise", add(lines(50, 0.01, 0.005, 0.006), quiet(0.02)), 50},
		{"60 Hz and harmonics in faint noise", add(lines(60, 0.01, 0.005, 0.006), quiet(0.02)), 60},
		{"60 Hz that is off by a little, as mains are", add(lines(60.04, 0.01, 0.005, 0.006), quiet(0.02)), 60},
		{"100 Hz and harmonics, of a rectifier on 50 Hz", add(lines(100, 0.01, 0.005, 0.006), quiet(0.02)), 50},
		{"an engine at 2,280 rpm", add(engineAt(76), quiet(0.05)), 0},
		{"an engine at 1,500 rpm, which fires at 50 Hz", add(engineAt(50), quiet(0.05)), 0},
		{"an engine at 1,800 rpm, which fires at 60 Hz", add(engineAt(60), quiet(0.05)), 0},
		{"an engine at 2,280 rpm and 60 Hz hum, which may be part of it", add(engineAt(76), lines(60, 0.03, 0.03, 0.03), quiet(0.05)), 0},
		{"60 Hz hum, a tone and an alarm", add(lines(60, 0.01, 0.005, 0.006), lines(400, 0.01), lines(333, 0.01), quiet(0.02)), 60},
		{"an engine idling at 1,200 rpm", add(engineAt(40), quiet(0.05)), 0},
		{"a tone at 440 Hz", add(lines(440, 0.1), quiet(0.02)), 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, g := measured(t, wavOf(t, "l.wav", Rate, c.x), nil)
			hz, level := g.Hum()
			if hz != c.want {
				t.Errorf("hum at %.0f Hz (%.1f dBFS), want %.0f", hz, level, c.want)
			}
		})
	}
	// Its level is that of the lines alone, as sox measures them.
	path := wavOf(t, "lines.wav", Rate, lines(50, 0.01, 0.005, 0.006))
	_, g := measured(t, wavOf(t, "l.wav", Rate, add(lines(50, 0.01, 0.005, 0.006), quiet(0.02))), nil)
	_, level := g.Hum()
	near(t, "level of the hum", level, soxStats(t, path)["RMS lev dB"], 0.5)
}

// cabin is a piston engine: firing and its harmonics, and half of them for the
// turns of the crank, wandering a little as engines do.
func cabin(firing float64, seconds int) []float32 {
	rng := newRand(7)
	out := make([]float32, seconds*Rate)
	phase, wander := 0.0, 0.0
	for i := range out {
		wander = 0.99998*wander + 0.006*rng.NormFloat64()
		phase += 2 * math.Pi * (firing + 1.5*math.Tanh(wander/4)) / Rate
		for k := 0.5; k <= 6; k += 0.5 {
			level := 0.03 / (k + 1)
			if k != math.Trunc(k) {
				level /= 3
			}
			out[i] += float32(level * math.Sin(phase*k+k*k))
		}
	}
	return out
}

func TestWindIsTold(t *testing.T) {
	need(t, "sox")
	synth := func(effects string) []float32 {
		path := filepath.Join(t.TempDir(), "w.wav")
		run(t, "sox", append([]string{"-R", "-n", "-r", "16000", "-b", "16", path}, strings.Fields(effects)...)...)
		x, _ := listen(t, path)
		return x[0]
	}
	rumble := synth("synth 60 brownnoise lowpass 60 gain -n -6")
	gusts := make([]float32, len(rumble))
	rng := newRand(5)
	level, goal := 0.0, 0.0
	for i := range gusts {
		if i%4000 == 0 { // a new gust each quarter of a second
			goal = math.Pow(10, -2*rng.Float64())
		}
		level += (goal - level) / 1000
		gusts[i] = rumble[i] * float32(level)
	}
	for _, c := range []struct {
		name  string
		x     []float32
		windy bool
	}{
		{"gusts on a microphone", gusts, true},
		{"a steady rumble, as loud", rumble, false},
		{"an engine", cabin(76, 60), false},
		{"white noise", noiseOf(1, 60*Rate), false},
		{"silence", make([]float32, 60*Rate), false},
		{"an engine that is throttled up and down", throttled(), false},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, g := measured(t, wavOf(t, "l.wav", Rate, c.x), nil)
			if w := g.Wind(); (w > 0.5) != c.windy || !c.windy && w > 0.05 {
				t.Errorf("wind in %.0f %% of the time", 100*w)
			}
		})
	}
}

// throttled is an engine that is opened up and closed every five seconds.
func throttled() []float32 {
	x := cabin(70, 60)
	for i := range x {
		x[i] *= float32(0.3 + 0.7*math.Pow(math.Sin(2*math.Pi*float64(i)/(10*Rate)), 2))
	}
	return x
}

func TestALevelOfNothingIsNoLevel(t *testing.T) {
	var m LevelMeter
	if l := m.Level(nil); !math.IsNaN(l.RMS) || !math.IsInf(l.Peak, -1) || l.Tops != 0 {
		t.Errorf("%+v", l)
	}
	m.Add(make([]float32, 100), Rate)
	if l := m.Level([]float32{1}); !math.IsInf(l.RMS, -1) || !math.IsNaN(l.SNR) {
		t.Errorf("%+v", l)
	}
}

func BenchmarkLevel(b *testing.B) {
	x := noiseOf(1, 48000)
	b.Run("meter at 48 kHz", func(b *testing.B) {
		var m LevelMeter
		for b.Loop() {
			m.Add(x, 48000)
		}
		perSecond(b, 1)
	})
	b.Run("ground", func(b *testing.B) {
		g, speech := NewGround(), make([]float32, 32)
		for b.Loop() {
			g.Add(x[:longFrame], speech)
		}
		perSecond(b, 1)
	})
}

// The band is sox's own, of the same order.
func TestTheVoiceBandIsWhatSoxMakesOfIt(t *testing.T) {
	need(t, "sox")
	path := filepath.Join(t.TempDir(), "n.wav")
	run(t, "sox", "-R", "-r", "16000", "-n", "-b", "24", path, "synth", "5", "whitenoise", "vol", "0.3")
	x, _ := listen(t, path)
	got := NewVoiceBand().Filter(x[0])
	q := func(i int) string { return strconv.FormatFloat(butterworth4[i], 'f', 6, 64) + "q" }
	want := floats(run(t, "sox", "-D", path, "-t", "raw", "-e", "float", "-b", "32", "-",
		"highpass", "300", q(0), "lowpass", "3400", q(0), "highpass", "300", q(1), "lowpass", "3400", q(1)))
	worst := 0.0
	for i := range want {
		worst = max(worst, math.Abs(float64(got[i]-want[i])))
	}
	if len(got) != len(want) || worst > 1e-5 {
		t.Errorf("%d samples, off by %.1e at worst from sox's %d", len(got), worst, len(want))
	}
}
