package onnx

import (
	"fmt"
	"math"
	"strings"

	onnxruntime "github.com/yalue/onnxruntime_go"

	"sidetone/audio"
	"sidetone/audio/transcript"
)

// How likely a phrase is that was found: a logistic regression on three things,
// fitted on what was found in the tuning lessons at 20 and 10 dB.
const (
	perMargin   = 0.099
	perEvidence = 0.117
	perFit      = 0.82
	atNought    = 1.55
)

// mostEvidence bounds what the decoder's opinion counts, either way, in nats.
const mostEvidence = 30

// believable is the least probability of a phrase that is written. What is
// doubtful is written too, and the doubt goes with it.
const believable = 0.35

func (p phrase) believed(evidence float64) float64 {
	evidence = max(-mostEvidence, min(mostEvidence, evidence))
	return 1 / (1 + math.Exp(-(perMargin*p.margin + perEvidence*evidence + perFit*p.fit + atNought)))
}

// understand gives the words of a segment: those the decoder wrote, with
// expected phrases in the place of those that were misheard, and all in time.
// hidden is what the encoder gave.
func (r *Recogniser) understand(hidden onnxruntime.Value, free []transcript.Word, seg audio.Segment) ([]transcript.Word, error) {
	s := r.spotter
	heard := s.net.Hear(hidden.(*onnxruntime.Tensor[float32]).GetData())
	words, ok := s.lay(heard, free)
	if !ok { // more sounds than were heard: the decoder has made things up
		words = nil
	}
	found := s.find(heard, words)
	said, err := r.believe(hidden, words, found)
	if err != nil {
		return nil, fmt.Errorf("weighing phrases: %w", err)
	}
	return timed(weave(words, said), seg), nil
}

// believe keeps of the phrases found those that are likely.
func (r *Recogniser) believe(hidden onnxruntime.Value, words []placed, found []phrase) ([]phrase, error) {
	own := written(words)
	var texts []string
	var of []int
	for i, p := range found {
		if text := written(weave(words, []phrase{p})); text != own {
			texts, of = append(texts, text), append(of, i)
		}
	}
	evidence := make([]float64, len(found))
	if len(texts) > 0 {
		e, err := r.evidence(hidden, own, texts)
		if err != nil {
			return nil, err
		}
		for k, i := range of {
			evidence[i] = e[k]
			if !sensible(words, found[i]) {
				evidence[i] = max(e[k], 0)
			}
		}
	}
	var said []phrase
	for i, p := range found {
		if p.likely = p.believed(evidence[i]); p.likely >= believable {
			said = append(said, p)
		}
	}
	return said, nil
}

// sensible says whether the decoder wrote words of the language where a phrase was
// found. What is no word explains the sound by spelling it, which is no evidence
// against a phrase.
func sensible(words []placed, p phrase) bool {
	for _, w := range words {
		if within(w.span, p) && !w.known {
			return false
		}
	}
	return true
}

func written(words []placed) string {
	texts := make([]string, len(words))
	for i, w := range words {
		texts[i] = w.Text
	}
	return strings.Join(texts, " ")
}
