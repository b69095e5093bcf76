package hear

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"sidetone/audio"
	"sidetone/audio/transcript"
)

// said is a line of a lesson: who says it on which channel, from when to when.
type said struct {
	channel  int // -1: both hear it alike
	from, to float64
	text     string
	gain     float64 // dB
}

// spoken makes, of lines on two channels, how loud the channels are: syllables with
// pauses between them, of which a part comes through on the other channel.
func spoken(lines []said, leak float64, gains [2]float64, noise float64) *envelopes {
	rng := rand.New(rand.NewPCG(1, 2))
	var e envelopes
	var channels [2][]float32
	for c := range channels {
		channels[c] = make([]float32, 14*audio.Rate)
	}
	for n, l := range lines {
		// Syllables of irregular length and loudness; no two lines have the same.
		own := rand.New(rand.NewPCG(uint64(n), 7))
		for at := int(l.from * audio.Rate); at < int(l.to*audio.Rate); {
			long, level := int((0.06+0.12*own.Float64())*audio.Rate), 0.02+0.1*own.Float64()
			for i := at; i < min(at+long, int(l.to*audio.Rate)); i++ {
				v := level * math.Pow(10, l.gain/20) * math.Sin(2*math.Pi*float64(i-at)/float64(long)/2) * math.Sin(2*math.Pi*900*float64(i)/audio.Rate)
				for c := range channels {
					g := gains[c]
					if l.channel >= 0 && c != l.channel {
						g += leak
					}
					channels[c][i] += float32(v * math.Pow(10, g/20))
				}
			}
			at += long + int(0.04*audio.Rate)
		}
	}
	for c := range channels {
		for i := range channels[c] {
			channels[c][i] += float32(noise * math.Pow(10, gains[c]/20) * rng.NormFloat64())
		}
		e.add(c, 0, channels[c])
	}
	return &e
}

func heardAs(channel int, from, to float64, text string) transcript.Utterance {
	return transcript.Utterance{Start: from, End: to, Channel: channel, Text: text, Words: transcript.Spread(text, from, to)}
}

func told(us []transcript.Utterance) string {
	var out []string
	for _, u := range us {
		who := fmt.Sprint(u.Channel)
		if u.Speaker == nobodys {
			who = "?"
		}
		out = append(out, who+" "+u.Text)
	}
	slices.Sort(out)
	return strings.Join(out, "; ")
}

