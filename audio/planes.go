package audio

import (
	"encoding/binary"
	"math"
)

// planesInt16 spreads interleaved little-endian 16-bit samples over one slice
// per channel, full scale being 1.
func planesInt16(dst [][]float32, src []byte) {
	n := len(dst)
	halves(len(dst[0]), func(lo, hi int) {
		for c := range dst {
			out := dst[c][lo:hi]
			at := 2 * (lo*n + c)
			for i := range out {
				out[i] = float32(int16(binary.LittleEndian.Uint16(src[at:]))) * (1.0 / (1 << 15))
				at += 2 * n
			}
		}
	})
}

// planesFloat32 does the same for little-endian 32-bit floats, and counts the
// samples that had to be changed: those that are no number become 0, those
// beyond full scale are clipped to it.
func planesFloat32(dst [][]float32, src []byte) (broken, clipped int) {
	n := len(dst)
	for c := range dst {
		out := dst[c]
		at := 4 * c
		for i := range out {
			v := math.Float32frombits(binary.LittleEndian.Uint32(src[at:]))
			switch {
			case v >= -1 && v <= 1:
			case v != v:
				v = 0
				broken++
			default:
				v = min(max(v, -1), 1)
				clipped++
			}
			out[i] = v
			at += 4 * n
		}
	}
	return broken, clipped
}

// planesInt spreads interleaved integers, full scale being 1/scale.
func planesInt(dst [][]float32, src []int, zero int, scale float32) {
	n := len(dst)
	for c := range dst {
		out := dst[c]
		at := c
		for i := range out {
			out[i] = float32(src[at]-zero) * scale
			at += n
		}
	}
}
