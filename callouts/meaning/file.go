package meaning

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// magic begins the file of a network.
const magic = "meaning3"

// Write gives the file of a network: magic; the belief as float64; words,
// classes and ways to mean them, each a count as uint32 and strings behind their length as uint16;
// the layers, a count and In, Out, Width, Apart and Adds of each as uint32. Then the vectors and
// for each output of each layer its bias and weights, every row as a scale as float32
// and int8 numbers over it. All is little-endian.
func Write(words []string, vectors []float32, classes, ways []string, layers []Layer, belief Belief) []byte {
	b := []byte(magic)
	for _, w := range belief {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(w))
	}
	u32 := func(v int) { b = binary.LittleEndian.AppendUint32(b, uint32(v)) }
	for _, list := range [][]string{words, classes, ways} {
		u32(len(list))
		for _, s := range list {
			b = binary.LittleEndian.AppendUint16(b, uint16(len(s)))
			b = append(b, s...)
		}
	}
	u32(len(layers))
	for _, l := range layers {
		u32(l.In)
		u32(l.Out)
		u32(l.Width)
		u32(l.Apart)
		adds := 0
		if l.Adds {
			adds = 1
		}
		u32(adds)
	}
	row := func(x []float32) {
		top := float32(0)
		for _, v := range x {
			top = max(top, v, -v)
		}
		scale := top / 127
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(scale))
		for _, v := range x {
			q := 0.0
			if scale > 0 {
				q = math.Round(float64(v / scale))
			}
			b = append(b, byte(int8(q)))
		}
	}
	wide := layers[0].In - Marks
	for i := range len(words) + 1 {
		row(vectors[i*wide : (i+1)*wide])
	}
	for _, l := range layers {
		size := l.In * l.Width
		for o := range l.Out {
			b = binary.LittleEndian.AppendUint32(b, math.Float32bits(l.Bias[o]))
			row(l.Weights[o*size : (o+1)*size])
		}
	}
	return b
}

// Load reads a network as Write writes it.
func Load(b []byte) (n *Net, err error) {
	r := reader{b: b}
	if string(r.take(len(magic))) != magic {
		return nil, errors.New("not a network of meanings")
	}
	var belief Belief
	for i := range belief {
		belief[i] = r.f64()
	}
	words := r.strings()
	classes, ways := r.strings(), r.strings()
	layers := make([]Layer, r.count(8))
	for i := range layers {
		l := &layers[i]
		l.In, l.Out, l.Width, l.Apart = r.count(4096), r.count(4096), r.count(63), r.count(63)
		l.Adds = r.count(1) == 1
	}
	if r.err != nil {
		return nil, r.err
	}
	if len(layers) == 0 || layers[0].In <= Marks {
		return nil, errors.New("the network has no layers that take words")
	}
	wide := layers[0].In - Marks
	vectors := make([]float32, (len(words)+1)*wide)
	for i := range len(words) + 1 {
		r.row(vectors[i*wide : (i+1)*wide])
	}
	for i := range layers {
		l := &layers[i]
		size := l.In * l.Width
		l.Weights, l.Bias = make([]float32, l.Out*size), make([]float32, l.Out)
		for o := range l.Out {
			l.Bias[o] = r.f32()
			r.row(l.Weights[o*size : (o+1)*size])
		}
	}
	if r.err != nil {
		return nil, r.err
	}
	return New(words, vectors, classes, ways, layers, belief)
}

// reader takes a file apart; after an error it gives zeros.
type reader struct {
	b   []byte
	err error
}

var errShort = errors.New("the network file ends too early")

func (r *reader) take(n int) []byte {
	if r.err != nil || len(r.b) < n {
		if r.err == nil {
			r.err = errShort
		}
		return make([]byte, n)
	}
	out := r.b[:n]
	r.b = r.b[n:]
	return out
}

func (r *reader) f64() float64 { return math.Float64frombits(binary.LittleEndian.Uint64(r.take(8))) }
func (r *reader) f32() float32 { return math.Float32frombits(binary.LittleEndian.Uint32(r.take(4))) }

func (r *reader) count(most int) int {
	v := int(binary.LittleEndian.Uint32(r.take(4)))
	if v > most {
		if r.err == nil {
			r.err = fmt.Errorf("the network file says %d where at most %d can be", v, most)
		}
		return 0
	}
	return v
}

func (r *reader) strings() []string {
	out := make([]string, r.count(1<<17))
	for i := range out {
		out[i] = string(r.take(int(binary.LittleEndian.Uint16(r.take(2)))))
		if r.err != nil {
			return nil
		}
	}
	return out
}

func (r *reader) row(x []float32) {
	scale := r.f32()
	for i, q := range r.take(len(x)) {
		x[i] = scale * float32(int8(q))
	}
}
