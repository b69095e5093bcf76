package onnx

import (
	"context"
	"math"
	"strings"

	onnxruntime "github.com/yalue/onnxruntime_go"

	"sidetone/audio"
)

// A segment longer than this is talk; it is left as the model writes it.
const longestCall = 7 * audio.Rate

// sureWord: a phrase written freely with every word this likely needs no search.
const sureWord = 0.6

// finalists is how many rows of phrases are weighed against silence.
const finalists = 3

// A free text of this many words is talk, and one of a third as many is when the
// model is at ease with it.
const (
	talkWords = 16
	atEase    = 0.22 // nats a token
)

// muchMore: a free text that explains this many nats more of the sound than the
// phrase holds more than the phrase.
const muchMore = 25.0

// callTokens bounds how many tokens of calls so many samples can hold.
func callTokens(samples int) int { return int(4.5*float64(samples)/audio.Rate) + 4 }

// understand gives the tokens of a segment: as the model writes them, or the
// expected phrases that fit the sound better.
func (r *Recogniser) understand(ctx context.Context, hidden onnxruntime.Value, samples, limit int) ([]token, error) {
	if r.expected == nil || samples > longestCall {
		free, err := r.decode(ctx, hidden, limit)
		if err != nil {
			return nil, err
		}
		return free.tokens, nil
	}
	free, found, err := r.search(ctx, hidden, samples, limit, finalists)
	if err != nil {
		return nil, err
	}
	if len(found) == 0 {
		return free.tokens, nil
	}
	texts := make([][]token, 0, len(found)+1)
	for _, h := range found {
		texts = append(texts, h.tokens)
	}
	silent, err := r.weigh(r.silence, append(texts, free.tokens))
	if err != nil {
		return nil, err
	}
	best, margin := -1, math.Inf(-1)
	for i, h := range found {
		evidence := h.score - silent[i] + h.odds
		if evidence < free.logProb-silent[len(found)]-muchMore {
			continue
		}
		if m := evidence - phrasePrice*float64(h.phrases) - max(free.logProb, leastHeard); m > margin {
			best, margin = i, m
		}
	}
	if margin <= 0 {
		return free.tokens, nil
	}
	return believed(found[best].tokens, margin), nil
}

// plain says whether a free text is one expected phrase and surely so.
func (r *Recogniser) plain(free []token) bool {
	for _, t := range free {
		if t.logProb < math.Log(sureWord) {
			return false
		}
	}
	n := len(free)
	if n > 0 && r.piece(free[n-1].id) == "." {
		n--
	}
	return r.expected.holds(free[:n])
}

// talk says whether a free text is surely none of the expected phrases alone.
func (r *Recogniser) talk(free *freeText) bool {
	words := 0
	for _, t := range free.tokens {
		if strings.HasPrefix(r.piece(t.id), " ") {
			words++
		}
	}
	return words >= talkWords || words >= talkWords/3 && -free.logProb < atEase*float64(len(free.tokens)+1)
}

// believed gives the tokens of a phrase the probability that it was said, when
// that is more than the model's own.
func believed(tokens []token, margin float64) []token {
	sure := -math.Log1p(math.Exp(-margin / evidenceScale))
	out := make([]token, len(tokens))
	for i, t := range tokens {
		out[i] = token{t.id, max(t.logProb, sure)}
	}
	return out
}
