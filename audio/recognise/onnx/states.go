package onnx

import (
	"fmt"

	onnxruntime "github.com/yalue/onnxruntime_go"
)

// States gives what the encoder makes of samples at audio.Rate: a frame of size
// numbers for every 24 ms (416 with the base model), end to end. Less than half a
// second is filled up with silence.
func (r *Recogniser) States(samples []float32) (states []float32, size int, err error) {
	if len(samples) < shortest {
		samples = append(append(make([]float32, 0, shortest), samples...), make([]float32, shortest-len(samples))...)
	}
	v, err := r.encode(samples)
	if err != nil {
		return nil, 0, err
	}
	defer v.Destroy()
	t, ok := v.(*onnxruntime.Tensor[float32])
	if !ok || len(t.GetShape()) != 3 {
		return nil, 0, fmt.Errorf("the encoder gives a %T of shape %v, not frames of numbers", v, v.GetShape())
	}
	return append([]float32(nil), t.GetData()...), int(t.GetShape()[2]), nil
}
