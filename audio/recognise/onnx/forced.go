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
// it, given what was heard. They are run one by one: what a row keeps of the sound
// takes megabytes.
func (r *Recogniser) weigh(hidden onnxruntime.Value, texts [][]int64) ([]float64, error) {
	scores := make([]float64, len(texts))
	for i, text := range texts {
		var err error
		if scores[i], err = r.weighOne(hidden, text); err != nil {
			return nil, err
		}
	}
	return scores, nil
}

func (r *Recogniser) weighOne(hidden onnxruntime.Value, text []int64) (float64, error) {
	var c *cache
	defer func() { c.free() }()
	logits, err := r.run(append([]int64{startToken}, text...), hidden, &c)
	if err != nil {
		return 0, err
	}
	defer logits.Destroy()
	data := logits.GetData()
	size := len(data) / (len(text) + 1)
	score := 0.0
	for j := range len(text) + 1 {
		row, id := data[j*size:(j+1)*size], int64(endToken)
		if j < len(text) {
			id = text[j]
		}
		score += float64(row[id]) - logSum(row, highest(row))
	}
	return score, nil
}
