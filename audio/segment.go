package audio

// Segment is one stretch of speech on one channel: 16 kHz float32 PCM in
// [-1,1]. Start is the second of the recording its first sample belongs to;
// Channel counts from 0 in the order of the file.
type Segment struct {
	Channel int
	Start   float64
	Samples []float32
}

// End is the second of the recording where the segment ends.
func (s Segment) End() float64 {
	return s.Start + float64(len(s.Samples))/Rate
}
