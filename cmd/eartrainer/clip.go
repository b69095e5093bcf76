package main

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"sidetone/audio"
	"sidetone/audio/hear"
	"sidetone/audio/recognise/phones"
	"sidetone/cmd/internal/expect"
	"sidetone/cmd/internal/lesson"
)

// A clip is some speech to learn from, who speaks and, if it is synthetic, what.
type clip struct {
	voice string
	lines []line
	make  func() (samples []float32, sounds []phones.Phone, err error)
}

// group makes clips of the lines, of one, two or three of the same voice, in an
// order by chance: the first so many are a fair sample of all.
func group(lines []line, seed uint64) []clip {
	rng := rand.New(rand.NewPCG(seed, streamGroups))
	var clips []clip
	for from := 0; from < len(lines); {
		to := from
		for to < len(lines) && lines[to].voice == lines[from].voice {
			to++
		}
		same := append([]line(nil), lines[from:to]...)
		from = to
		rng.Shuffle(len(same), func(i, j int) { same[i], same[j] = same[j], same[i] })
		for len(same) > 0 {
			n := min(len(same), pick(rng, []int{1, 1, 2, 3}))
			these, number := same[:n], uint64(len(clips))
			same = same[n:]
			clips = append(clips, clip{these[0].voice.String(), these, func() ([]float32, []phones.Phone, error) {
				return made(these, rand.New(rand.NewPCG(seed<<32|number, streamClip)))
			}})
		}
	}
	rng.Shuffle(len(clips), func(i, j int) { clips[i], clips[j] = clips[j], clips[i] })
	return clips
}

// The longest clip and the shortest and longest line that are learnt from, in seconds.
const (
	longestClip  = 14
	shortestLine = 0.2
	longestLine  = 9
)

// made is the lines one after the other, in the cabin. Lines the clip has no room
// for are left out; there may be none left.
func made(lines []line, rng *rand.Rand) ([]float32, []phones.Phone, error) {
	var speech []float64
	var sounds []phones.Phone
	faster := between(rng, 0.85, 1.18)
	for _, l := range lines {
		said, err := lesson.Load(l.file)
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", l.file, err)
		}
		x := make([]float64, len(said))
		for i, v := range said {
			x[i] = float64(v)
		}
		x = trim(stretch(x, faster))
		even(x, between(rng, -3, 3))
		onset(x, rng)
		pause := between(rng, 0.05, 0.4)
		if len(speech) > 0 {
			pause = between(rng, 0.1, 1.2)
		}
		n := float64(len(x)) / audio.Rate
		if n < shortestLine || n > longestLine || float64(len(speech))/audio.Rate+pause+n+0.4 > longestClip {
			continue
		}
		speech = append(append(speech, make([]float64, int(pause*audio.Rate))...), x...)
		sounds = append(sounds, soundsOf(l.text)...)
	}
	if len(speech) == 0 {
		return nil, nil, nil
	}
	speech = append(speech, make([]float64, int(between(rng, 0.05, 0.4)*audio.Rate))...)
	before := int(noiseFirst * audio.Rate)
	speech = append(make([]float64, before), speech...)
	samples := anyWay(rng).mix(speech, cabin(len(speech), rng))
	if rng.Float64() < 0.9 {
		samples = cleaned(samples)
	}
	return samples[before:], sounds, nil
}

// noiseFirst is how many seconds of the cabin come before a clip, for what turns
// noise down to learn it from.
const noiseFirst = 2

// cleaned is samples as the recogniser is given them.
func cleaned(samples []float32) []float32 {
	c := audio.NewCleaner(audio.Cleaning{Reduce: hear.DefaultCleaning.Reduce})
	if c == nil {
		return samples
	}
	out := slices.Clone(c.Clean(samples))
	return append(out, c.Flush()...)
}

// soundsOf are the phonemes of a text, as the dictionary has them.
func soundsOf(text string) []phones.Phone {
	var out []phones.Phone
	for w := range strings.FieldsSeq(text) {
		ways, _ := expect.Say(w)
		out = append(out, ways[0]...)
	}
	return out
}
