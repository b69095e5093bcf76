package kept

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"math"
	"sync"

	"sidetone/audio"
	"sidetone/audio/recognise"
	"sidetone/audio/transcript"
)

// Recogniser asks another recogniser only for what is not kept.
type Recogniser struct {
	*Shelf
	open func() (recognise.Recogniser, error)

	once    sync.Once
	inner   recognise.Recogniser
	openErr error
}

// Tally counts the segments of a run.
type Tally struct {
	Known   int   // were kept
	Heard   int   // had to be listened to
	Damaged int   // were kept but spoiled
	Trouble error // the first that kept a piece from being kept
}

// New makes a recogniser that keeps its pieces in store. Settings is everything
// but the sound that decides what is understood: the recogniser, its model, what
// it is told to expect. It is opened when first needed, and not at all when all
// is known. With fresh, nothing kept is used, and what is heard takes its place.
func New(store *Store, settings string, fresh bool, open func() (recognise.Recogniser, error)) *Recogniser {
	return &Recogniser{Shelf: NewShelf(store, settings, fresh), open: open}
}

// Recognise implements recognise.Recogniser.
func (r *Recogniser) Recognise(ctx context.Context, seg audio.Segment) (transcript.Utterance, error) {
	p := r.Piece(seg)
	if u, ok := r.Look(p); ok {
		return u, nil
	}
	r.once.Do(func() {
		r.inner, r.openErr = r.open()
		r.open = nil // and what it was opened with
	})
	if r.openErr != nil {
		return transcript.Utterance{}, r.openErr
	}
	u, err := r.inner.Recognise(ctx, seg)
	if err != nil {
		return u, err
	}
	return r.Keep(p, u.Words), nil
}

// Close closes the other recogniser, if it was opened, and brings the store under
// its limit.
func (r *Recogniser) Close() error {
	err := r.Shelf.Close()
	if r.inner != nil {
		err = errors.Join(err, r.inner.Close())
	}
	return err
}

func key(settings string, samples []float32) Key {
	h := sha256.New()
	var n [8]byte
	binary.LittleEndian.PutUint64(n[:], uint64(len(settings)))
	h.Write(n[:])
	h.Write([]byte(settings))
	b := make([]byte, 0, 4*len(samples))
	for _, v := range samples {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(v))
	}
	h.Write(b)
	return Key(h.Sum(nil))
}

// relative puts times on the segment's own clock. A segment that is known and one
// that is heard come out the same: both have been through this rounding.
func relative(words []transcript.Word, start float64) []transcript.Word {
	out := make([]transcript.Word, len(words))
	for i, w := range words {
		w.Start, w.End = micro(w.Start-start), micro(w.End-start)
		out[i] = w
	}
	return out
}

func micro(seconds float64) float64 { return math.Round(seconds*1e6) / 1e6 }

// utterance is what was understood of a piece.
func utterance(p Piece, words []transcript.Word) transcript.Utterance {
	u := transcript.Utterance{Start: p.Start, End: p.Start + p.Length, Channel: p.Channel}
	for _, w := range words {
		w.Start, w.End = w.Start+p.Start, w.End+p.Start
		u.Words = append(u.Words, w)
	}
	u.Text = transcript.Join(words)
	return u
}

// plausible refuses words no recogniser can have given for so many seconds.
func plausible(words []transcript.Word, length float64) error {
	const slack = 1 // s: recognisers fill short segments up
	for _, w := range words {
		if !(w.Start >= -slack && w.End >= w.Start && w.End <= length+slack && w.Confidence >= 0 && w.Confidence <= 1) {
			return ErrDamaged
		}
	}
	return nil
}
