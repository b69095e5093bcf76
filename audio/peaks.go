package audio

// Peaks collects the extremes of a channel for drawing its waveform. It needs
// no length beforehand: when its buckets are full it halves their number and
// doubles their width.
type Peaks struct {
	width int // samples per bucket
	at    int // samples in the last bucket
	limit int
	total int
	mins  []float32
	maxs  []float32
}

// NewPeaks collects into at most buckets buckets (at least 2).
func NewPeaks(buckets int) *Peaks {
	return &Peaks{width: 64, limit: max(buckets, 2)}
}

// Add takes the next samples.
func (p *Peaks) Add(x []float32) {
	p.total += len(x)
	for len(x) > 0 {
		if len(p.mins) == 0 || p.at == p.width {
			p.open(x[0])
		}
		n := min(p.width-p.at, len(x))
		last := len(p.mins) - 1
		lo, hi := p.mins[last], p.maxs[last]
		for _, v := range x[:n] {
			lo, hi = min(lo, v), max(hi, v)
		}
		p.mins[last], p.maxs[last] = lo, hi
		p.at += n
		x = x[n:]
	}
}

// open makes room for one more bucket, which starts at sample v.
func (p *Peaks) open(v float32) {
	if len(p.mins) == p.limit {
		n := 0
		for i := 0; i < len(p.mins); i += 2 {
			j := min(i+1, len(p.mins)-1)
			p.mins[n] = min(p.mins[i], p.mins[j])
			p.maxs[n] = max(p.maxs[i], p.maxs[j])
			n++
		}
		half := p.limit%2 == 1 // an odd number leaves the last bucket half full
		p.mins, p.maxs = p.mins[:n], p.maxs[:n]
		p.width *= 2
		if half {
			p.at = p.width / 2
			return
		}
	}
	p.mins, p.maxs = append(p.mins, v), append(p.maxs, v)
	p.at = 0
}

// Extremes gives the least and greatest sample of each bucket, in order, and
// the samples a bucket spans; the last may span fewer. The slices are the
// collector's own: read them before the next Add.
func (p *Peaks) Extremes() (mins, maxs []float32, width int) {
	return p.mins, p.maxs, p.width
}

// Len is how many samples were taken.
func (p *Peaks) Len() int { return p.total }
