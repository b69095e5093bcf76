package kept

import (
	"errors"
	"io/fs"
	"sync"

	"sidetone/audio"
	"sidetone/audio/transcript"
)

// Shelf holds the pieces of one recogniser with its settings: a store and how the
// run went. A nil Shelf knows nothing and keeps nothing. It is safe for use by
// several goroutines.
type Shelf struct {
	store    *Store
	settings string
	fresh    bool

	mu    sync.Mutex
	tally Tally
}

// NewShelf keeps pieces in store. Settings and fresh are as in New.
func NewShelf(store *Store, settings string, fresh bool) *Shelf {
	return &Shelf{store: store, settings: settings, fresh: fresh}
}

// Piece names a segment when its sound is no longer at hand. Start and Length are
// seconds.
type Piece struct {
	Channel       int
	Start, Length float64
	key           Key
}

// Piece names a segment.
func (s *Shelf) Piece(seg audio.Segment) Piece {
	p := Piece{Channel: seg.Channel, Start: seg.Start, Length: float64(len(seg.Samples)) / audio.Rate}
	if s != nil {
		p.key = key(s.settings, seg.Samples)
	}
	return p
}

// Look gives what was understood of a piece, if it is kept and whole.
func (s *Shelf) Look(p Piece) (transcript.Utterance, bool) {
	if s == nil || s.fresh {
		return transcript.Utterance{}, false
	}
	words, err := s.store.Get(p.key)
	if err == nil {
		err = plausible(words, p.Length)
	}
	if err == nil {
		s.count(func(t *Tally) { t.Known++ })
		return utterance(p, words), true
	}
	if !errors.Is(err, fs.ErrNotExist) {
		s.count(func(t *Tally) { t.Damaged++ })
	}
	return transcript.Utterance{}, false
}

// Keep keeps what was understood of a piece, with times of the recording, and gives
// it as Look would. What keeps it from being kept is told by Tally.
func (s *Shelf) Keep(p Piece, words []transcript.Word) transcript.Utterance {
	words = relative(words, p.Start)
	if s != nil {
		trouble := plausible(words, p.Length)
		if trouble == nil {
			trouble = s.store.Put(p.key, words)
		}
		s.count(func(t *Tally) {
			t.Heard++
			if t.Trouble == nil {
				t.Trouble = trouble
			}
		})
	}
	return utterance(p, words)
}

func (s *Shelf) count(f func(*Tally)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	f(&s.tally)
}

// Tally tells how the run went so far.
func (s *Shelf) Tally() Tally {
	if s == nil {
		return Tally{}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.tally
}

// Close brings the store under its limit.
func (s *Shelf) Close() error {
	if s.Tally().Heard == 0 {
		return nil
	}
	return s.store.Trim()
}
