package train

import (
	"math"

	"sidetone/audio/recognise/phones"
)

// Frames are those of an encoder, each brought to mean 0 and variance 1, which is
// all the network sees of them, as the upper halves of float32 (bfloat16): two
// hundredths of the noise added when learning.
type Frames []uint16

// Pack packs frames of so many numbers each.
func Pack(states []float32, size int) Frames {
	out := make(Frames, 0, len(states))
	frame := make([]float32, 0, size)
	for ; len(states) >= size; states = states[size:] {
		frame = phones.Normal(frame[:0], states[:size])
		for _, v := range frame {
			bits := math.Float32bits(v)
			out = append(out, uint16((bits+0x7fff+bits>>16&1)>>16)) // to the nearest, ties to even
		}
	}
	return out
}

// Unpack appends the numbers of frames to out.
func (f Frames) Unpack(out []float32) []float32 {
	for _, v := range f {
		out = append(out, math.Float32frombits(uint32(v)<<16))
	}
	return out
}
