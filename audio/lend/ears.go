package lend

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"sync"

	"sidetone/audio"
	"sidetone/audio/hear"
	"sidetone/audio/recognise"
	"sidetone/audio/recognise/remote"
	"sidetone/audio/speech"
	"sidetone/audio/transcript"
)

// Ears hear the recording in a file, with one recogniser for all of them.
type Ears struct {
	Recogniser recognise.Recogniser
	Detectors  hear.Detectors
	Workers    int // segments recognised at once
}

// Hear gives the words of a recording of at most so many seconds, and its length.
//
// An upload of sidetone's own holds stretches of speech that were cut already, with
// silence between them. They are recognised as they are: the words are those the
// sender's own recogniser would have heard.
func (e *Ears) Hear(ctx context.Context, path string, most float64) (*transcript.Transcript, float64, error) {
	tape, err := audio.Load(ctx, path)
	if err != nil {
		return nil, 0, err
	}
	if tape.Duration() > most {
		return nil, 0, ErrTooLong
	}
	cut, seconds, err := pieces(ctx, tape, most)
	if err != nil {
		return nil, 0, err
	}
	if cut == nil {
		res, err := hear.ListenTo(ctx, tape, hear.Options{Recogniser: e.Recogniser, Detectors: e.Detectors, Workers: e.Workers, Cleaning: hear.DefaultCleaning})
		if err != nil {
			return nil, 0, err
		}
		return res.Transcript, res.Duration, nil
	}
	us, err := e.recognise(ctx, cut)
	return &transcript.Transcript{Utterances: us}, seconds, err
}

// ErrTooLong says that a recording is longer than is taken.
var ErrTooLong = errors.New("the sound is too long")

// longestPiece is what a sender's stretch of speech can be at most, in samples; the
// segmenter cuts earlier.
var longestPiece = int((speech.DefaultCutting.Longest + 2) * audio.Rate)

// apart is the silence between pieces, in samples: a little less than is sent, as a
// piece may end in samples that are none.
const apart = int(remote.Gap*audio.Rate) - audio.Rate/100

// pieces parts an upload at its silences, which are exact: nil when it is not made
// of pieces. Seconds is the length of the whole.
func pieces(ctx context.Context, tape *audio.Tape, most float64) (out []audio.Segment, seconds float64, err error) {
	src, err := tape.Open(ctx, audio.Wanted{})
	if err != nil {
		return nil, 0, err
	}
	defer src.Close()
	if i := tape.Parts[0].Info; i.Channels != 1 || i.SampleRate != audio.Rate {
		return nil, 0, nil
	}
	var now []float32
	begin, read, silent := 0, 0, 0
	end := func() {
		if n := len(now) - silent; n > 0 {
			out = append(out, audio.Segment{Start: float64(begin) / audio.Rate, Samples: slices.Clone(now[:n])})
		}
		now = now[:0]
	}
	for {
		block, err := src.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, 0, err
		}
		for _, v := range block[0] {
			if v != 0 && len(now) == 0 {
				begin, silent = read, 0
			}
			read++
			if v == 0 && len(now) == 0 {
				continue
			}
			now = append(now, v)
			if v != 0 {
				silent = 0
				continue
			}
			if silent++; silent >= apart {
				end()
			}
		}
		if len(now)-silent > longestPiece {
			return nil, 0, nil
		}
		if float64(read) > most*audio.Rate {
			return nil, 0, ErrTooLong
		}
	}
	end()
	return out, float64(read) / audio.Rate, nil
}

// recognise hears pieces side by side; those nobody speaks in are left out.
func (e *Ears) recognise(ctx context.Context, cut []audio.Segment) ([]transcript.Utterance, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	heard := make([][]transcript.Utterance, len(cut))
	jobs := make(chan int)
	var wg sync.WaitGroup
	for range max(1, e.Workers) {
		wg.Go(func() {
			for i := range jobs {
				u, err := e.one(ctx, cut[i])
				if err != nil {
					cancel(err)
				}
				heard[i] = u
			}
		})
	}
	for i := range cut {
		if ctx.Err() != nil {
			break
		}
		jobs <- i
	}
	close(jobs)
	wg.Wait()
	if ctx.Err() != nil {
		return nil, context.Cause(ctx)
	}
	return slices.Concat(heard...), nil
}

func (e *Ears) one(ctx context.Context, seg audio.Segment) ([]transcript.Utterance, error) {
	if ctx.Err() != nil {
		return nil, nil
	}
	spoken, err := e.spoken(seg)
	if err != nil || !spoken {
		return nil, err
	}
	u, err := e.Recogniser.Recognise(ctx, seg)
	if err != nil || len(u.Words) == 0 {
		return nil, err
	}
	return u.Split(pause), nil
}

// pause parts two utterances, in seconds, as it does in hear.
const pause = 0.4

// spoken tells whether there is speech in a piece: others send pieces of noise.
func (e *Ears) spoken(seg audio.Segment) (bool, error) {
	d, err := e.Detectors()
	if err != nil {
		return false, fmt.Errorf("looking for speech: %w", err)
	}
	defer d.Close()
	window := make([]float32, speech.Window)
	for at := 0; at < len(seg.Samples); at += speech.Window {
		clear(window[copy(window, seg.Samples[at:]):])
		p, err := d.Probability(window)
		if err != nil {
			return false, fmt.Errorf("looking for speech: %w", err)
		}
		if p >= speech.DefaultCutting.Off {
			return true, nil
		}
	}
	return false, nil
}
