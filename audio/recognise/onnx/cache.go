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
	for i, v := range c.past {
		if encoderHalf(i) {
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
			return err
		}
		_ = t.Destroy()
		c.past[i] = n
	}
	return nil
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
