// Package hear listens to a whole recording: it reads it, finds the speech,
// gives each stretch of it to a recogniser and puts the words together.
// Memory does not grow with the silence, only with the words.
package hear

import (
	"cmp"
	"context"
	"errors"
	"io"
	"slices"
	"sync"
	"time"

	"sidetone/audio"
	"sidetone/audio/recognise"
	"sidetone/audio/speech"
	"sidetone/audio/transcript"
	"sidetone/audio/voices"
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
	Cleaning   Cleaning         // what is done to the sound first
	Voices     []Voice          // who is told by voice, where no channel tells it
}

// Progress is how far listening has come.
type Progress struct {
	Position float64 // seconds of the recording read
	Duration float64 // of the recording, 0 when unknown
	Speech   float64 // seconds of speech found
	Elapsed  time.Duration
	Stage    string // "looking at the channels", "listening"
}

// Result is what was heard. Times are seconds from the start of the tape.
type Result struct {
	Tape       *audio.Tape
	Layouts    []audio.Layout // of each part
	Gains      [][]float64    // what the channels listened to were multiplied by; 0 for as they are
	Starts     []float64      // of each part that was read
	Transcript *transcript.Transcript
	Duration   float64 // seconds read
	Speech     float64 // seconds of speech
	Peaks      *audio.Peaks
	Levels     []audio.Level  // of every channel, listened to or not
	Voices     *voices.Report // how voices were told, nil when none were taught
	Crosstalk  Crosstalk      // words that were heard on several channels
	Warnings   []string
}

// peakBuckets is enough to draw a maneuver of minutes out of a lesson of hours.
const peakBuckets = 20000

// apart is the pause, in seconds, that parts two utterances. A segment goes over
// shorter and longer ones: a recogniser hears better with more around a word.
const apart = 0.4

// Listen hears the recording in one file from start to end.
func Listen(ctx context.Context, path string, opt Options) (*Result, error) {
	tape, err := audio.Load(ctx, path)
	if err != nil {
		return nil, err
	}
	return ListenTo(ctx, tape, opt)
}

// ListenTo hears a tape from start to end.
func ListenTo(ctx context.Context, tape *audio.Tape, opt Options) (*Result, error) {
	began := time.Now()
	tell := opt.Progress
	if tell == nil {
		tell = func(Progress) {}
	}
	res := &Result{Tape: tape, Peaks: audio.NewPeaks(peakBuckets), Transcript: &transcript.Transcript{}}
	taught, err := teach(ctx, opt)
	if err != nil {
		return nil, err
	}
	first, err := survey(ctx, tape, opt, tell, began)
	if err != nil {
		return nil, err
	}
	res.Layouts = first.Layouts
	for part, l := range res.Layouts {
		var gains []float64
		for _, c := range l.Use {
			if c < 0 || c >= len(first.Voices[part]) {
				break // opening tells
			}
			gains = append(gains, opt.Cleaning.of(first.Voices[part][c]).Gain)
		}
		res.Gains = append(res.Gains, gains)
	}
	gauges := newGauges(tape)
	src, err := tape.Open(ctx, audio.Wanted{Use: uses(res.Layouts), Tap: gauges.tap})
	if err != nil {
		return nil, err
	}
	defer src.Close()
	ears := &ears{opt: opt, layouts: res.Layouts, voices: first.Voices, part: -1, gauges: gauges}
	defer ears.close()
	if err := ears.turn(0, 0); err != nil { // before anybody is hired
		return nil, err
	}

	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	crew := hire(ctx, cancel, opt)
	err = ears.follow(ctx, src, crew, res, func(position, speech float64) {
		tell(Progress{position, tape.Duration(), speech, time.Since(began), "listening"})
	})
	if err != nil {
		cancel(err) // the work under way is for nothing
	}
	utterances := crew.finish()
	if cause := context.Cause(ctx); cause != nil {
		return nil, cause
	}
	if later, ok := opt.Recogniser.(recognise.Later); ok {
		more, err := later.Finish(ctx)
		if err != nil {
			return nil, err
		}
		for _, u := range more {
			utterances = append(utterances, u.Split(apart)...)
		}
	}
	utterances, res.Crosstalk = ears.envelopes.once(utterances)
	res.Starts, res.Warnings, res.Levels = src.Starts(), src.Warnings(), gauges.levels()
	res.name(utterances, opt.Speakers)
	if len(taught) > 0 {
		var rep voices.Report
		utterances, rep = voices.Name(utterances, crew.sounds.all, taught)
		res.Voices = &rep
	}
	for i := range utterances {
		if utterances[i].Speaker == nobodys {
			utterances[i].Speaker = ""
		}
	}
	slices.SortFunc(utterances, func(a, b transcript.Utterance) int {
		return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(a.Channel, b.Channel))
	})
	res.Transcript.Utterances = utterances
	return res, nil
}

