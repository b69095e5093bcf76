// Package hear listens to a whole recording: it reads it, finds the speech,
// gives each stretch of it to a recogniser and puts the words together.
// Memory does not grow with the silence, only with the words.
package hear

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"sync"
	"time"

	"sidetone/audio"
	"sidetone/audio/recognise"
	"sidetone/audio/speech"
	"sidetone/audio/transcript"
)

// Detectors makes the speech detector of each channel; it closes them itself.
type Detectors func() (Detector, error)

// Detector tells speech from the rest, window by window.
type Detector interface {
	speech.Prober
	Close() error
}

// Options say how to listen.
type Options struct {
	Recogniser recognise.Recogniser
	Detectors  Detectors
	Channels   []int            // channels to listen to, from 0; none: found out
	Speakers   map[int]string   // who sits on a channel
	Workers    int              // segments recognised at once; 0 is 1
	Cutting    speech.Cutting   // zero: speech.DefaultCutting
	Progress   func(p Progress) // told now and then, nil for quiet
}

// Progress is how far listening has come.
type Progress struct {
	Position float64 // seconds of the recording read
	Duration float64 // of the recording, 0 when unknown
	Speech   float64 // seconds of speech found
	Elapsed  time.Duration
	Stage    string // "looking at the channels", "listening"
}

// Result is what was heard.
type Result struct {
	Info       audio.Info
	Layout     audio.Layout
	Transcript *transcript.Transcript
	Duration   float64 // seconds read
	Speech     float64 // seconds of speech
	Peaks      *audio.Peaks
	Warnings   []string
}

// peakBuckets is enough to draw a maneuver of minutes out of a lesson of hours.
const peakBuckets = 20000

// Listen hears the recording at path from start to end.
func Listen(ctx context.Context, path string, opt Options) (*Result, error) {
	began := time.Now()
	tell := opt.Progress
	if tell == nil {
		tell = func(Progress) {}
	}
	src, err := audio.Open(ctx, path)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	res := &Result{Info: src.Info(), Peaks: audio.NewPeaks(peakBuckets), Transcript: &transcript.Transcript{}}
	if res.Layout, err = layout(ctx, path, res.Info, opt, tell, began); err != nil {
		return nil, err
	}
	ears, err := newEars(res.Layout.Use, opt)
	if err != nil {
		return nil, err
	}
	defer ears.close()

	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	crew := hire(ctx, cancel, opt)
	err = ears.follow(ctx, src, crew, res, func(position, speech float64) {
		tell(Progress{position, res.Info.Duration, speech, time.Since(began), "listening"})
	})
	if err != nil {
		cancel(err) // the work under way is for nothing
	}
	utterances := crew.finish()
	if cause := context.Cause(ctx); cause != nil {
		return nil, cause
	}
	slices.SortFunc(utterances, func(a, b transcript.Utterance) int {
		return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(a.Channel, b.Channel))
	})
	res.Transcript.Utterances = utterances
	res.Warnings = src.Warnings()
	return res, nil
}

func layout(ctx context.Context, path string, info audio.Info, opt Options, tell func(Progress), began time.Time) (audio.Layout, error) {
	if len(opt.Channels) == 0 {
		if info.Channels > 1 {
			tell(Progress{Duration: info.Duration, Elapsed: time.Since(began), Stage: "looking at the channels"})
		}
		return audio.DetectLayout(ctx, path)
	}
	for _, c := range opt.Channels {
		if c < 0 || c >= info.Channels {
			return audio.Layout{}, fmt.Errorf("%s has %d channel(s); there is no channel %d", path, info.Channels, c+1)
		}
	}
	return audio.Layout{Use: opt.Channels, Note: "Channels as you asked."}, nil
}

// ears are the channels listened to.
type ears struct {
	channels   []int
	segmenters []*speech.Segmenter
	detectors  []Detector
	mix        []float32
}

func newEars(channels []int, opt Options) (*ears, error) {
	cut := opt.Cutting
	if cut == (speech.Cutting{}) {
		cut = speech.DefaultCutting
	}
	e := &ears{channels: channels}
	for _, c := range channels {
		d, err := opt.Detectors()
		if err != nil {
			e.close()
			return nil, err
		}
		e.detectors = append(e.detectors, d)
		e.segmenters = append(e.segmenters, speech.NewSegmenter(c, d, cut))
	}
	return e, nil
}

func (e *ears) close() {
	for _, d := range e.detectors {
		_ = d.Close()
	}
}

// follow reads the recording to its end and hands on each segment of speech.
func (e *ears) follow(ctx context.Context, src *audio.Source, to *crew, res *Result, tell func(position, speech float64)) error {
	for {
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
		block, err := src.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		for i, c := range e.channels {
			segments, err := e.segmenters[i].Feed(block[c])
			if err != nil {
				return err
			}
			if err := to.take(ctx, segments); err != nil {
				return err
			}
		}
		res.Peaks.Add(e.loudest(block))
		res.Duration = src.Elapsed()
		tell(res.Duration, e.speech())
	}
	for _, s := range e.segmenters {
		segments, err := s.Flush()
		if err != nil {
			return err
		}
		if err := to.take(ctx, segments); err != nil {
			return err
		}
	}
	res.Speech = e.speech()
	tell(res.Duration, res.Speech)
	return nil
}

func (e *ears) speech() float64 {
	total := 0.0
	for _, s := range e.segmenters {
		total += s.Speech()
	}
	return total
}

// loudest is, sample by sample, the channel that is loudest: what the waveform shows.
func (e *ears) loudest(block [][]float32) []float32 {
	if len(e.channels) == 1 {
		return block[e.channels[0]]
	}
	e.mix = append(e.mix[:0], block[e.channels[0]]...)
	for _, c := range e.channels[1:] {
		for i, v := range block[c] {
			if v*v > e.mix[i]*e.mix[i] {
				e.mix[i] = v
			}
		}
	}
	return e.mix
}

// crew recognises segments side by side.
type crew struct {
	jobs chan audio.Segment
	wg   sync.WaitGroup
	mu   sync.Mutex
	done []transcript.Utterance
}

func hire(ctx context.Context, cancel context.CancelCauseFunc, opt Options) *crew {
	workers := max(1, opt.Workers)
	c := &crew{jobs: make(chan audio.Segment, 4*workers)}
	for range workers {
		c.wg.Go(func() {
			for seg := range c.jobs {
				if ctx.Err() != nil {
					continue
				}
				u, err := opt.Recogniser.Recognise(ctx, seg)
				if err != nil {
					cancel(err)
					continue
				}
				if len(u.Words) == 0 {
					continue
				}
				u.Speaker = opt.Speakers[u.Channel]
				c.mu.Lock()
				c.done = append(c.done, u)
				c.mu.Unlock()
			}
		})
	}
	return c
}

func (c *crew) take(ctx context.Context, segments []audio.Segment) error {
	for _, s := range segments {
		select {
		case c.jobs <- s:
		case <-ctx.Done():
			return context.Cause(ctx)
		}
	}
	return nil
}

// finish waits for the work under way and returns what was understood.
func (c *crew) finish() []transcript.Utterance {
	close(c.jobs)
	c.wg.Wait()
	return c.done
}
