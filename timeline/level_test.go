package timeline_test

import (
	"testing"

	"sidetone/timeline"
)

func TestALevelIsSaidInWords(t *testing.T) {
	v := func(x float64) *float64 { return &x }
	for _, c := range []struct {
		level timeline.Level
		want  string
	}{
		{timeline.Level{Name: "the left side", Listened: true, SpeechShare: 0.342, Peak: v(-3.2), Voice: v(-21.6), Noise: v(-40.4), SNR: v(18.3)},
			"the left side: speech 34 % of the time, voices -22 dBFS, noise floor -40, voices 18 dB above the noise, peak -3"},
		{timeline.Level{Name: "the right side"}, "the right side: silent"},
		{timeline.Level{Name: "channel 3", Peak: v(-50), Noise: v(-60)}, "channel 3: speech 0 % of the time, noise floor -60, peak -50 (not listened to)"},
	} {
		if got := c.level.Text(); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
