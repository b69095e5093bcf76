package onnx

import (
	"math"
	"slices"
	"strings"

	"sidetone/audio"
	"sidetone/audio/recognise"
	"sidetone/audio/recognise/phones"
	"sidetone/audio/transcript"
)

// The decoder was taught on everyday speech: "carb heat on" is so unlikely a
// sentence to it that it writes "carve ye on". So what the encoder heard is also
// turned into phonemes, which have no such prejudice, and explained as a whole
// by the expected phrases, the decoder's own words and other sounds, whatever is
// likeliest.

// One frame of the encoder is so many samples, the first of them centred here
// (the strides 64, 3 and 2 and the widths 127, 7 and 3 of its convolutions).
const (
	frameHop   = 384
	firstFrame = 447
)

// In nats; fitted on the tuning lessons, generously: what is found is weighed again.
const (
	phrasePrice = 2 // of the likeliest phrase
	wordPrice   = 3 // of a word the decoder is sure of
	noWordPrice = 8 // more, of one that is no word: "torbigon"
)

var costs = phones.Costs{Sound: 4, Scale: 0.6, Beam: 25}

// spotter finds expected phrases by their phonemes.
type spotter struct {
	net     *phones.Net
	say     func(string) ([]phones.Phone, bool)
	phrases []spotted
	tree    *phones.Tree
}

type spotted struct {
	words  []string
	sounds [][]phones.Phone // of each word
	means  string
}

func newSpotter(net *phones.Net, say func(string) ([]phones.Phone, bool), expected []recognise.Phrase) *spotter {
	s := &spotter{net: net, say: say, tree: phones.NewTree()}
	known := map[string][]phones.Phone{} // the same few words make up all the phrases
	for i, p := range expected {
		sp := spotted{words: strings.Fields(p.Text), means: p.Means}
		if sp.means == "" {
			sp.means = p.Text
		}
		for _, w := range sp.words {
			if _, ok := known[w]; !ok {
				known[w], _ = say(w)
			}
			sp.sounds = append(sp.sounds, known[w])
		}
		s.phrases = append(s.phrases, sp)
		s.tree.Add(slices.Concat(sp.sounds...), i, float32(p.Odds-phrasePrice))
	}
	return s
}

// placed is a word in its place in a segment.
type placed struct {
	transcript.Word
	sounds []phones.Phone
	span   phones.Span
	known  bool // a word of the language
}

// misfit is what a phoneme of a word may lose, in nats, and be as heard as any.
const misfit = 0.3

// lay gives the decoder's words their places. A word that does not sound like
// what was heard there is less likely than the decoder thinks.
func (s *spotter) lay(heard phones.Heard, free []transcript.Word) ([]placed, bool) {
	rows, words := make([][]phones.Phone, len(free)), make([]placed, len(free))
	for i, w := range free {
		rows[i], words[i].known = s.say(w.Text)
	}
	spans, fit, ok := phones.Align(heard, rows)
	for i, w := range free {
		if n := float64(len(rows[i])); n > 0 {
			w.Confidence *= math.Exp(min(0, fit[i]/n+misfit))
		}
		words[i].Word, words[i].sounds, words[i].span = w, rows[i], spans[i]
	}
	return words, ok
}

// phrase is an expected phrase in its place.
type phrase struct {
	words  []placed
	likely float64 // probability that it was said
	margin float64 // nats by which the sounds are likelier with what it means than without
	fit    float64 // nats a sound of it loses beside what is heard best; 0 or less
}

func (p phrase) start() int { return p.words[0].span.Start }
func (p phrase) end() int   { return p.words[len(p.words)-1].span.End }

// find gives the expected phrases that may have been said.
func (s *spotter) find(heard phones.Heard, words []placed) []phrase {
	own := phones.NewTree()
	for i, w := range words {
		odds := math.Log(max(w.Confidence, leastSure)) - wordPrice
		if !w.known {
			odds -= noWordPrice
		}
		own.Add(w.sounds, i, float32(odds))
	}
	trees := []*phones.Tree{s.tree, own}
	found, score := phones.Search(heard, trees, costs, nil)
	var out []phrase
	for _, f := range found {
		if f.Tree != 0 {
			continue
		}
		// How likely it is beside the best explanation without what it means.
		expected := &s.phrases[f.Phrase]
		_, without := phones.Search(heard, trees, costs, func(tree, phrase int) bool {
			return tree == 0 && s.phrases[phrase].means == expected.means
		})
		p := phrase{margin: score - without}
		spans, fit, _ := phones.Align(heard[f.Start:f.End], expected.sounds)
		sounds := 0
		for i, w := range expected.words {
			span := phones.Span{Start: spans[i].Start + f.Start, End: spans[i].End + f.Start}
			p.words = append(p.words, placed{transcript.Word{Text: w}, expected.sounds[i], span, true})
			p.fit += fit[i]
			sounds += len(expected.sounds[i])
		}
		p.fit /= float64(sounds)
		out = append(out, p)
	}
	return out
}

// leastSure bounds how unlikely a word of the decoder's may be.
const leastSure = 1e-4

// timed turns places into seconds of the recording.
func timed(words []placed, seg audio.Segment) []transcript.Word {
	at := func(frame int) float64 { // whole milliseconds after the start: a frame is 24
		after := math.Round(float64(frame*frameHop+firstFrame) / audio.Rate * 1000)
		return min(seg.Start+after/1000, seg.End())
	}
	out := make([]transcript.Word, len(words))
	last := seg.Start
	for i, w := range words {
		out[i] = w.Word
		out[i].Start = max(at(w.span.Start), last)
		out[i].End = max(at(w.span.End), out[i].Start)
		last = out[i].End
	}
	return out
}
