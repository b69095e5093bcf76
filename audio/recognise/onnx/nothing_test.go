package onnx

import (
	"context"
	"math"
	"testing"

	"sidetone/audio"
	"sidetone/audio/audiotest"
)

// What a detector may let through though nobody speaks.
func nobody(tb testing.TB) map[string][]float32 {
	dc := make([]float32, 2*audio.Rate)
	for i := range dc {
		dc[i] = 0.3
	}
	blip := make([]float32, audio.Rate/20)
	copy(blip, audiotest.Prompt(tb, "digits/7")[3000:])
	return map[string][]float32{
		"nothing at all":              nil,
		"one sample":                  {0.5},
		"silence":                     make([]float32, 2*audio.Rate),
		"the noise of a converter":    audiotest.Synth(tb, "2", "whitenoise", "vol", "0.0003"),
		"white noise":                 audiotest.Synth(tb, "3", "whitenoise", "vol", "0.2"),
		"pink noise":                  audiotest.Synth(tb, "3", "pinknoise", "vol", "0.4"),
		"an engine":                   audiotest.Synth(tb, "4", "sawtooth", "76", "sawtooth", "mix", "152", "brownnoise", "mix", "whitenoise", "mix", "lowpass", "2500", "vol", "0.4"),
		"a tone":                      audiotest.Synth(tb, "2", "sine", "440", "vol", "0.3"),
		"a DC offset":                 dc,
		"a twentieth of a second":     blip,
		"a click":                     append(append(make([]float32, audio.Rate/2), 1, -1, 1), make([]float32, audio.Rate/2)...),
		"twelve seconds of an engine": audiotest.Synth(tb, "12", "sawtooth", "76", "brownnoise", "mix", "vol", "0.3"),
	}
}

func TestWhereNobodySpeaksNoWordsAreHeard(t *testing.T) {
	for name, r := range map[string]*Recogniser{"expecting nothing": plain(t), "expecting calls": expecting(t)} {
		t.Run(name, func(t *testing.T) {
			for what, sound := range nobody(t) {
				u, err := r.Recognise(context.Background(), audio.Segment{Channel: 1, Start: 7, Samples: sound})
				if err != nil {
					t.Errorf("%s: %v", what, err)
				}
				if len(u.Words) > 0 || u.Text != "" {
					t.Errorf("%s is heard as %q", what, u.Text)
				}
				if u.Start != 7 || u.Channel != 1 || math.Abs(u.End-7-float64(len(sound))/audio.Rate) > 1e-9 {
					t.Errorf("%s lies from %.3f to %.3f on channel %d", what, u.Start, u.End, u.Channel)
				}
			}
		})
	}
}

func TestSamplesThatAreNoNumbersDoNoHarm(t *testing.T) {
	nan := audiotest.Prompt(t, "digits/7")
	nan[len(nan)/2] = float32(math.NaN())
	inf := audiotest.Prompt(t, "digits/7")
	inf[len(inf)/2] = float32(math.Inf(1))
	for _, r := range []*Recogniser{plain(t), expecting(t)} {
		for _, sound := range [][]float32{nan, inf} {
			if _, err := r.Recognise(context.Background(), audio.Segment{Samples: sound}); err != nil {
				t.Error(err)
			}
		}
	}
	if got := heard(t, plain(t), segments(t, audiotest.Prompt(t, "digits/7"))); !same(got, "seven") {
		t.Errorf("afterwards seven is heard as %q", got)
	}
}
