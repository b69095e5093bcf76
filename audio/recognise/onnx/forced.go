package onnx

import (
	onnxruntime "github.com/yalue/onnxruntime_go"
)

// evidence gives, for each text, how much more of the sound it explains than own
// does, in nats, found by forced decoding: the log-probability of the text given
// what was heard, less that given silence, which takes out what the model expects
// of language (internal language model subtraction: McDermott et al., "A density
// ratio approach to language model fusion", ASRU 2019). A text the model has no
// letters for is neither better nor worse.
func (r *Recogniser) evidence(hidden onnxruntime.Value, own string, texts []string) ([]float64, error) {
	out := make([]float64, len(texts))
	ids, _ := r.tokens.encode(own)
	rows, of := [][]int64{ids}, []int{-1}
	for i, text := range texts {
		if ids, ok := r.tokens.encode(text); ok {
			rows, of = append(rows, ids), append(of, i)
		}
	}
	heard, err := r.weigh(hidden, rows)
	if err != nil {
		return nil, err
	}
	silent, err := r.weigh(r.silence, rows)
	if err != nil {
		return nil, err
	}
	for k, i := range of {
		if i >= 0 {
			out[i] = heard[k] - silent[k] - (heard[0] - silent[0])
		}
	}
	return out, nil
}

// weigh returns the log-probability of each row of tokens, with the end after
// it, given what was heard.
func (r *Recogniser) weigh(hidden onnxruntime.Value, texts [][]int64) ([]float64, error) {
	longest := 0
	for _, t := range texts {
		longest = max(longest, len(t))
	}
	n := longest + 1
	ids := make([]int64, 0, n*len(texts))
	for _, text := range texts {
		ids = append(ids, startToken)
		ids = append(ids, text...)
		for len(ids)%n != 0 {
			ids = append(ids, endToken)
		}
	}
	all, err := repeat(hidden, len(texts))
	if err != nil {
		return nil, err
	}
	defer all.Destroy()
	var c *cache
	logits, err := r.run(ids, len(texts), all, &c)
	if err != nil {
		return nil, err
	}
	defer c.free()
	defer logits.Destroy()
	data := logits.GetData()
	size := len(data) / (n * len(texts))
	scores := make([]float64, len(texts))
	for b, text := range texts {
		for j := range len(text) + 1 {
			row := data[(b*n+j)*size : (b*n+j+1)*size]
			id := int64(endToken)
			if j < len(text) {
				id = text[j]
			}
			scores[b] += float64(row[id]) - logSum(row, highest(row))
		}
	}
	return scores, nil
}

// repeat is hidden, which has one row, with rows rows: what the model wants with
// the first tokens of a batch.
func repeat(hidden onnxruntime.Value, rows int) (onnxruntime.Value, error) {
	t := hidden.(*onnxruntime.Tensor[float32])
	shape := t.GetShape().Clone()
	from := t.GetData()
	to := make([]float32, 0, len(from)*rows)
	for range rows {
		to = append(to, from...)
	}
	shape[0] = int64(rows)
	return onnxruntime.NewTensor(shape, to)
}
