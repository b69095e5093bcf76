package onnx

import (
	onnxruntime "github.com/yalue/onnxruntime_go"

	"sidetone/audio/ort"
)

// cache is what the decoder keeps of the tokens so far.
type cache struct {
	past []onnxruntime.Value
}

func (c *cache) free() {
	if c != nil {
		ort.Destroy(c.past...)
		c.past = nil
	}
}
