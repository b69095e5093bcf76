package main

import (
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"

	"github.com/go-audio/audio"
	"github.com/go-audio/wav"
)

// truth is the sheet beside the recording. Times are seconds of the recording.
type truth struct {
	Title    string       `json:"title"`
	Duration float64      `json:"duration"`
	Lines    []spokenLine `json:"lines"`
	Calls    []spokenCall `json:"calls"`
}

type spokenLine struct {
	Start   float64 `json:"start"`
	End     float64 `json:"end"`
	Speaker string  `json:"speaker"`
	Text    string  `json:"text"`
}

type spokenCall struct {
	ID      string   `json:"id"`
	Start   float64  `json:"start"`
	End     float64  `json:"end"`
	Speaker string   `json:"speaker"`
	Stance  string   `json:"stance"`
	Value   *float64 `json:"value"`
}

const (
	usualPause  = 0.9
	leadIn      = 1.5
	speechLevel = 0.09 // root mean square of the sounding parts
)

// perform speaks a script over engine noise: samples per channel in [-1,1].
func perform(s *script, speak sayer) ([][]float64, truth, error) {
	if len(s.Lines) == 0 {
		return nil, truth{}, errors.New("the script has no lines")
	}
	sheet := truth{Title: s.Title}
	channels := make([][]float64, max(1, s.Channels))
	at := leadIn
	for _, l := range s.Lines {
		words, marks, err := parseLine(l.Say)
		if err != nil {
			return nil, truth{}, err
		}
		sp, err := speak(s.Voices[l.Who], words)
		if err != nil {
			return nil, truth{}, err
		}
		pause := l.Pause
		if pause == 0 {
			pause = usualPause
		}
		at += pause
		voice := level(sp.samples, speechLevel*math.Pow(10, l.Gain/20))
		start := int(at * rate)
		for c := range channels {
			g := share(s, l.Who, c)
			if g == 0 {
				continue
			}
			channels[c] = grow(channels[c], start+len(voice))
			for i, v := range voice {
				channels[c][start+i] += g * v
			}
		}
		sheet.Lines = append(sheet.Lines, spokenLine{at + sp.begins[0], at + slices.Max(sp.ends), l.Who, strings.Join(words, " ")})
		for _, m := range marks {
			sheet.Calls = append(sheet.Calls, spokenCall{m.ID, at + sp.begins[m.From], at + sp.ends[m.To-1], l.Who, m.Stance, m.Value})
		}
		at += float64(len(voice)) / rate
	}
	n := int((at + leadIn) * rate)
	sheet.Duration = float64(n) / rate
	rng := rand.New(rand.NewPCG(s.Seed, 1))
	noise := engineNoise(n, rng)
	if s.Narrow {
		noise = band(noise, 300, 3400)
	}
	heard := power(band(noise, 300, 3400))
	gain := speechLevel / math.Sqrt(heard) * math.Pow(10, -s.SNR/20)
	for c := range channels {
		channels[c] = grow(channels[c], n)[:n]
		if s.Narrow {
			channels[c] = band(channels[c], 300, 3400)
		}
		for i := range channels[c] {
			channels[c][i] = clip(channels[c][i] + gain*noise[i])
		}
	}
	return channels, sheet, nil
}

// share is how loud a speaker is on a channel: each seat on its own when there
// are two, a little of it on the other; the radio on both.
func share(s *script, who string, channel int) float64 {
	if s.Channels < 2 || !slices.Contains(s.Seats, who) || s.Seats[channel] == who {
		return 1
	}
	return 0.03
}

// level scales samples so that their sounding parts have this root mean square.
func level(samples []float32, rms float64) []float64 {
	out := make([]float64, len(samples))
	peak := 0.0
	for i, v := range samples {
		out[i] = float64(v)
		peak = math.Max(peak, math.Abs(out[i]))
	}
	const frame = rate / 50
	var loud []float64
	for i := 0; i+frame <= len(out); i += frame {
		if f := out[i : i+frame]; power(f) > peak*peak*0.003 {
			loud = append(loud, f...)
		}
	}
	g := rms / math.Sqrt(power(loud)+1e-12)
	for i := range out {
		out[i] *= g
	}
	return out
}

func grow(s []float64, n int) []float64 {
	if len(s) < n {
		s = append(s, make([]float64, n-len(s))...)
	}
	return s
}

func clip(v float64) float64 { return math.Max(-1, math.Min(1, v)) }

// writeWAV writes 16-bit samples.
func writeWAV(file string, channels [][]float64) error {
	f, err := os.Create(file)
	if err != nil {
		return err
	}
	buf := &audio.IntBuffer{
		Format:         &audio.Format{NumChannels: len(channels), SampleRate: rate},
		SourceBitDepth: 16,
	}
	for i := range channels[0] {
		for c := range channels {
			buf.Data = append(buf.Data, int(math.Round(channels[c][i]*32767)))
		}
	}
	e := wav.NewEncoder(f, rate, 16, len(channels), 1)
	if err := errors.Join(e.Write(buf), e.Close()); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}