func TestCrosstalkIsCountedOnce(t *testing.T) {
	// The student sits on channel 0, the instructor on 1. These give each channel a
	// voice of its own.
	usual := []said{{channel: 0, from: 1, to: 3, text: "the student talks at length"}, {channel: 1, from: 4, to: 6, text: "the instructor talks at length"}}
	heardUsual := []transcript.Utterance{heardAs(0, 1, 3, usual[0].text), heardAs(1, 4, 6, usual[1].text)}
	const rest = "; 0 the student talks at length; 1 the instructor talks at length"
	for _, c := range []struct {
		name  string
		lines []said
		heard []transcript.Utterance
		want  string
	}{
		{"the same words on both channels at once",
			[]said{{channel: 0, from: 10, to: 11, text: "carb heat on"}},
			[]transcript.Utterance{heardAs(0, 10, 11, "carb heat on"), heardAs(1, 10.02, 11.03, "carb heat on")},
			"0 carb heat on" + rest},
		{"misheard on the channel they come through to",
			[]said{{channel: 0, from: 10, to: 11, text: "carb heat on"}},
			[]transcript.Utterance{heardAs(0, 10, 11, "carb heat on"), heardAs(1, 10.02, 11.03, "harvey hated un")},
			"0 carb heat on" + rest},
		{"a read-back a moment later",
			[]said{{channel: 1, from: 10, to: 11, text: "flaps ten"}, {channel: 0, from: 11.3, to: 12.2, text: "flaps ten"}},
			[]transcript.Utterance{heardAs(1, 10, 11, "flaps ten"), heardAs(0, 11.3, 12.2, "flaps ten")},
			"1 flaps ten; 0 flaps ten" + rest},
		{"an order that comes through, and the read-back in the same breath",
			[]said{{channel: 1, from: 10, to: 11, text: "flaps ten"}, {channel: 0, from: 11, to: 12, text: "flaps ten"}},
			[]transcript.Utterance{heardAs(1, 10, 12, "flaps ten flaps ten"), heardAs(0, 10, 12, "flaps ten flaps ten")},
			"1 flaps ten; 0 flaps ten" + rest},
		{"both talk at once, of different things",
			[]said{{channel: 0, from: 10, to: 12, text: "nose coming up now"}, {channel: 1, from: 10.2, to: 12.1, text: "keep it there please"}},
			[]transcript.Utterance{heardAs(0, 10, 12, "nose coming up now"), heardAs(1, 10.2, 12.1, "keep it there please")},
			"0 nose coming up now; 1 keep it there please" + rest},
		{"a quiet word of one's own while the other talks",
			[]said{{channel: 0, from: 10, to: 12, text: "airspeed six five"}, {channel: 1, from: 10.5, to: 11.5, text: "good", gain: -4}},
			[]transcript.Utterance{heardAs(0, 10, 12, "airspeed six five"), heardAs(1, 10.5, 11.5, "very good")},
			"0 airspeed six five; 1 very good" + rest},
		{"a very quiet word of one's own while the other talks",
			[]said{{channel: 0, from: 10, to: 12, text: "airspeed six five"}, {channel: 1, from: 10.5, to: 11.5, text: "good", gain: -9}},
			[]transcript.Utterance{heardAs(0, 10, 12, "airspeed six five"), heardAs(1, 10.5, 11.5, "very good")},
			"0 airspeed six five; 1 very good" + rest},
		{"both say the same at once",
			[]said{{channel: 0, from: 10, to: 11, text: "gear down"}, {channel: 1, from: 10.1, to: 11.1, text: "gear down"}},
			[]transcript.Utterance{heardAs(0, 10, 11, "gear down"), heardAs(1, 10.1, 11.1, "gear down")},
			"0 gear down; 1 gear down" + rest},
		{"heard only where it comes through",
			[]said{{channel: 0, from: 10, to: 11, text: "trim set"}},
			[]transcript.Utterance{heardAs(1, 10, 11, "trim set")},
			"0 trim set" + rest},
		{"the radio, as loud on both",
			[]said{{channel: -1, from: 10, to: 13, text: "meadow traffic going around"}},
			[]transcript.Utterance{heardAs(0, 10, 13, "meadow traffic going around"), heardAs(1, 10, 13, "meadow traffic going round")},
			"? meadow traffic going around" + rest},
		{"the radio, misheard on one side",
			[]said{{channel: -1, from: 10, to: 13, text: "meadow traffic going around"}},
			[]transcript.Utterance{heardAs(0, 10, 13, "meadow traffic going around"), heardAs(1, 10, 13, "adult trapping is good")},
			"? meadow traffic going around" + rest},
		{"only the end of it was made out on the other side",
			[]said{{channel: 1, from: 10, to: 11, text: "flaps ten please"}},
			[]transcript.Utterance{heardAs(1, 10, 11, "flaps ten please"), heardAs(0, 10.5, 10.65, "10")},
			"1 flaps ten please" + rest},
	} {
		for _, leak := range []float64{-12, -20, -30} {
			for _, gains := range [][2]float64{{0, 0}, {0, 15}, {-18, 0}} {
				if leak != -20 && gains[0] != 0 || leak == -30 && gains[1] != 0 {
					continue // a few of all is enough
				}
				e := spoken(append(slices.Clone(usual), c.lines...), leak, gains, 0.003)
				got, _ := e.once(append(slices.Clone(heardUsual), c.heard...))
				want := strings.Split(c.want, "; ")
				slices.Sort(want)
				if told(got) != strings.Join(want, "; ") {
					t.Errorf("%s, %g dB down, channels turned up by %v dB: got %q, want %q", c.name, -leak, gains, told(got), want)
				}
			}
		}
	}
}

func TestOneChannelHasNoCrosstalk(t *testing.T) {
	us := []transcript.Utterance{heardAs(0, 10, 11, "carb heat on"), heardAs(0, 10, 11, "carb heat on")}
	var e envelopes
	if got, n := e.once(us); len(got) != 2 || n != (Crosstalk{}) {
		t.Errorf("%v, %+v", got, n)
	}
}

func TestCrosstalkIsCounted(t *testing.T) {
	lines := []said{{channel: 0, from: 1, to: 2, text: "trim set"}, {channel: 1, from: 4, to: 5, text: "very good"}, {channel: -1, from: 8, to: 10, text: "meadow traffic"}, {channel: 0, from: 12, to: 13, text: "flaps up"}}
	e := spoken(lines, -15, [2]float64{}, 0.001)
	_, n := e.once([]transcript.Utterance{
		heardAs(0, 1, 2, "trim set"), heardAs(1, 1, 2, "trim set"), heardAs(1, 4, 5, "very good"),
		heardAs(0, 8, 10, "meadow traffic"), heardAs(1, 8, 10, "meadow traffic"), heardAs(1, 12, 13, "flaps up"),
	})
	if n != (Crosstalk{Words: 2, Shared: 2, Moved: 2}) {
		t.Errorf("%+v", n)
	}
}
