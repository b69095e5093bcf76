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

// freeText is what the model writes by itself: the likeliest token at each step.
type freeText struct {
	tokens []token
	end    float64 // log-probability of the end after them
	done   bool
	astray bool // the model fell into a loop, or never came to an end
}

// sureEnd is how sure the model must be that nothing was said. On noise and
// tones it gave the end as the first token at least 0.9, nearly always 0.97; on
// some clear speech ("six five") between 0.4 and 0.86, and the right words next.
const sureEnd = 0.9

// take goes on by one token.
func (f *freeText) take(logits []float32) {
	best := likeliest(logits)
	if best.id == endToken && len(f.tokens) == 0 && best.logProb < math.Log(sureEnd) {
		best = runnerUp(logits, best)
	}
	if best.id == endToken {
		f.done, f.end = true, best.logProb
		return
	}
	f.tokens = append(f.tokens, best)
	if n := repeated(f.tokens); n > 0 {
		f.tokens, f.done, f.astray = f.tokens[:len(f.tokens)-n], true, true
	}
}

// logProb is that of the whole text.
func (f *freeText) logProb() float64 {
	sum := f.end
	for _, t := range f.tokens {
		sum += t.logProb
	}
	return sum
}

func (f *freeText) id() int64 { return f.tokens[len(f.tokens)-1].id }

// decode turns what the encoder heard into a text, of at most limit tokens.
func (r *Recogniser) decode(ctx context.Context, hidden onnxruntime.Value, limit int) (*freeText, error) {
	var c *cache
	defer func() { c.free() }()
	f := &freeText{}
	next := int64(startToken)
	for range limit {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		logits, err := r.step(next, hidden, &c)
		if err != nil {
			return nil, err
		}
		f.take(logits.GetData())
		_ = logits.Destroy()
		if f.done {
			break
		}
		next = f.id()
	}
	f.astray = f.astray || !f.done
	return f, nil
}

// step runs the decoder on one token and puts what it keeps into *c, which is
// nil before the first token. The logits, [1,1,tokens], must be destroyed.
func (r *Recogniser) step(id int64, hidden onnxruntime.Value, c **cache) (*onnxruntime.Tensor[float32], error) {
	return r.run([]int64{id}, hidden, c)
}

// run is step with several tokens, and as many rows of logits; more than one only
// before anything is kept.
func (r *Recogniser) run(ids []int64, hidden onnxruntime.Value, c **cache) (*onnxruntime.Tensor[float32], error) {
	cached := *c != nil
	if !cached {
		empty, err := r.emptyPast()
		if err != nil {
			return nil, err
		}
		*c = &cache{past: empty}
	}
	in := make([]onnxruntime.Value, 0, len((*c).past)+3)
	idsTensor, err := onnxruntime.NewTensor(onnxruntime.NewShape(1, int64(len(ids))), ids)
	if err != nil {
		return nil, err
	}
	defer idsTensor.Destroy()
	branch, err := onnxruntime.NewTensor(onnxruntime.NewShape(1), []bool{cached})
	if err != nil {
		return nil, err
	}
	defer branch.Destroy()
	in = append(append(append(in, idsTensor, hidden), (*c).past...), branch)

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
		_ = (*c).past[i].Destroy()
		(*c).past[i] = out[o]
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

// likeliest is the highest of a row of logits with its log-probability.
func likeliest(logits []float32) token {
	best, top := 0, float32(math.Inf(-1))
	for i, v := range logits {
		if v > top {
			best, top = i, v
		}
	}
	return token{int64(best), float64(top) - logSum(logits, top)}
}

// runnerUp is the highest but best.
func runnerUp(logits []float32, best token) token {
	sum := float64(logits[best.id]) - best.logProb
	second := token{-1, math.Inf(-1)}
	for i, v := range logits {
		if p := float64(v) - sum; p > second.logProb && int64(i) != best.id {
			second = token{int64(i), p}
		}
	}
	return second
}

func highest(logits []float32) float32 {
	top := logits[0]
	for _, v := range logits {
		top = max(top, v)
	}
	return top
}

// logSum is the logarithm of the sum of the exponentials, top being the largest.
func logSum(logits []float32, top float32) float64 {
	sum := 0.0
	for _, v := range logits {
		if d := v - top; d > -16 { // the rest adds less than a part in a thousand
			sum += math.Exp(float64(d))
		}
	}
	return float64(top) + math.Log(sum)
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
