package remote

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"sidetone/audio"
	"sidetone/audio/recognise/kept"
	"sidetone/audio/transcript"
)

// Gap is the silence between two pieces of an upload, in seconds: sentences apart for
// any recogniser.
const Gap = 1.0

const gapSamples = int(Gap * audio.Rate)

// piece is a stretch of speech that was put aside.
type piece struct {
	kept.Piece
	at      int64 // in the spool, samples
	samples int
}

func byTime(a, b piece) int {
	return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(a.Channel, b.Channel))
}

// pack is one upload.
type pack struct {
	pieces  []piece
	begins  []int // sample of the upload each piece begins at
	samples int
}

func newPack(pieces []piece) pack {
	p := pack{pieces: pieces}
	for _, x := range pieces {
		if p.samples > 0 {
			p.samples += gapSamples
		}
		p.begins = append(p.begins, p.samples)
		p.samples += x.samples
	}
	return p
}

func (p pack) seconds() float64 { return float64(p.samples) / audio.Rate }

// wavBytes is how large a pack is as WAV. FLAC is half of that, for speech; of noise
// its frames may be larger by a hair.
func (p pack) wavBytes() int { return 44 + 2*p.samples }

// pack puts the pieces into uploads, in their order. The first holds one piece: it
// shows what the recogniser gives.
func (r *Recogniser) pack() []pack {
	packs := []pack{newPack(r.pieces[:1])}
	from := 1
	for from < len(r.pieces) {
		to := from + 1
		for to < len(r.pieces) && newPack(r.pieces[from:to+1]).wavBytes() <= r.opt.MaxBytes {
			to++
		}
		packs = append(packs, newPack(r.pieces[from:to]))
		from = to
	}
	return packs
}

func (r *Recogniser) plan(packs []pack) Plan {
	u := r.opt.Endpoint
	p := Plan{Host: u.Host, Model: r.opt.Model, Encrypted: u.Scheme == "https", Loopback: Loopback(u), Stretches: len(r.pieces),
		Uploads: len(packs), MaxBytes: r.opt.MaxBytes, AtOnce: min(r.opt.AtOnce, max(1, len(packs)-1)), Known: r.known}
	for _, x := range r.pieces {
		p.Seconds += x.Length
	}
	for _, x := range packs {
		p.Bytes += x.wavBytes()
	}
	return p
}

const (
	// outside is how far outside a piece, and so in the silence around it, a
	// recogniser may put a word of it, in seconds.
	outside = Gap/2 + 0.25
	// after is the same behind the last piece: recognisers fill a short sound up.
	after = 2.0
	// fastest is how many words nobody says in a second.
	fastest = 9
	// runsBack is how far a word may begin before the one before it, in seconds.
	runsBack = 0.5
)

// place gives each piece its words, with times of the recording. The error wraps
// transcript.ErrNoTimes or transcript.ErrWrongTimes when they cannot be told apart.
func (p pack) place(answer transcript.Verbose) ([][]transcript.Word, error) {
	us, err := answer.Utterances()
	if err != nil {
		return nil, err
	}
	words := make([][]transcript.Word, len(p.pieces))
	last, all, instant := 0.0, 0, 0
	for _, u := range us {
		if u.Words[0].Estimated {
			u.Words = p.respread(u)
		}
		for _, w := range u.Words {
			i := p.pieceAt((w.Start + w.End) / 2)
			if i < 0 || w.Start < last-runsBack {
				return nil, transcript.ErrWrongTimes
			}
			last = max(last, w.Start)
			all++
			if w.End <= w.Start {
				instant++
			}
			words[i] = append(words[i], p.within(i, w))
		}
	}
	if instant > 2 && 2*instant > all {
		return nil, transcript.ErrWrongTimes // words take time to say
	}
	for i, x := range p.pieces {
		if float64(len(words[i])) > fastest*(x.Length+1) {
			return nil, transcript.ErrWrongTimes
		}
	}
	return words, nil
}

// begin and end of a piece are seconds of the upload.
func (p pack) begin(i int) float64 { return float64(p.begins[i]) / audio.Rate }
func (p pack) end(i int) float64   { return p.begin(i) + p.pieces[i].Length }

// pieceAt is the piece a second of the upload belongs to, -1 for none.
func (p pack) pieceAt(second float64) int {
	i, found := slices.BinarySearch(p.begins, int(math.Round(second*audio.Rate)))
	if !found {
		i--
	}
	best, away := -1, outside
	for _, k := range []int{i, i + 1} {
		if k < 0 || k >= len(p.pieces) {
			continue
		}
		d := max(p.begin(k)-second, second-p.end(k), 0)
		if k == len(p.pieces)-1 && second > p.end(k) {
			d = max(0, d-after+outside)
		}
		if d <= away {
			best, away = k, d-1e-9
		}
	}
	return best
}

// within puts a word of piece i on the clock of the recording, and into the piece.
func (p pack) within(i int, w transcript.Word) transcript.Word {
	x := p.pieces[i]
	into := func(second float64) float64 { return x.Start + min(max(second-p.begin(i), 0), x.Length) }
	w.Start, w.End = into(w.Start), into(w.End)
	return w
}

// respread lays words of which only a stretch of the upload is known over the pieces
// in it, and not into the silence between.
func (p pack) respread(u transcript.Utterance) []transcript.Word {
	type stretch struct{ from, to float64 }
	var parts []stretch
	total := 0.0
	for i := range p.pieces {
		from, to := max(u.Start, p.begin(i)), min(u.End, p.end(i))
		if to > from {
			parts, total = append(parts, stretch{from, to}), total+to-from
		}
	}
	if len(parts) == 0 {
		return u.Words
	}
	upload := func(t float64) float64 { // the second of the upload after so much speech
		for _, s := range parts {
			if d := s.to - s.from; t > d {
				t -= d
				continue
			}
			return s.from + t
		}
		return parts[len(parts)-1].to
	}
	words := slices.Clone(u.Words)
	for i, w := range transcript.Spread(transcript.Join(words), 0, total) {
		words[i].Start, words[i].End = upload(w.Start+1e-6), upload(w.End-1e-6)
		words[i].Estimated = true
	}
	return words
}

// somewhere gives the one piece of a pack the words of an answer, laid over all of it.
func (p pack) somewhere(answer transcript.Verbose) [][]transcript.Word {
	text := answer.Text
	if strings.TrimSpace(text) == "" {
		for _, s := range answer.Segments {
			text += " " + s.Text
		}
	}
	x := p.pieces[0]
	words := transcript.Spread(text, x.Start, x.Start+x.Length)
	for i := range words {
		words[i].Estimated = true
	}
	return [][]transcript.Word{words}
}
