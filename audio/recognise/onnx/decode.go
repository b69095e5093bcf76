package onnx

import (
	"context"
	"math"

	onnxruntime "github.com/yalue/onnxruntime_go"

	"sidetone/audio/ort"
)

// token is one step of the decoder: what was chosen and with what log-probability.
type token struct {
	id      int64
	logProb float64
}

// tokensPerSecond bounds the length of a decode; speech has about half of it
// (figure of the model's authors).
const tokensPerSecond = 6.5

// decode turns what the encoder heard into tokens, the likeliest at each step,
// until the model says end or limit is reached.
func (r *Recogniser) decode(ctx context.Context, hidden onnxruntime.Value, limit int) ([]token, error) {
	past, err := r.emptyPast()
	if err != nil {
		return nil, err
	}
	defer func() { ort.Destroy(past...) }()

	var tokens []token
	next := int64(startToken)
	for step := 0; step < limit; step++ {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		logits, err := r.step(next, hidden, past, step > 0)
		if err != nil {
			return nil, err
		}
		best := likeliest(logits.GetData())
		_ = logits.Destroy()
		if best.id == endToken {
			break
		}
		tokens = append(tokens, best)
		next = best.id
		if n := repeated(tokens); n > 0 {
			return tokens[:len(tokens)-n], nil
		}
	}
	return tokens, nil
}

// step runs the decoder on one token and replaces, in past, what it computed.
func (r *Recogniser) step(id int64, hidden onnxruntime.Value, past []onnxruntime.Value, cached bool) (*onnxruntime.Tensor[float32], error) {
	ids, err := onnxruntime.NewTensor(onnxruntime.NewShape(1, 1), []int64{id})
	if err != nil {
		return nil, err
	}
	defer ids.Destroy()
	branch, err := onnxruntime.NewTensor(onnxruntime.NewShape(1), []bool{cached})
	if err != nil {
		return nil, err
	}
	defer branch.Destroy()

	in := make([]onnxruntime.Value, 0, len(past)+3)
	in = append(in, ids, hidden)
	in = append(in, past...)
	in = append(in, branch)
	out := make([]onnxruntime.Value, len(r.decoder.Outputs))
	if err := r.decoder.Run(in, out); err != nil {
		ort.Destroy(out...)
		return nil, err
	}
	for i, o := range r.caches {
		// The encoder's half is computed once; the cached branch gives it back empty.
		if cached && encoderHalf(i) {
			_ = out[o].Destroy()
			continue
		}
		_ = past[i].Destroy()
		past[i] = out[o]
	}
	return out[0].(*onnxruntime.Tensor[float32]), nil
}

// encoderHalf says whether past input i belongs to the encoder: inputs come
// four a layer, decoder key and value, then encoder key and value.
func encoderHalf(i int) bool { return i%4 >= 2 }

func (r *Recogniser) emptyPast() ([]onnxruntime.Value, error) {
	past := make([]onnxruntime.Value, r.layers*4)
	for i := range past {
		t, err := onnxruntime.NewEmptyTensor[float32](onnxruntime.NewShape(0, r.heads, 1, r.headSize))
		if err != nil {
			ort.Destroy(past...)
			return nil, err
		}
		past[i] = t
	}
	return past, nil
}

// likeliest is the highest of the last row of logits with its log-probability.
func likeliest(logits []float32) token {
	best, top := 0, float32(math.Inf(-1))
	for i, v := range logits {
		if v > top {
			best, top = i, v
		}
	}
	sum := 0.0
	for _, v := range logits {
		if d := v - top; d > -20 {
			sum += math.Exp(float64(d))
		}
	}
	return token{int64(best), -math.Log(sum)}
}

// repeated says how many tokens at the end are a loop the model fell into: the
// same one to eight tokens three times over, and at least eight tokens in all.
// One round of the loop is kept.
func repeated(tokens []token) int {
	n := len(tokens)
	for period := 1; period <= 8; period++ {
		rounds := max(3, (8+period-1)/period)
		if n < rounds*period {
			continue
		}
		loop := true
		for i := n - 1; i >= n-(rounds-1)*period; i-- {
			if tokens[i].id != tokens[i-period].id {
				loop = false
				break
			}
		}
		if loop {
			return (rounds - 1) * period
		}
	}
	return 0
}
