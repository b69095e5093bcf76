// Package speech finds where somebody speaks and cuts the sound there, so that
// engine and silence are never sent to a recogniser.
//
// Speech is told from the rest by the Silero VAD model, a probability for each
// 32 ms; what is cut from those probabilities is decided here.
package speech

import (
	"errors"
	"fmt"
	"sync/atomic"

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
	on     *network
	closed bool
	input  *onnxruntime.Tensor[float32]
	state  *onnxruntime.Tensor[float32]
	rate   *onnxruntime.Scalar[int64]
	output *onnxruntime.Tensor[float32]
	next   *onnxruntime.Tensor[float32]
}

// network is the model that detectors share, closed with the last of them.
type network struct {
	*ort.Session
	users atomic.Int32
}

// NewDetector loads the speech detector's model.
func NewDetector(library, model string) (*Detector, error) {
	s, err := ort.Open(library, model, 1)
	if err != nil {
		return nil, err
	}
	d, err := newDetector(&network{Session: s})
	if err != nil {
		_ = s.Close()
		return nil, err
	}
	return d, nil
}

// Another is a detector for a further channel, on the same model. Each is closed
// by itself, in any order.
func (d *Detector) Another() (*Detector, error) {
	if d.closed {
		return nil, errClosed
	}
	return newDetector(d.on)
}

var errClosed = errors.New("the speech detector is used after it was closed")

func newDetector(n *network) (_ *Detector, err error) {
	if len(n.Inputs) != 3 || len(n.Outputs) != 2 {
		return nil, fmt.Errorf("not a speech detector of the expected export: %d inputs", len(n.Inputs))
	}
	d := &Detector{on: n}
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
	if d.rate, err = onnxruntime.NewScalar[int64](audio.Rate); err != nil {
		return nil, err
	}
	n.users.Add(1)
	return d, nil
}

// Probability judges the next window: exactly Window samples.
func (d *Detector) Probability(window []float32) (float32, error) {
	if len(window) != Window {
		return 0, fmt.Errorf("the speech detector takes %d samples at once, got %d", Window, len(window))
	}
	if d.closed {
		return 0, errClosed
	}
	in := d.input.GetData()
	copy(in, in[Window:])
	copy(in[context:], window)
	err := d.on.Run(
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

// Close frees the detector, and the model with the last one. It may be called twice.
func (d *Detector) Close() error {
	if d.closed {
		return nil
	}
	d.closed = true
	d.free()
	if d.on.users.Add(-1) == 0 {
		return d.on.Close()
	}
	return nil
}
