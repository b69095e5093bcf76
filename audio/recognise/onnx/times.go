package onnx

import (
	"math"
	"sort"
	"strings"

	"sidetone/audio"
	"sidetone/audio/transcript"
)

// The model gives words without times. Speech of even pace is assumed: words
// are laid over the sounding parts of the segment in proportion to their
// length, and no word begins in a pause.

const (
	frame     = audio.Rate / 100 // 10 ms
	tolerance = 1e-3             // frames of sound
)

// setTimes fills Start and End of the words of a segment, in seconds of the recording.
func setTimes(words []transcript.Word, seg audio.Segment) {
	if len(words) == 0 {
		return
	}
	sounding := soundingMass(seg.Samples)
	total := sounding[len(sounding)-1]
	weight := 0.0
	for _, w := range words {
		weight += length(w.Text)
	}
	done, end := 0.0, seg.Start
	for i := range words {
		from := done / weight * total
		done += length(words[i].Text)
		to := done / weight * total
		// Both are whole frames: a boundary within one is not in two words, and
		// the last frame is not all in the segment.
		words[i].Start = min(max(seg.Start+after(sounding, from), end), seg.End())
		words[i].End = min(max(seg.Start+before(sounding, to), words[i].Start), seg.End())
		end = words[i].End
	}
}

// length is about how long a word takes to say: its letters, figures counted
// as the words they are spoken as.
func length(text string) float64 {
	n := 1.5
	for _, c := range text {
		switch {
		case c >= '0' && c <= '9':
			n += 4
		case strings.ContainsRune(".,?!-'\"", c):
		default:
			n++
		}
	}
	return n
}

// soundingMass[i] is how many of the first i frames sound: louder than a tenth
// of the loud frames of the segment, or half way to them from the quiet ones.
func soundingMass(samples []float32) []float64 {
	n := max(1, (len(samples)+frame-1)/frame)
	level := make([]float64, n)
	for i := range level {
		e := 0.0
		part := samples[min(i*frame, len(samples)):min((i+1)*frame, len(samples))]
		for _, v := range part {
			e += float64(v) * float64(v)
		}
		level[i] = 10 * math.Log10(e/float64(max(1, len(part)))+1e-10)
	}
	sorted := append([]float64(nil), level...)
	sort.Float64s(sorted)
	quiet, loud := sorted[n/20], sorted[n-1-n/10]
	bar := math.Max(quiet+0.3*(loud-quiet), loud-25)
	mass := make([]float64, n+1)
	for i, l := range level {
		mass[i+1] = mass[i] + 1e-7 // so that the mass never stands still, nor adds up to tolerance
		if l >= bar {
			mass[i+1]++
		}
	}
	return mass
}

// after is the second where the mass passes m: the beginning of sound.
func after(mass []float64, m float64) float64 {
	i := sort.Search(len(mass)-1, func(i int) bool { return mass[i+1] > m+tolerance })
	return float64(min(i, len(mass)-2)) * frame / audio.Rate
}

// before is the second where the mass has reached m: the end of sound.
func before(mass []float64, m float64) float64 {
	i := sort.SearchFloat64s(mass, m-tolerance)
	return float64(min(i, len(mass)-1)) * frame / audio.Rate
}
