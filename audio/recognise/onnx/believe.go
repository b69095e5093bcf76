package onnx

import (
	"fmt"
	"math"
	"strings"

	onnxruntime "github.com/yalue/onnxruntime_go"

	"sidetone/audio"
	"sidetone/audio/recognise/phones"
	"sidetone/audio/transcript"
)

// Candidate is an expected phrase that was found, and what speaks for it.
type Candidate struct {
	Phrase, Means string
	Start, End    float64 // seconds of the recording
	Margin        float64 // nats by which the sounds are likelier with what it means than without
	Fit           float64 // nats a sound of it loses beside what is heard best; 0 or less
	Agreed        bool    // the decoder wrote it by itself
	Evidence      float64 // nats by which the decoder finds it likelier than what it wrote, given the sound rather than silence
	Likely        float64 // probability that it was said
}

// How likely a phrase is that was found: a logistic regression on what speaks for
// it, fitted on what was found in the tuning lessons at 20 and 10 dB (earscore
// --fit-ears).
const (
	perMargin   = 0.622
	perEvidence = 0.063
	perFit      = 1.300
	ifAgreed    = 3.027
	atNought    = -1.493
)

// MostEvidence bounds what the decoder's opinion counts, either way, in nats.
const MostEvidence = 30

// believable is the least probability of a phrase that is written; what is
// doubtful is written too, and the doubt goes with it. What is at least
// conceivable is told beside the words: the call that is due next may be in it.
const (
	believable  = 0.35
	conceivable = 0.04
)

func (c Candidate) believed() float64 {
	evidence := max(-MostEvidence, min(MostEvidence, c.Evidence))
	odds := perMargin*c.Margin + perEvidence*evidence + perFit*c.Fit + atNought
	if c.Agreed {
		odds += ifAgreed
	}
	return 1 / (1 + math.Exp(-odds))
}

// decoded is what the decoder wrote, and the log-probability it gives it.
type decoded struct {
	words   []transcript.Word
	logProb float64
}

// understand gives the words of a segment: those the decoder wrote, read anew where it
// knows how people talk, with expected phrases in the place of those that were misheard,
// and all in time.
// hidden is what the encoder made of the sound, heard its phonemes.
func (r *Recogniser) understand(hidden onnxruntime.Value, heard phones.Heard, free decoded, seg audio.Segment) ([]transcript.Word, error) {
	s := r.spotter
	var words []placed
	var ok bool
	if s.talk == nil {
		words, ok = s.lay(heard, free.words)
	} else {
		var err error
		if words, ok, err = r.readAnew(hidden, heard, free, seg); err != nil {
			return nil, fmt.Errorf("reading anew: %w", err)
		}
	}
	if !ok { // more sounds than were heard: the decoder has made things up
		words = nil
	}
	found, less := s.find(heard, words, seg)
	if err := r.believe(hidden, words, found); err != nil {
		return nil, fmt.Errorf("weighing phrases: %w", err)
	}
	var said, perhaps []phrase
	for _, p := range found {
		if p.Likely >= believable {
			said = append(said, p)
		} else if p.Likely >= conceivable {
			perhaps = append(perhaps, p)
		}
	}
	for _, p := range less { // the decoder is not asked: what it thinks of them matters little
		if p.Likely = min(p.believed(), believable); p.Likely >= conceivable {
			perhaps = append(perhaps, p)
		}
	}
	woven := weave(words, said)
	annotate(woven, perhaps)
	return timed(woven, seg), nil
}

// believe tells how likely the phrases are that were found.
func (r *Recogniser) believe(hidden onnxruntime.Value, words []placed, found []phrase) error {
	own := written(words)
	var texts []string
	var of []int
	for i, p := range found {
		if text := written(weave(words, []phrase{p})); text != own {
			texts, of = append(texts, text), append(of, i)
		} else {
			found[i].Agreed = true
		}
	}
	if len(texts) > 0 {
		e, err := r.evidence(hidden, own, texts)
		if err != nil {
			return err
		}
		for k, i := range of {
			found[i].Evidence = e[k]
			if !sensible(words, found[i]) {
				found[i].Evidence = max(e[k], 0)
			}
		}
	}
	for i := range found {
		found[i].Likely = found[i].believed()
		if r.weighed != nil {
			r.weighed(found[i].Candidate)
		}
	}
	return nil
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
