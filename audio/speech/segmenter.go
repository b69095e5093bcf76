package speech

import "sidetone/audio"

// Cutting decides where segments begin and end. All in seconds but the
// probabilities.
type Cutting struct {
	On, Off  float32 // speech begins at On or more, and may end below Off
	Pause    float64 // a pause this long ends a segment
	Shortest float64 // less speech than this is a click or a cough
	Lead     float64 // kept before the first sure window: first syllables are soft
	Tail     float64 // kept after the last
	Longest  float64 // a longer segment is cut at its best dip
}

// DefaultCutting suits callouts: they are short, and a recogniser hears a short
// call better with the talk before and after it, so only long pauses cut. A first
// syllable lost to the intercom's gate is made up for by a generous lead.
var DefaultCutting = Cutting{On: 0.5, Off: 0.35, Pause: 1.5, Shortest: 0.16, Lead: 0.2, Tail: 0.2, Longest: 12}

// Prober gives the probability of speech for the next Window samples.
type Prober interface {
	Probability(window []float32) (float32, error)
}

// Segmenter cuts one channel into segments as its samples come in.
type Segmenter struct {
	channel int
	prober  Prober
	cut     Cutting

	pending []float32 // less than a window
	kept    []float32 // samples from first on
	probs   []float32 // probability of each window of kept
	first   int       // number of samples before kept
	begin   int       // in kept windows: where speech began, -1 outside speech
	last    int       // in kept windows: one past the last window of speech
	voiced  int       // windows of speech since begin
	resumed bool      // the segment goes on from one that was cut
	total   int       // samples fed and those before; what is kept beyond is filling
	speech  float64
}

// NewSegmenter cuts channel with the probabilities of p.
func NewSegmenter(channel int, p Prober, cut Cutting) *Segmenter {
	return &Segmenter{channel: channel, prober: p, cut: cut, begin: -1}
}

// StartAt says, before anything is fed, which sample of the recording comes
// first; it is number 0 else.
func (s *Segmenter) StartAt(sample int) *Segmenter {
	s.first, s.total = sample, sample
	return s
}

// Feed takes the next samples and returns the segments that ended in them.
func (s *Segmenter) Feed(samples []float32) ([]audio.Segment, error) {
	s.total += len(samples)
	return s.feed(samples)
}

func (s *Segmenter) feed(samples []float32) ([]audio.Segment, error) {
	var done []audio.Segment
	s.pending = append(s.pending, samples...)
	for len(s.pending) >= Window {
		p, err := s.prober.Probability(s.pending[:Window])
		if err != nil {
			return done, err
		}
		s.kept = append(s.kept, s.pending[:Window]...)
		s.pending = s.pending[Window:]
		s.probs = append(s.probs, p)
		if seg, ok := s.advance(p); ok {
			done = append(done, seg)
		}
	}
	s.pending = append([]float32(nil), s.pending...)
	return done, nil
}

// Flush ends the recording and returns the segment under way, if any.
func (s *Segmenter) Flush() ([]audio.Segment, error) {
	var done []audio.Segment
	if n := len(s.pending); n > 0 {
		more, err := s.feed(make([]float32, Window-n))
		if err != nil {
			return nil, err
		}
		done = more
	}
	if s.begin >= 0 {
		if seg, ok := s.close(); ok {
			done = append(done, seg)
		}
	}
	return done, nil
}

// Speech is the seconds of the segments returned so far.
func (s *Segmenter) Speech() float64 { return s.speech }

func windows(seconds float64) int { return int(seconds/WindowSeconds + 0.5) }

func (s *Segmenter) advance(p float32) (audio.Segment, bool) {
	n := len(s.probs)
	switch {
	case s.begin < 0 && p >= s.cut.On:
		s.begin, s.last, s.voiced = n-1, n, 1
	case s.begin < 0:
		s.forget(n - windows(s.cut.Lead))
	case p >= s.cut.Off:
		s.last = n
		s.voiced++
	case n-s.last >= windows(s.cut.Pause):
		return s.close()
	}
	if s.begin >= 0 && n-s.begin >= windows(s.cut.Longest) {
		return s.split()
	}
	return audio.Segment{}, false
}

// close ends the segment at the last window of speech.
func (s *Segmenter) close() (audio.Segment, bool) {
	from := max(0, s.begin-windows(s.cut.Lead))
	to := min(s.last+windows(s.cut.Tail), len(s.probs))
	enough := s.voiced >= windows(s.cut.Shortest) || s.resumed && s.voiced > 0
	seg := s.take(from, to)
	s.begin, s.resumed = -1, false
	s.forget(to)
	if !enough || len(seg.Samples) == 0 {
		return audio.Segment{}, false
	}
	s.speech += seg.End() - seg.Start
	return seg, true
}

// split cuts a segment that is too long where speech is least likely in its
// second half, and goes on with the rest.
func (s *Segmenter) split() (audio.Segment, bool) {
	n := len(s.probs)
	if s.last < n { // in a pause: there is no better place
		return s.close()
	}
	at := n - 1
	for i := s.begin + (n-s.begin)/2; i < n; i++ {
		if s.dip(i) < s.dip(at) {
			at = i
		}
	}
	seg := s.take(max(0, s.begin-windows(s.cut.Lead)), at+1)
	s.speech += seg.End() - seg.Start
	s.forget(at + 1)
	s.begin, s.last, s.voiced, s.resumed = 0, len(s.probs), 0, true
	for _, p := range s.probs {
		if p >= s.cut.Off {
			s.voiced++
		}
	}
	return seg, len(seg.Samples) > 0
}

// dip is the mean probability around window i, which counts twice.
func (s *Segmenter) dip(i int) float32 {
	sum, n := s.probs[i], float32(1)
	for _, p := range s.probs[max(i-1, 0):min(i+2, len(s.probs))] {
		sum, n = sum+p, n+1
	}
	return sum / n
}

func (s *Segmenter) take(from, to int) audio.Segment {
	end := max(0, min(len(s.kept), s.total-s.first))
	a, b := min(from*Window, end), min(to*Window, end)
	return audio.Segment{
		Channel: s.channel,
		Start:   float64(s.first+a) / audio.Rate,
		Samples: append([]float32(nil), s.kept[a:b]...),
	}
}

// forget drops the first n windows kept.
func (s *Segmenter) forget(n int) {
	if n <= 0 {
		return
	}
	n = min(n, len(s.probs))
	a := min(n*Window, len(s.kept))
	s.kept = s.kept[:copy(s.kept, s.kept[a:])]
	s.probs = s.probs[:copy(s.probs, s.probs[n:])]
	s.first += a
}
