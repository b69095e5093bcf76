package train

import "math"

// Frames are what the network takes (phones.Features), end to end, as the upper
// halves of float32 (bfloat16): two hundredths of the noise added when learning.
type Frames []uint16

// Pack packs frames.
func Pack(features []float32) Frames {
	out := make(Frames, len(features))
	for i, v := range features {
		bits := math.Float32bits(v)
		out[i] = uint16((bits + 0x7fff + bits>>16&1) >> 16) // to the nearest, ties to even
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
