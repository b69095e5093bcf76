package phones

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"sidetone/audio/dot"
)

// Net gives the phonemes of what was heard (Features): convolutions over time with
// rectified outputs, and the softmax of a linear layer. It is safe for use by
// several goroutines at once.
type Net struct{ layers []Layer }

// States is how many numbers the network expects of the encoder in a frame.
func (n *Net) States() int { return n.in() - Spectrum }

// Layer is a convolution over time: weights by output, then frame, then input.
type Layer struct {
	In, Out, Width int
	Weights, Bias  []float32
}

// Layers are those of the network, first to last, not to be changed.
func (n *Net) Layers() []Layer { return n.layers }

func (n *Net) in() int { return n.layers[0].In }

// Magic begins the file of a network. The number of layers as a uint32 follows,
// and for each layer inputs, outputs and width as uint32; then for each output of
// each layer its bias and a scale as float32, and the weights over that scale as
// int8. All numbers are little-endian.
const Magic = "phones2\n"

var errShort = errors.New("network file ends too early")

// Load reads a network.
func Load(b []byte) (*Net, error) {
	if len(b) < len(Magic)+4 || string(b[:len(Magic)]) != Magic {
		return nil, errors.New("not a network of phonemes")
	}
	b = b[len(Magic):]
	u32 := func() int {
		v := binary.LittleEndian.Uint32(b)
		b = b[4:]
		return int(v)
	}
	count := u32()
	if count < 1 || count > 8 || len(b) < 12*count {
		return nil, errShort
	}
	n := &Net{layers: make([]Layer, count)}
	for i := range n.layers {
		l := &n.layers[i]
		l.In, l.Out, l.Width = u32(), u32(), u32()
		if l.In%16 != 0 || l.In < 16 || l.In > 4096 || l.Out < 1 || l.Out > 4096 || l.Width%2 == 0 || l.Width > 63 {
			return nil, fmt.Errorf("layer %d of the network has %d inputs, %d outputs, width %d", i+1, l.In, l.Out, l.Width)
		}
		if i > 0 && l.In != n.layers[i-1].Out {
			return nil, fmt.Errorf("layer %d of the network takes %d numbers, the one before gives %d", i+1, l.In, n.layers[i-1].Out)
		}
	}
	if last := n.layers[count-1].Out; last != Count {
		return nil, fmt.Errorf("the network tells %d phonemes apart, expected %d", last, Count)
	}
	for i := range n.layers {
		l := &n.layers[i]
		row := l.In * l.Width
		if len(b) < l.Out*(8+row) {
			return nil, errShort
		}
		l.Weights, l.Bias = make([]float32, l.Out*row), make([]float32, l.Out)
		for o := range l.Out {
			l.Bias[o] = math.Float32frombits(binary.LittleEndian.Uint32(b))
			scale := math.Float32frombits(binary.LittleEndian.Uint32(b[4:]))
			for k, w := range b[8 : 8+row] {
				l.Weights[o*row+k] = scale * float32(int8(w))
			}
			b = b[8+row:]
		}
	}
	return n, nil
}

// Hear gives the phonemes of frames, States()+Spectrum numbers each.
func (n *Net) Hear(features []float32) Heard {
	frames := len(features) / n.in()
	x := features
	for i, l := range n.layers {
		x = dot.Convolve(x, frames, l.In, l.Out, l.Width, l.Weights, l.Bias)
		if i < len(n.layers)-1 {
			dot.Rectify(x)
		}
	}
	heard := make(Heard, frames)
	for t := range heard {
		LogSoftmax(&heard[t], x[t*Count:])
	}
	return heard
}

// normal appends a frame of the encoder brought to mean 0 and variance 1.
func normal(out, frame []float32) []float32 {
	var sum, squares float64
	for _, v := range frame {
		sum += float64(v)
	}
	mean := sum / float64(len(frame))
	for _, v := range frame {
		squares += (float64(v) - mean) * (float64(v) - mean)
	}
	scale := 1 / math.Sqrt(squares/float64(len(frame))+1e-5)
	for _, v := range frame {
		out = append(out, float32((float64(v)-mean)*scale))
	}
	return out
}

// LogSoftmax gives the log-probabilities of the first Count numbers of x.
func LogSoftmax(out *[Count]float32, x []float32) {
	top := x[0]
	for _, v := range x[:Count] {
		top = max(top, v)
	}
	sum := 0.0
	for _, v := range x[:Count] {
		sum += math.Exp(float64(v - top))
	}
	all := top + float32(math.Log(sum))
	for i := range out {
		out[i] = x[i] - all
	}
}
