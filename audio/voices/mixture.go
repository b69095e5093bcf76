package voices

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// mixture is a Gaussian mixture with diagonal covariances.
type mixture struct {
	log      []float64       // of each weight, with all that does not hang on x
	mean     [][dims]float64 //
	variance [][dims]float64 //
	pitch    float64         // the usual logarithm of it
}

const (
	mostGaussians = 16
	framesEach    = 60 // at least so many to a Gaussian
	rounds        = 12
	leastVariance = 0.05  // of that of everything
	mostFitted    = 40000 // frames the mixture is fitted to
	seed          = 1
)

// fit fits a mixture to frames by expectation and maximisation, to an even choice of
// them when there are very many.
func fit(frames []feature) *mixture {
	rng := rand.New(rand.NewPCG(seed, 0))
	step := 1 + len(frames)/mostFitted
	var xs [][dims]float64
	for i := 0; i < len(frames); i += step {
		xs = append(xs, frames[i].x)
	}
	all := float64(len(xs))
	var mean, variance [dims]float64
	for _, x := range xs {
		for d, v := range x {
			mean[d] += v
			variance[d] += v * v
		}
	}
	for d := range mean {
		mean[d] /= all
		variance[d] = max(variance[d]/all-mean[d]*mean[d], 1e-6)
	}
	n := max(1, min(mostGaussians, len(xs)/framesEach))
	m := &mixture{make([]float64, n), make([][dims]float64, n), make([][dims]float64, n), usualPitch(frames)}
	// Means to begin with: far apart (D. Arthur and S. Vassilvitskii, "k-means++: The
	// Advantages of Careful Seeding", SODA 2007).
	far := make([]float64, len(xs))
	for i := range far {
		far[i] = 1
	}
	share := make([]float64, n)
	for k := range m.mean {
		at := draw(rng, far)
		m.mean[k], m.variance[k], share[k] = xs[at], variance, 1/float64(n)
		for i, x := range xs {
			d := 0.0
			for j, v := range x {
				d += (v - m.mean[k][j]) * (v - m.mean[k][j]) / variance[j]
			}
			if k == 0 || d < far[i] {
				far[i] = d
			}
		}
	}
	m.prepare(share)
	gamma := make([]float64, n)
	for range rounds {
		zeroth := make([]float64, n)
		first, second := make([][dims]float64, n), make([][dims]float64, n)
		for i := range xs {
			m.posteriors(&xs[i], gamma)
			for k, g := range gamma {
				if g < 1e-6 {
					continue
				}
				zeroth[k] += g
				for d, v := range xs[i] {
					first[k][d] += g * v
					second[k][d] += g * v * v
				}
			}
		}
		for k := range m.mean {
			if zeroth[k] < 1 {
				share[k] = 1e-6
				continue
			}
			share[k] = zeroth[k] / all
			for d := range m.mean[k] {
				mu := first[k][d] / zeroth[k]
				m.mean[k][d] = mu
				m.variance[k][d] = max(second[k][d]/zeroth[k]-mu*mu, leastVariance*variance[d])
			}
		}
		m.prepare(share)
	}
	return m
}

func draw(rng *rand.Rand, weights []float64) int {
	at := rng.Float64() * floats.Sum(weights)
	for i, w := range weights {
		if at -= w; at <= 0 {
			return i
		}
	}
	return len(weights) - 1
}

func (m *mixture) prepare(share []float64) {
	for k := range m.log {
		m.log[k] = math.Log(share[k])
		for _, v := range m.variance[k] {
			m.log[k] -= 0.5 * math.Log(v)
		}
	}
}

// posteriors says which Gaussian a frame belongs to.
func (m *mixture) posteriors(x *[dims]float64, gamma []float64) {
	for k := range m.log {
		l := m.log[k]
		mean, variance := &m.mean[k], &m.variance[k]
		for d, v := range x {
			e := v - mean[d]
			l -= 0.5 * e * e / variance[d]
		}
		gamma[k] = l
	}
	whole := floats.LogSumExp(gamma)
	for k, l := range gamma {
		gamma[k] = math.Exp(l - whole)
	}
}

// sums are what of a stretch of speech tells the voice: how many frames belong to
// each Gaussian, and how far they lie off its mean, in standard deviations.
type sums struct {
	n   []float64
	off [][dims]float64
	// The same of the pitch, which is one Gaussian.
	pitches, pitchOff float64
}

// What is believed of pitch. Octaves are mistaken, so that no frame says much.
const (
	pitchSpread    = 0.2 // of the logarithm, from frame to frame of a voice
	pitchRelevance = 0.6 // voices lie 0.26 apart
	pitchPart      = 0.2 // of the weight of a frame
	pitchMost      = 2.0 // standard deviations
)

func usualPitch(fs []feature) float64 {
	var all []float64
	for _, f := range fs {
		if !math.IsNaN(f.pitch) {
			all = append(all, f.pitch)
		}
	}
	if len(all) == 0 {
		return 0
	}
	slices.Sort(all)
	return all[len(all)/2]
}

func (m *mixture) none() sums {
	return sums{n: make([]float64, len(m.log)), off: make([][dims]float64, len(m.log))}
}

// sums counts each frame as part of one.
func (m *mixture) sums(fs []feature, part float64) sums {
	s := m.none()
	gamma := make([]float64, len(m.log))
	for i := range fs {
		x := &fs[i].x
		if p := fs[i].pitch; !math.IsNaN(p) {
			s.pitches += part * pitchPart
			s.pitchOff += part * pitchPart * max(-pitchMost, min(pitchMost, (p-m.pitch)/pitchSpread))
		}
		m.posteriors(x, gamma)
		for k, g := range gamma {
			if g < 1e-4 {
				continue
			}
			g *= part
			s.n[k] += g
			for d, v := range x {
				s.off[k][d] += g * (v - m.mean[k][d]) / math.Sqrt(m.variance[k][d])
			}
		}
	}
	return s
}

func (s *sums) add(o sums, weight float64) {
	s.pitches += weight * o.pitches
	s.pitchOff += weight * o.pitchOff
	for k := range s.n {
		s.n[k] += weight * o.n[k]
		for d := range s.off[k] {
			s.off[k][d] += weight * o.off[k][d]
		}
	}
}

func (s sums) frames() float64 { return floats.Sum(s.n) }

// evidence is the logarithm of how likely the frames of one voice are, against the
// mixture itself, its offsets integrated out: in each dimension one that all
// Gaussians share, normal about 0 with a variance of 1/shared, and one of each
// Gaussian about that, with a variance of 1/relevance.
func (s sums) evidence(o sums, relevance, shared float64) float64 {
	sum, precision := 0.0, 0.0
	var pull [dims]float64
	for k, n := range s.n {
		n += o.n[k]
		if n == 0 {
			continue
		}
		for d, f := range s.off[k] {
			f += o.off[k][d]
			sum += f * f / (n + relevance)
			pull[d] += f * relevance / (n + relevance)
		}
		sum -= dims * math.Log1p(n/relevance)
		precision += n * relevance / (n + relevance)
	}
	for _, b := range pull {
		sum += b * b / (precision + shared)
	}
	sum -= dims * math.Log1p(precision/shared)
	n, f := s.pitches+o.pitches, s.pitchOff+o.pitchOff
	sum += f*f/(n+pitchRelevance) - math.Log1p(n/pitchRelevance)
	return sum / 2
}
