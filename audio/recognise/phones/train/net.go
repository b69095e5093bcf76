package train

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"sidetone/audio/recognise/phones"
)

// Net is a network that learns: convolutions over time, all but the last with
// rectified outputs. phones.Net says what the last one's numbers are.
type Net struct{ layers []*phones.Layer }

// Shape of a layer; the inputs of the first are the numbers in a frame.
type Shape struct{ In, Out, Width int }

// English is the shape of the network for the encoder of the base model.
var English = []Shape{{416 + phones.Spectrum, 256, 7}, {256, 256, 7}, {256, 256, 5}, {256, phones.Count, 1}}

// NewNet begins a network with small random weights: uniform, to one over the
// root of the inputs of an output either way.
func NewNet(shapes []Shape, seed uint64) (*Net, error) {
	rng := rand.New(rand.NewPCG(seed, 0))
	n := &Net{}
	for i, s := range shapes {
		if s.In <= 0 || s.Out <= 0 || s.In%16 != 0 || s.Width%2 == 0 || i > 0 && s.In != shapes[i-1].Out {
			return nil, fmt.Errorf("no layer can be made of %+v as number %d", s, i+1)
		}
		l := &phones.Layer{In: s.In, Out: s.Out, Width: s.Width, Weights: make([]float32, s.In*s.Out*s.Width), Bias: make([]float32, s.Out)}
		most := 1 / math.Sqrt(float64(s.In*s.Width))
		for _, p := range [][]float32{l.Weights, l.Bias} {
			for k := range p {
				p[k] = float32(most * (2*rng.Float64() - 1))
			}
		}
		n.layers = append(n.layers, l)
	}
	if len(shapes) == 0 || shapes[len(shapes)-1].Out != phones.Count {
		return nil, fmt.Errorf("the last layer must have %d outputs", phones.Count)
	}
	return n, nil
}

// Further is a network that learns on from what another knows.
func Further(known *phones.Net) *Net {
	n := &Net{}
	for _, l := range known.Layers() {
		n.layers = append(n.layers, &phones.Layer{In: l.In, Out: l.Out, Width: l.Width, Weights: slices.Clone(l.Weights), Bias: slices.Clone(l.Bias)})
	}
	return n
}

// Mean is the network halfway between two of the same shape, of which one was taught
// on from the other: it may hear strange voices better than either (P. Izmailov et al.,
// "Averaging Weights Leads to Wider Optima and Better Generalization", UAI 2018).
func (n *Net) Mean(o *Net) *Net {
	mean := func(a, b []float32) []float32 {
		out := make([]float32, len(a))
		for i := range a {
			out[i] = (a[i] + b[i]) / 2
		}
		return out
	}
	m := &Net{}
	for i, l := range n.layers {
		k := o.layers[i]
		m.layers = append(m.layers, &phones.Layer{In: l.In, Out: l.Out, Width: l.Width, Weights: mean(l.Weights, k.Weights), Bias: mean(l.Bias, k.Bias)})
	}
	return m
}

// Bytes is the file of the network as phones.Load reads it: weights in 255 steps,
// each output's on a scale of its own.
func (n *Net) Bytes() []byte {
	out := []byte(phones.Magic)
	u32 := func(v uint32) { out = binary.LittleEndian.AppendUint32(out, v) }
	u32(uint32(len(n.layers)))
	for _, l := range n.layers {
		u32(uint32(l.In))
		u32(uint32(l.Out))
		u32(uint32(l.Width))
	}
	for _, l := range n.layers {
		row := l.In * l.Width
		for o := range l.Out {
			w := l.Weights[o*row : (o+1)*row]
			most := float32(1e-12)
			for _, v := range w {
				most = max(most, v, -v)
			}
			scale := most / 127
			u32(math.Float32bits(l.Bias[o]))
			u32(math.Float32bits(scale))
			for _, v := range w {
				out = append(out, byte(int8(math.RoundToEven(float64(v/scale)))))
			}
		}
	}
	return out
}
