package main

import (
	"math"

	"sidetone/audio"
	"sidetone/timeline"
)

// setLevels puts what was measured of a recording into it, and gives the advice
// that follows from it.
func setLevels(rec *timeline.Recording, levels []audio.Level) (notes []string) {
	if why := audio.Poor(levels); why != "" {
		rec.Poor = why
		notes = append(notes, "This recording is too poor to judge anybody by: "+why+
			". What was not heard in it, or was heard out of order, late or with another figure, is shown as unsure: listen there.")
	}
	for _, l := range levels {
		rec.Levels = append(rec.Levels, timeline.Level{
			Channel: l.Channel, Name: l.Name(), Listened: l.Listened, SpeechShare: rounded(l.Share, 1000),
			Peak: measured(l.Peak), Voice: measured(l.Voice), Noise: measured(l.Noise), SNR: measured(l.SNR),
			Clipped: rounded(l.Clipped, 1000), Hum: l.Hum, Wind: rounded(l.Wind, 1000),
		})
		notes = append(notes, l.Advice()...)
	}
	return notes
}

// measured is a level to a tenth of a decibel, nil for one that is none.
func measured(dB float64) *float64 {
	if math.IsNaN(dB) || math.IsInf(dB, 0) {
		return nil
	}
	dB = rounded(dB, 10)
	return &dB
}

func rounded(v, parts float64) float64 { return math.Round(v*parts) / parts }
