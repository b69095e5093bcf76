package hear

import (
	"context"
	"fmt"
	"sync"

	"sidetone/audio"
	"sidetone/audio/transcript"
	"sidetone/audio/voices"
)

// Voice is somebody and where that voice is heard: in a clip of its own, or from one
// second of the recording to another.
type Voice struct {
	Name     string
	Clip     string // a file; "" for a stretch of the recording
	From, To float64
}

// sounds collect what the voices are told by, as segments go to be recognised.
type sounds struct {
	mu  sync.Mutex
	all []voices.Sound
}

func (s *sounds) take(seg audio.Segment) {
	sound := voices.Listen(seg)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.all = append(s.all, sound)
}

// Recognise collects without understanding.
func (s *sounds) Recognise(_ context.Context, seg audio.Segment) (transcript.Utterance, error) {
	s.take(seg)
	return transcript.Utterance{}, nil
}

func (s *sounds) Close() error { return nil }

// teach listens to the clips.
func teach(ctx context.Context, opt Options) (taught []voices.Taught, err error) {
	clean := opt.Cleaning
	clean.Reduce = 0 // see unreduced
	for _, v := range opt.Voices {
		t := voices.Taught{Name: v.Name, From: v.From, To: v.To}
		if v.Clip != "" {
			heard := &sounds{}
			if _, err := Listen(ctx, v.Clip, Options{Recogniser: heard, Detectors: opt.Detectors, Cutting: opt.Cutting, Cleaning: clean}); err != nil {
				return nil, fmt.Errorf("the voice of %s: %w", v.Name, err)
			}
			t.Clip = heard.all
			if t.Clip == nil {
				t.Clip = []voices.Sound{} // no speech in it
			}
		}
		taught = append(taught, t)
	}
	return taught, nil
}