// name says who spoke, where each seat has a channel of its own.
func (r *Result) name(us []transcript.Utterance, speakers map[int]string) {
	for i := range us {
		part := 0
		for part+1 < len(r.Starts) && r.Starts[part+1] <= us[i].Start {
			part++
		}
		if us[i].Speaker != nobodys && r.Layouts[part].Seats() {
			us[i].Speaker = speakers[us[i].Channel]
		}
	}
}

// survey takes the first look. Channels the user named are taken as they are.
func survey(ctx context.Context, tape *audio.Tape, opt Options, tell func(Progress), began time.Time) (*audio.Survey, error) {
	tell(Progress{Duration: tape.Duration(), Elapsed: time.Since(began), Stage: "looking at the channels"})
	found, err := tape.Survey(ctx)
	if err != nil || len(opt.Channels) == 0 {
		return found, err
	}
	for i := range found.Layouts {
		found.Layouts[i] = audio.Layout{Kind: audio.Asked, Use: opt.Channels, Note: "Channels as you asked."}
	}
	return found, nil
}

func uses(layouts []audio.Layout) (use [][]int) {
	for _, l := range layouts {
		use = append(use, l.Use)
	}
	return use
}

// ears are the channels listened to, in the part that is being read.
type ears struct {
	opt        Options
	layouts    []audio.Layout
	part       int
	voices     [][]float64 // how loud they are, by part and channel of the file
	segmenters []*speech.Segmenter
	cleaners   []*audio.Cleaner // nil where nothing is to be done
	unreduced  []*unreduced     // nil where no voices are to be told
	detectors  []Detector       // of all parts: they are closed together
	past       float64          // seconds of speech found by earlier segmenters
	mix        []float32
	gauges     *gauges
	envelopes  envelopes // of recordings with several channels listened to
}

// turn makes ready for a part, of which the first sample is number at.
func (e *ears) turn(part, at int) error {
	runsOn := e.part >= 0 && slices.Equal(e.layouts[e.part].Use, e.layouts[part].Use)
	e.part = part
	if runsOn {
		return nil // a word may go on from one file into the next
	}
	e.past, e.segmenters, e.cleaners, e.unreduced = e.speech(), nil, nil, nil
	cut := e.opt.Cutting
	if cut == (speech.Cutting{}) {
		cut = speech.DefaultCutting
	}
	for _, c := range e.layouts[part].Use {
		d, err := e.opt.Detectors()
		if err != nil {
			return err
		}
		e.detectors = append(e.detectors, d)
		clean := e.opt.Cleaning.of(e.voices[part][c])
		e.cleaners = append(e.cleaners, audio.NewCleaner(clean))
		var u *unreduced
		if len(e.opt.Voices) > 0 {
			clean.Reduce = 0
			u = &unreduced{cleaner: audio.NewCleaner(clean)}
		}
		e.unreduced = append(e.unreduced, u)
		e.segmenters = append(e.segmenters, speech.NewSegmenter(c, e.gauges.noting(d, part, c), cut).StartAt(at))
	}
	return nil
}

func (e *ears) close() {
	for _, d := range e.detectors {
		_ = d.Close()
	}
}

