// Package onnx is the embedded recogniser: a Moonshine speech model run by ONNX
// Runtime on this machine. No sound leaves it.
//
// The model (Jeffries et al., "Moonshine: Speech Recognition for Live
// Transcription and Voice Commands", 2024) takes 16 kHz PCM as it is; its
// encoder runs once over a segment, its decoder once a token, keeping what it
// computed for earlier tokens.
package onnx

import (
	"cmp"
	"fmt"
	"os"
	"runtime/debug"
	"strings"
	"sync"

	onnxruntime "github.com/yalue/onnxruntime_go"

	"sidetone/audio"
	"sidetone/audio/models"
	"sidetone/audio/ort"
	"sidetone/audio/recognise"
	"sidetone/audio/recognise/phones"
	"sidetone/audio/recognise/talk"
)

// Tokens with a meaning of their own in the model's vocabulary.
const (
	startToken = 1
	endToken   = 2
)

// Options of the embedded recogniser.
type Options struct {
	Threads int // cores one segment may use; 0 is 1
	// Phrases to expect. Say gives the phonemes of a word, in each of the ways it may
	// have been said if it is written in figures, the likeliest first and one at
	// least, and whether it is a word of the language; it is needed with them.
	Phrases []recognise.Phrase
	Say     func(word string) (ways [][]phones.Phone, known bool)
	// Talk, if not nil, is how people talk: what was heard is read anew with it. Spoken
	// gives a written word in words as they are spoken, in small letters, in the ways it
	// may have been said, one at least; it is needed with it.
	Talk   *talk.Vocabulary
	Spoken func(word string) [][]string
	// Weighed, if not nil, is told of every phrase that was found, written or not;
	// by several goroutines at once, if several recognise.
	Weighed func(Candidate)
	// Read, if not nil, is told likewise of every word that was read anew.
	Read func(WordEvidence)
}

// Recogniser is the embedded recogniser, safe for use by several goroutines at
// once. Close it to free its memory.
type Recogniser struct {
	encoder, decoder *ort.Session
	vocabulary       []string
	layers           int
	heads, headSize  int64
	caches           []int    // index in decoder outputs, for each past input, of what replaces it
	spotter          *spotter // of expected phrases, nil when none are expected
	tokens           *tokeniser
	silence          onnxruntime.Value // what the encoder makes of no sound
	weighed          func(Candidate)
	read             func(WordEvidence)
}

// New loads the model of a set of files.
func New(set models.Set, opt Options) (*Recogniser, error) {
	if opt.Threads <= 0 {
		opt.Threads = 1
	}
	vocabulary, err := models.ReadVocabulary(set.Vocabulary)
	if err != nil {
		return nil, err
	}
	r := &Recogniser{vocabulary: vocabulary, weighed: opt.Weighed, read: opt.Read}
	var s *spotter
	var unheard error
	var making sync.WaitGroup
	making.Go(func() { s, unheard = listenFor(opt) }) // takes a third as long as the models
	err = r.open(set, opt.Threads)
	making.Wait()
	if err := cmp.Or(err, unheard); err != nil {
		_ = r.Close()
		return nil, err
	}
	if err := r.readShape(); err != nil {
		_ = r.Close()
		return nil, fmt.Errorf("model %s: %w", set.Decoder, err)
	}
	// The network knows one encoder; with another the words are the decoder's alone.
	if d := r.encoder.Outputs[0].Dims; s != nil && len(d) == 3 && d[2] == int64(s.net.States()) {
		r.spotter, r.tokens = s, newTokeniser(vocabulary)
		if r.silence, err = r.encode(make([]float32, audio.Rate)); err != nil {
			_ = r.Close()
			return nil, err
		}
	}
	return r, nil
}

// listenFor makes what listens for the phrases, nil where none are expected.
func listenFor(opt Options) (*spotter, error) {
	if len(opt.Phrases) == 0 || opt.Say == nil {
		return nil, nil
	}
	net, err := phones.English()
	if err != nil {
		return nil, err
	}
	return newSpotter(net, opt), nil
}

// open loads the two models, the larger one first. What only loading needs is given
// back to the system at once: it is more than all of the listening after it.
func (r *Recogniser) open(set models.Set, threads int) error {
	data, err := os.ReadFile(set.Decoder)
	if err != nil {
		return fmt.Errorf("model: %w", err)
	}
	data = lighten(data)
	debug.FreeOSMemory()
	if r.decoder, err = ort.OpenData(set.Runtime, set.Decoder, data, threads); err != nil {
		return err
	}
	data = nil
	debug.FreeOSMemory()
	r.encoder, err = ort.Open(set.Runtime, set.Encoder, threads)
	debug.FreeOSMemory()
	return err
}

// readShape takes the number of layers and the sizes from the model, so that a
// larger one of the same export works too.
func (r *Recogniser) readShape() error {
	in, out := r.decoder.Inputs, r.decoder.Outputs
	if len(in) < 4 || in[0].Name != "input_ids" || in[1].Name != "encoder_hidden_states" || in[len(in)-1].Name != "use_cache_branch" || out[0].Name != "logits" {
		return fmt.Errorf("not a merged decoder of the expected export")
	}
	past := in[2 : len(in)-1]
	byName := map[string]int{}
	for i, o := range out {
		byName[o.Name] = i
	}
	for _, p := range past {
		i, ok := byName["present."+strings.TrimPrefix(p.Name, "past_key_values.")]
		if !ok {
			return fmt.Errorf("input %s has no output that replaces it", p.Name)
		}
		r.caches = append(r.caches, i)
	}
	shape := past[0].Dims
	if len(shape) != 4 || shape[1] <= 0 || shape[3] <= 0 || len(past)%4 != 0 {
		return fmt.Errorf("unexpected cache shape %v", shape)
	}
	r.layers, r.heads, r.headSize = len(past)/4, shape[1], shape[3]
	if v := out[0].Dims; len(v) != 3 || v[2] < int64(len(r.vocabulary)) {
		return fmt.Errorf("the model's %v tokens are fewer than the vocabulary's %d", v, len(r.vocabulary))
	}
	return nil
}

// Close frees the model.
func (r *Recogniser) Close() error {
	ort.Destroy(r.silence)
	r.silence = nil
	err := r.encoder.Close()
	if e := r.decoder.Close(); err == nil {
		err = e
	}
	return err
}

// encode runs the encoder over samples. The result must be destroyed.
func (r *Recogniser) encode(samples []float32) (onnxruntime.Value, error) {
	in, err := onnxruntime.NewTensor(onnxruntime.NewShape(1, int64(len(samples))), samples)
	if err != nil {
		return nil, err
	}
	defer in.Destroy()
	out := []onnxruntime.Value{nil}
	if err := r.encoder.Run([]onnxruntime.Value{in}, out); err != nil {
		return nil, err
	}
	return out[0], nil
}
