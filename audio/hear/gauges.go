package hear

import (
	"sidetone/audio"
	"sidetone/audio/speech"
)

// gauges measure every channel as it is in the files, and put what the speech
// detectors say beside it.
type gauges struct {
	tape   *audio.Tape
	groups []*group // by first use
}

// group is the parts of a tape with as many channels, taken together.
type group struct {
	channels int
	meters   []audio.LevelMeter
	heard    []*heard // per channel, nil when nobody listens
}

// heard is what is known of a channel that is listened to.
type heard struct {
	speech []float32 // how likely each window is speech
	told   int       // of them the ground has
	ground *audio.Ground
	band   *audio.VoiceBand
	words  audio.LevelMeter // of what is in the band
	spoken float64          // seconds of the segments cut from it
	read   float64          // seconds listened to
}

func newGauges(t *audio.Tape) *gauges { return &gauges{tape: t} }

func (g *gauges) of(part int) *group {
	n := g.tape.Parts[part].Info.Channels
	for _, gr := range g.groups {
		if gr.channels == n {
			return gr
		}
	}
	gr := &group{n, make([]audio.LevelMeter, n), make([]*heard, n)}
	g.groups = append(g.groups, gr)
	return gr
}

// tap takes a block as it is in the file.
func (g *gauges) tap(part int, block [][]float32) {
	gr := g.of(part)
	for c, x := range block {
		gr.meters[c].Add(x, g.tape.Parts[part].Info.SampleRate)
	}
}

// noting is a detector whose answers are noted for a channel.
func (g *gauges) noting(p speech.Prober, part, channel int) speech.Prober {
	gr := g.of(part)
	if gr.heard[channel] == nil {
		gr.heard[channel] = &heard{ground: audio.NewGround(), band: audio.NewVoiceBand()}
	}
	return noting{p, gr.heard[channel]}
}

type noting struct {
	speech.Prober
	to *heard
}

func (n noting) Probability(window []float32) (float32, error) {
	p, err := n.Prober.Probability(window)
	if err == nil {
		n.to.speech = append(n.to.speech, p)
	}
	return p, err
}

// listen takes a block as it was listened to, once the detector has judged it.
func (g *gauges) listen(part, channel int, x []float32) {
	h := g.of(part).heard[channel]
	if h == nil { // the channel of an earlier part of another shape runs on
		return
	}
	h.ground.Add(x, h.speech[h.told:])
	h.told = len(h.speech)
	h.words.Add(h.band.Filter(x), audio.Rate)
	h.read += float64(len(x)) / audio.Rate
}

// spoke adds the seconds of speech that were cut from a channel.
func (g *gauges) spoke(part, channel int, seconds float64) {
	if h := g.of(part).heard[channel]; h != nil {
		h.spoken += seconds
	}
}

// levels says what was measured.
func (g *gauges) levels() (out []audio.Level) {
	for _, gr := range g.groups {
		for c := range gr.meters {
			var speech []float32
			h := gr.heard[c]
			if h != nil {
				speech = h.speech
			}
			l := gr.meters[c].Level(speech)
			l.Channel, l.Channels = c, gr.channels
			if h != nil {
				l.Hum, l.HumLevel = h.ground.Hum()
				l.Wind = h.ground.Wind()
				l.SNR = h.words.Level(speech).SNR
				l.Share = h.spoken / max(h.read, 1e-9)
			}
			out = append(out, l)
		}
	}
	return out
}