// follow reads the recording to its end and hands on each segment of speech.
func (e *ears) follow(ctx context.Context, src *audio.Source, to *crew, res *Result, tell func(position, speech float64)) error {
	read := 0 // samples
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
		if src.Part() != e.part {
			if !slices.Equal(e.layouts[e.part].Use, e.layouts[src.Part()].Use) {
				if err := e.flush(ctx, to); err != nil {
					return err
				}
			}
			if err := e.turn(src.Part(), read); err != nil {
				return err
			}
		}
		for i := range block {
			x := block[i]
			if u := e.unreduced[i]; u != nil {
				u.add(read, x)
			}
			if c := e.cleaners[i]; c != nil {
				x = c.Clean(x)
			}
			segments, err := e.segmenters[i].Feed(x)
			if err != nil {
				return err
			}
			e.gauges.listen(e.part, e.layouts[e.part].Use[i], block[i])
			if len(block) > 1 {
				e.envelopes.add(e.layouts[e.part].Use[i], read, block[i])
			}
			if err := to.take(ctx, segments, e.unreduced[i]); err != nil {
				return err
			}
		}
		res.Peaks.Add(e.loudest(block, res.Gains[e.part]))
		read += len(block[0])
		res.Duration = src.Elapsed()
		tell(res.Duration, e.speech())
	}
	if err := e.flush(ctx, to); err != nil {
		return err
	}
	res.Speech = e.speech()
	tell(res.Duration, res.Speech)
	return nil
}

// flush ends the segments under way.
func (e *ears) flush(ctx context.Context, to *crew) error {
	for i, s := range e.segmenters {
		if c := e.cleaners[i]; c != nil {
			segments, err := s.Feed(c.Flush())
			if err != nil {
				return err
			}
			if err := to.take(ctx, segments, e.unreduced[i]); err != nil {
				return err
			}
		}
		segments, err := s.Flush()
		if err != nil {
			return err
		}
		e.gauges.spoke(e.part, e.layouts[e.part].Use[i], s.Speech())
		if err := to.take(ctx, segments, e.unreduced[i]); err != nil {
			return err
		}
	}
	return nil
}

func (e *ears) speech() float64 {
	total := e.past
	for _, s := range e.segmenters {
		total += s.Speech()
	}
	return total
}

// loudest is, sample by sample, the channel that is loudest: what the waveform shows.
func (e *ears) loudest(block [][]float32, gains []float64) []float32 {
	e.mix = append(e.mix[:0], make([]float32, len(block[0]))...)
	for c, x := range block {
		g := float32(1)
		if gains[c] != 0 {
			g = float32(gains[c])
		}
		for i, v := range x {
			if v *= g; v*v > e.mix[i]*e.mix[i] {
				e.mix[i] = v
			}
		}
	}
	return e.mix
}

// crew recognises segments side by side.
type crew struct {
	jobs chan job
	wg   sync.WaitGroup
	mu   sync.Mutex
	done []transcript.Utterance

	sounds sounds // only when voices are to be told
}

// job is a segment to recognise, and the same to tell its voice by.
type job struct {
	segment audio.Segment
	voice   audio.Segment // only when voices are to be told
}

func hire(ctx context.Context, cancel context.CancelCauseFunc, opt Options) *crew {
	workers := max(1, opt.Workers)
	c := &crew{jobs: make(chan job, 4*workers)}
	for range workers {
		c.wg.Go(func() {
			for j := range c.jobs {
				if ctx.Err() != nil {
					continue
				}
				if len(opt.Voices) > 0 {
					c.sounds.take(j.voice)
				}
				u, err := opt.Recogniser.Recognise(ctx, j.segment)
				if err != nil {
					cancel(err)
					continue
				}
				if len(u.Words) == 0 {
					continue
				}
				c.mu.Lock()
				c.done = append(c.done, u.Split(apart)...)
				c.mu.Unlock()
			}
		})
	}
	return c
}

func (c *crew) take(ctx context.Context, segments []audio.Segment, before *unreduced) error {
	for _, s := range segments {
		j := job{segment: s}
		if before != nil {
			j.voice = before.of(s)
		}
		select {
		case c.jobs <- j:
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
