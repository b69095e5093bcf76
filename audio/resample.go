package audio

import "sidetone/audio/dot"

// resampler brings all channels of a stream to Rate. Output sample k is the
// input at time k/Rate, with no delay; n input samples give exactly
// ceil(n*Rate/rate) output samples however they are split into blocks.
type resampler struct {
	f    *filter
	in   int64       // input samples taken so far
	next int64       // index of the next output sample
	base int64       // index of the input sample at buf[c][0]
	buf  [][]float32 // input still needed, per channel
	out  [][]float32 // reused for every block
}

func newResampler(f *filter, channels int) *resampler {
	r := &resampler{f: f, base: int64(-(f.half - 1))}
	for range channels {
		// Silence before the recording, as far as the filter reaches back.
		r.buf = append(r.buf, make([]float32, f.half-1))
		r.out = append(r.out, nil)
	}
	return r
}

// push takes the next block, one slice per channel, and gives the output that
// is ready, valid until the next call.
func (r *resampler) push(block [][]float32) [][]float32 {
	for c := range r.buf {
		r.buf[c] = append(r.buf[c], block[c]...)
	}
	r.in += int64(len(block[0]))
	// Sample k reaches forward to input first(k)+2*half-1 = k*down/up+half.
	ready := r.in - int64(r.f.half)
	if ready <= 0 {
		return r.emit(r.next)
	}
	return r.emit(ceilDiv(ready*r.f.up, r.f.down))
}

// flush gives what is left once the input has ended.
func (r *resampler) flush() [][]float32 {
	for c := range r.buf {
		r.buf[c] = append(r.buf[c], make([]float32, r.f.half+1)...)
	}
	return r.emit(ceilDiv(r.in*r.f.up, r.f.down))
}

// emit computes output samples from r.next up to end.
func (r *resampler) emit(end int64) [][]float32 {
	n := int(max(end-r.next, 0))
	for c := range r.out {
		r.out[c] = resize(r.out[c], n)
	}
	halves(n, func(lo, hi int) {
		for c := range r.out {
			r.compute(r.out[c][lo:hi], r.buf[c], r.next+int64(lo))
		}
	})
	r.next += int64(n)

	// Drop what no later sample reaches back to.
	if drop := int(r.first(r.next) - r.base); drop > 0 {
		drop = min(drop, len(r.buf[0]))
		for c, b := range r.buf {
			r.buf[c] = b[:copy(b, b[drop:])]
		}
		r.base += int64(drop)
	}
	return r.out
}

// first is the index of the first input sample output sample k draws on.
func (r *resampler) first(k int64) int64 {
	return k*r.f.down/r.f.up - int64(r.f.half) + 1
}

// compute fills out with the samples from index k on.
func (r *resampler) compute(out, buf []float32, k int64) {
	if !r.f.exact {
		for i := range out {
			at := int(r.first(k+int64(i)) - r.base)
			out[i] = clip(r.f.between(buf[at:], (k+int64(i))*r.f.down%r.f.up))
		}
		return
	}
	// Samples a whole turn of up apart have the same taps, and lie down input
	// samples apart: they are taken four at a time.
	up, down := int(r.f.up), int(r.f.down)
	for turn := range min(up, len(out)) {
		at := int(r.first(k+int64(turn)) - r.base)
		taps := r.f.rows[(k+int64(turn))*r.f.down%r.f.up]
		i := turn
		for ; i+3*up < len(out); i += 4 * up {
			var four [4]float32
			dot.Four(&four, buf[at:], down, taps)
			out[i], out[i+up], out[i+2*up], out[i+3*up] = clip(four[0]), clip(four[1]), clip(four[2]), clip(four[3])
			at += 4 * down
		}
		for ; i < len(out); i += up {
			out[i] = clip(dot.Product(buf[at:], taps))
			at += down
		}
	}
}

// clip keeps the ripple of the filter from carrying a sample past full scale.
func clip(v float32) float32 {
	if v > 1 {
		return 1
	}
	if v < -1 {
		return -1
	}
	return v
}

func ceilDiv(a, b int64) int64 { return (a + b - 1) / b }

// resize gives a slice of length n, reusing s where it is large enough.
func resize(s []float32, n int) []float32 {
	if cap(s) < n {
		return make([]float32, n, n+n/8)
	}
	return s[:n]
}
