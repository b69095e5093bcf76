package audio

import (
	"math"
	"strings"
	"testing"
)

// fine is a channel with which all is well.
func fine() Level {
	return Level{Channels: 2, Listened: true, Peak: -6, RMS: -30, Share: 0.3, Voice: -24, Noise: -50, SNR: 25, HumLevel: math.NaN()}
}

func TestAdviceIsSomethingAPilotCanActOn(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(l *Level)
		says   []string // in order; none when nothing is said
	}{
		{"all is well", func(*Level) {}, nil},
		{"nobody listened", func(l *Level) { l.Listened, l.SNR = false, -3 }, nil},
		{"too quiet", func(l *Level) { l.Voice = -48 }, []string{"The left side is very quiet (voices at -48 dBFS): turn the recording level up"}},
		{"clipped", func(l *Level) { l.Clipped = 0.08 }, []string{"8 % of the speech is cut off at the top. Turn the recording level down"}},
		{"hardly clipped", func(l *Level) { l.Clipped = 0.004 }, nil},
		{"hum", func(l *Level) { l.Hum, l.HumLevel = 50, -40 }, []string{"mains hum on it (50 Hz, 16 dB under the voices): run the recorder on batteries"}},
		{"hum nobody hears", func(l *Level) { l.Hum, l.HumLevel = 50, -80 }, nil},
		{"wind", func(l *Level) { l.Wind = 0.4 }, []string{"wind or handling noise in 40 % of the pauses: cover the microphone with foam"}},
		{"noise", func(l *Level) { l.SNR = 9 }, []string{"The left side is noisy (voices 9 dB above the noise under them): some calls will not be heard."}},
		{"a headset that is not plugged in", func(l *Level) { l.Channel, l.Share = 1, 0 }, []string{"The right side has next to no speech on it: is that headset plugged in"}},
		{"a recording without speech, of one channel", func(l *Level) { l.Channels, l.Share = 1, 0 }, nil}, // said elsewhere
		{"several at once", func(l *Level) { l.Channels, l.Voice, l.Wind = 1, -50, 0.9 }, []string{"The recording is very quiet", "The recording has wind"}},
	} {
		l := fine()
		c.change(&l)
		got := l.Advice()
		if len(got) != len(c.says) {
			t.Errorf("%s: %q", c.name, got)
			continue
		}
		for i, s := range c.says {
			if !strings.Contains(got[i], s) || !strings.HasSuffix(got[i], ".") && !strings.HasSuffix(got[i], "?") {
				t.Errorf("%s: %q, want %q", c.name, got[i], s)
			}
		}
	}
}

func TestOnlyAPoorRecordingIsTooPoorToJudgeBy(t *testing.T) {
	with := func(change ...func(l *Level)) []Level {
		var out []Level
		for i, f := range change {
			l := fine()
			l.Channel = i
			f(&l)
			out = append(out, l)
		}
		return out
	}
	well := func(*Level) {}
	drowned := func(l *Level) { l.SNR = 3 }
	for _, c := range []struct {
		name   string
		levels []Level
		says   string
	}{
		{"a good one", with(well, well), ""},
		{"a noisy one", with(func(l *Level) { l.SNR = 8 }), ""},
		{"one that drowns", with(drowned), "on the left side the voices are only 3 dB above the noise"},
		{"a seat that drowns", with(well, drowned), "on the right side"},
		{"a seat that drowns and says next to nothing", with(well, func(l *Level) { l.SNR, l.Share = 3, 0.02 }), ""},
		{"a channel nobody listened to", with(well, func(l *Level) { l.SNR, l.Listened = 3, false }), ""},
		{"one that is cut off most of the time", with(func(l *Level) { l.Clipped = 0.7 }), "70 % of the speech is cut off"},
		{"no pause to tell the noise by", with(func(l *Level) { l.SNR = math.NaN() }), ""},
		{"nobody speaks", with(func(l *Level) { l.Share, l.SNR = 0, math.NaN() }), ""},
		{"no channels", nil, ""},
	} {
		if got := Poor(c.levels); (got == "") != (c.says == "") || !strings.Contains(got, c.says) {
			t.Errorf("%s: %q, want %q", c.name, got, c.says)
		}
	}
}
