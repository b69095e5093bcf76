package onnx

import (
	"strings"
	"testing"

	"sidetone/audio/audiotest"
	"sidetone/callouts/figures"
)

// Headings, altitudes, speeds and power settings put together from recorded
// figures, one prompt a word: they are said as AIM 4-2-8 to 4-2-11 has them and,
// for power, in group form (FAA Order JO 7110.65, 2-4-17).
var joinedFigures = []struct {
	said     string // names of prompts in digits/
	quantity figures.Quantity
	want     float64
}{
	{"2 7 0", figures.Heading, 270},
	{"3 6 0", figures.Heading, 360},
	{"0 9 0", figures.Heading, 90},
	{"1 8 0", figures.Heading, 180},
	{"0 0 5", figures.Heading, 5},
	{"3 1 5", figures.Heading, 315},
	{"1 4 5", figures.Heading, 145},
	{"2 2 0", figures.Heading, 220},
	{"3 thousand 5 hundred", figures.Altitude, 3500},
	{"4 thousand", figures.Altitude, 4000},
	{"2 thousand 8 hundred", figures.Altitude, 2800},
	{"5 thousand 2 hundred", figures.Altitude, 5200},
	{"1 2 thousand 5 hundred", figures.Altitude, 12500},
	{"1 0 thousand", figures.Altitude, 10000},
	{"9 hundred", figures.Altitude, 900},
	{"6 5", figures.Airspeed, 65},
	{"9 0", figures.Airspeed, 90},
	{"17 hundred", figures.RPM, 1700},
	{"20 3 hundred", figures.RPM, 2300},
	{"30", figures.Flaps, 30},
}

// figuresRead: all 20 were read rightly when this was measured; another build of
// the runtime may round differently and lose one or two.
const figuresRead = 18

func TestFiguresJoinedFromRecordedDigitsAreReadAsTheNumberSaid(t *testing.T) {
	for _, ear := range []struct {
		name string
		r    *Recogniser
	}{{"expecting nothing", plain(t)}, {"expecting calls", expecting(t)}} {
		t.Run(ear.name, func(t *testing.T) {
			right := 0
			for _, c := range joinedFigures {
				var prompts [][]float32
				for _, d := range strings.Fields(c.said) {
					prompts = append(prompts, audiotest.Prompt(t, "digits/"+d))
				}
				sound, _ := audiotest.Join(0.02, prompts...)
				text := heard(t, ear.r, segments(t, sound))
				got, ok := figure(text, c.quantity)
				if ok && got == c.want {
					right++
					t.Logf("%s %q heard as %q", c.quantity, c.said, text)
					continue
				}
				t.Logf("%s %q heard as %q, read as %v, want %v", c.quantity, c.said, text, got, c.want)
			}
			t.Logf("%d of %d read rightly", right, len(joinedFigures))
			if right < figuresRead {
				t.Errorf("%d of %d figures were read rightly, fewer than %d", right, len(joinedFigures), figuresRead)
			}
		})
	}
}

// figure is the number read where one of a quantity is expected: the likeliest
// reading at the first word that begins one.
func figure(text string, q figures.Quantity) (float64, bool) {
	words := strings.Fields(text)
	line := figures.NewLine(words)
	for w := range words {
		if rs := line.At(w, q); len(rs) > 0 {
			return rs[0].Value, true
		}
	}
	return 0, false
}
