// Package speech finds where somebody speaks and cuts the sound there, so that
// engine and silence are never sent to a recogniser.
//
// Speech is told from the rest by the Silero VAD model, a probability for each
// 32 ms; what is cut from those probabilities is decided here.
package speech

import (
	"fmt"

	onnxruntime "github.com/yalue/onnxruntime_go"

	"sidetone/audio"
	"sidetone/audio/ort"
)

// Window is the number of samples the model judges at once (32 ms); it also
// wants the last 64 of the window before (as the Silero VAD v5 and v6 export takes them).
const (
	Window  = 512
	context = 64
	memory  = 128
)

// WindowSeconds is the length of a window.
const WindowSeconds = float64(Window) / audio.Rate

// Detector gives the probability of speech, window after window of one channel.
type Detector struct {
	session *ort.Session
	owner   bool
	input   *onnxruntime.Tensor[float32]
	state   *onnxruntime.Tensor[float32]
	rate    *onnxruntime.Scalar[int64]
	output  *onnxruntime.Tensor[float32]
	next    *onnxruntime.Tensor[float32]
}

// NewDetector loads the speech detector's model.
func NewDetector(library, model string) (*Detector, error) {
	s, err := ort.Open(library, model, 1)
	if err != nil {
		return nil, err
	}
	d, err := newDetector(s)
	if err != nil {
		_ = s.Close()
		return nil, err
	}
	d.owner = true
	return d, nil
}

// Another is a detector for a further channel, on the same model. It is closed
// by itself, before the first.
func (d *Detector) Another() (*Detector, error) { return newDetector(d.session) }

func newDetector(s *ort.Session) (d *Detector, err error) {
	if len(s.Inputs) != 3 || len(s.Outputs) != 2 {
		return nil, fmt.Errorf("not a speech detector of the expected export: %d inputs", len(s.Inputs))
	}
	d = &Detector{session: s}
	defer func() {
		if err != nil {
			d.free()
		}
	}()
	if d.input, err = onnxruntime.NewEmptyTensor[float32](onnxruntime.NewShape(1, context+Window)); err != nil {
		return nil, err
	}
	if d.state, err = onnxruntime.NewEmptyTensor[float32](onnxruntime.NewShape(2, 1, memory)); err != nil {
		return nil, err
	}
	if d.next, err = onnxruntime.NewEmptyTensor[float32](onnxruntime.NewShape(2, 1, memory)); err != nil {
		return nil, err
	}
	if d.output, err = onnxruntime.NewEmptyTensor[float32](onnxruntime.NewShape(1, 1)); err != nil {
		return nil, err
	}
	d.rate, err = onnxruntime.NewScalar[int64](audio.Rate)
	return d, err
}

// Probability judges the next window: exactly Window samples.
func (d *Detector) Probability(window []float32) (float32, error) {
	if len(window) != Window {
		return 0, fmt.Errorf("the speech detector takes %d samples at once, got %d", Window, len(window))
	}
	in := d.input.GetData()
	copy(in, in[Window:])
	copy(in[context:], window)
	err := d.session.Run(
		[]onnxruntime.Value{d.input, d.state, d.rate},
		[]onnxruntime.Value{d.output, d.next})
	if err != nil {
		return 0, err
	}
	d.state, d.next = d.next, d.state
	return d.output.GetData()[0], nil
}

func (d *Detector) free() {
	for _, t := range []*onnxruntime.Tensor[float32]{d.input, d.state, d.next, d.output} {
		if t != nil {
			_ = t.Destroy()
		}
	}
	if d.rate != nil {
		_ = d.rate.Destroy()
	}
}

// Close frees the detector, and the model with the first one.
func (d *Detector) Close() error {
	d.free()
	if d.owner {
		return d.session.Close()
	}
	return nil
}
