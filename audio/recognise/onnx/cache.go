package onnx

import (
	onnxruntime "github.com/yalue/onnxruntime_go"

	"sidetone/audio/ort"
)

// cache is what the decoder keeps of the tokens so far. The decoder's half has
// one row a hypothesis; the encoder's half is the same for all and has one row,
// which the model takes for every row of a batch.
type cache struct {
	past []onnxruntime.Value
}

func (c *cache) free() {
	if c != nil {
		ort.Destroy(c.past...)
		c.past = nil
	}
}

// pick turns c into a cache whose row i is what row rows[i] was.
func (c *cache) pick(rows []int) error {
	next, err := c.copy(rows)
	if err != nil {
		return err
	}
	c.freeRows()
	c.past = next.past
	return nil
}

// copy is a cache whose row i is row rows[i] of c. The encoder's half is c's
// own: free the copy with freeRows, before c.
func (c *cache) copy(rows []int) (*cache, error) {
	out := &cache{past: make([]onnxruntime.Value, len(c.past))}
	for i, v := range c.past {
		if encoderHalf(i) {
			out.past[i] = v
			continue
		}
		t := v.(*onnxruntime.Tensor[float32])
		shape := t.GetShape().Clone()
		size := int(shape[1] * shape[2] * shape[3])
		shape[0] = int64(len(rows))
		from := t.GetData()
		to := make([]float32, size*len(rows))
		for r, row := range rows {
			copy(to[r*size:(r+1)*size], from[row*size:(row+1)*size])
		}
		n, err := onnxruntime.NewTensor(shape, to)
		if err != nil {
			out.freeRows()
			return nil, err
		}
		out.past[i] = n
	}
	return out, nil
}

// freeRows frees the decoder's half.
func (c *cache) freeRows() {
	for i, v := range c.past {
		if !encoderHalf(i) && v != nil {
			_ = v.Destroy()
		}
	}
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
