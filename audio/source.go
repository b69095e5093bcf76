package audio

import (
	"context"
	"fmt"
	"io"
	"os"
)

// Wanted says what a reading of a tape is to give.
type Wanted struct {
	// Use names the channels of each part, from 0; nil is all of all parts.
	Use [][]int
	// Mix gives one channel, the mean of those used.
	Mix bool
	// Tap is shown every block as it is in the file: all of its channels, at the
	// file's own rate, before anything is done to it. Nil for none.
	Tap func(part int, block [][]float32)
	// raw leaves the rate as it is.
	raw bool
}

// Source reads a tape from its start to its end. It is not safe for concurrent
// use.
type Source struct {
	ctx  context.Context
	tape *Tape
	want Wanted

	part int // the one being read; -1 before the first
	pcm  pcm // nil between parts
	in   [][]float32
	mix  []float32
	res  *resampler // nil when the part is at the rate that is wanted
	out  int64      // samples given, per channel
	err  error      // given by every Read from now on

	run    int64   // samples of the part's own rate read since the resampler began
	runAt  int64   // samples given before it began
	starts []int64 // samples given before each part, those begun
	notes  []string
	closed bool
}

// Open opens the files of a recording and reads all their channels; see Load and
// Tape.Open.
func Open(ctx context.Context, paths ...string) (*Source, error) {
	t, err := Load(ctx, paths...)
	if err != nil {
		return nil, err
	}
	return t.Open(ctx, Wanted{})
}

// Open begins to read a tape. Cancelling ctx ends Read, and ffmpeg with it.
func (t *Tape) Open(ctx context.Context, want Wanted) (*Source, error) {
	for i, use := range want.Use {
		for _, c := range use {
			if c < 0 || c >= t.Parts[i].Info.Channels {
				return nil, fmt.Errorf("%s has %d channel(s); there is no channel %d", t.Parts[i].Path, t.Parts[i].Info.Channels, c+1)
			}
		}
	}
	s := &Source{ctx: ctx, tape: t, want: want, part: -1}
	if err := s.next(); err != nil {
		return nil, err
	}
	return s, nil
}

// Tape is what is being read.
func (s *Source) Tape() *Tape { return s.tape }

// Info says what the first part is.
func (s *Source) Info() Info { return s.tape.Parts[0].Info }

// Read gives the next half second or so: one slice per channel wanted, all of
// one length, in [-1,1] at Rate. The slices are valid until the next call. At
// the end it gives io.EOF. Part tells where the block is from.
func (s *Source) Read() ([][]float32, error) {
	for s.err == nil {
		block, err := s.read()
		if err != nil {
			s.err = err
		}
		if len(block) > 0 && len(block[0]) > 0 {
			s.out += int64(len(block[0]))
			return block, nil
		}
	}
	return nil, s.err
}

// Part is the index of the part the last block came from.
func (s *Source) Part() int { return max(s.part, 0) }

// Starts gives the second of the recording each part begins at, for those begun.
func (s *Source) Starts() []float64 {
	var out []float64
	for _, n := range s.starts {
		out = append(out, float64(n)/Rate)
	}
	return out
}

func (s *Source) read() ([][]float32, error) {
	if err := s.ctx.Err(); err != nil {
		return nil, fmt.Errorf("%s: %w", s.path(), err)
	}
	if s.pcm == nil {
		if err := s.next(); err == io.EOF {
			return s.rest(), io.EOF
		} else if err != nil {
			return nil, err
		}
	}
	n, err := s.pcm.read(s.in)
	switch {
	case err == io.EOF:
		return s.turn()
	case err != nil:
		return nil, fmt.Errorf("%s: %w", s.path(), err)
	}
	block := prefix(s.in, n)
	if s.want.Tap != nil {
		s.want.Tap(s.part, block)
	}
	s.run += int64(n)
	block = s.pick(block)
	if s.res != nil {
		block = s.res.push(block)
	}
	return block, nil
}

// pick takes the channels wanted of a block.
func (s *Source) pick(block [][]float32) [][]float32 {
	if use := s.use(s.part); use != nil {
		some := make([][]float32, len(use))
		for i, c := range use {
			some[i] = block[c]
		}
		block = some
	}
	if s.want.Mix && len(block) > 1 {
		s.mix = mean(s.mix, block)
		return [][]float32{s.mix}
	}
	return block
}

func (s *Source) use(part int) []int {
	if s.want.Use == nil {
		return nil
	}
	return s.want.Use[part]
}

// mean is the mean of several channels, put into dst.
func mean(dst []float32, planes [][]float32) []float32 {
	dst = resize(dst, len(planes[0]))
	share := 1 / float32(len(planes))
	if len(planes) == 2 {
		l, r := planes[0][:len(dst)], planes[1][:len(dst)]
		for i := range dst {
			dst[i] = (l[i] + r[i]) * share
		}
		return dst
	}
	clear(dst)
	for _, x := range planes {
		for i, v := range x[:len(dst)] {
			dst[i] += v * share
		}
	}
	return dst
}

// turn ends a part. Sound that cannot run on into the next is given to its end.
func (s *Source) turn() ([][]float32, error) {
	s.notes = append(s.notes, s.told(s.pcm.warnings())...)
	s.pcm.close()
	s.pcm = nil
	if s.part+1 == len(s.tape.Parts) {
		return s.rest(), io.EOF
	}
	if s.runsOn() {
		return nil, nil
	}
	return s.rest(), nil
}

// rest is what the resampler still holds.
func (s *Source) rest() [][]float32 {
	if s.res == nil {
		return nil
	}
	out := s.res.flush()
	s.res = nil
	return out
}

// runsOn says whether the next part is of the same rate and channels as this one.
func (s *Source) runsOn() bool {
	a, b := s.tape.Parts[s.part], s.tape.Parts[s.part+1]
	return a.alike(b, s.use(s.part), s.use(s.part+1))
}

// next opens the next part.
func (s *Source) next() error {
	if s.closed {
		return fmt.Errorf("%s: %w", s.path(), os.ErrClosed)
	}
	p := s.tape.Parts[s.part+1]
	opened, err := p.open(s.ctx)
	switch {
	case err == nil:
	case s.part < 0 || s.ctx.Err() != nil:
		return err
	default:
		// It was there when the tape was loaded: what has been read is still worth judging.
		s.notes = append(s.notes, fmt.Sprintf("%s could not be read any more, the recording ends before it: %v", p.Info.File, err))
		return io.EOF
	}
	fresh := s.part < 0 || !s.runsOn()
	s.part++
	s.pcm = opened
	if fresh {
		s.begin(p)
	}
	at := s.runAt + s.run
	if s.res != nil {
		at = s.runAt + ceilDiv(s.run*s.res.f.up, s.res.f.down)
	}
	s.starts = append(s.starts, at)
	return nil
}

// begin makes ready for sound of another form.
func (s *Source) begin(p Part) {
	rate, channels := p.Info.SampleRate, p.Info.Channels
	// Half a second at a time, less for files with absurdly much in a second.
	block := max(min(rate/2, 1<<20/channels), 1)
	s.in = s.in[:0]
	for range channels {
		s.in = append(s.in, make([]float32, block))
	}
	s.res, s.run, s.runAt = nil, 0, s.out
	if rate != Rate && !s.want.raw {
		wanted := channels
		if use := s.use(s.part); use != nil {
			wanted = len(use)
		}
		if s.want.Mix {
			wanted = 1
		}
		s.res = newResampler(newFilter(rate), wanted)
	}
}

// told names the file of warnings where there are several.
func (s *Source) told(warnings []string) []string {
	if len(s.tape.Parts) == 1 {
		return warnings
	}
	var out []string
	for _, w := range warnings {
		out = append(out, s.tape.Parts[s.Part()].Info.File+": "+w)
	}
	return out
}

// Elapsed is how many seconds of the recording Read has given.
func (s *Source) Elapsed() float64 { return float64(s.out) / Rate }

// Warnings says, one sentence each, what is wrong with the recording that did
// not keep it from being read. The list is complete once Read gave io.EOF.
func (s *Source) Warnings() []string {
	if s.pcm == nil {
		return s.notes
	}
	return append(s.notes[:len(s.notes):len(s.notes)], s.told(s.pcm.warnings())...)
}

func (s *Source) path() string { return s.tape.Parts[s.Part()].Path }

// Close frees the file and ends ffmpeg. Calling it again does nothing.
func (s *Source) Close() error {
	if s.closed {
		return nil
	}
	s.closed = true
	if s.err == nil {
		s.err = fmt.Errorf("%s: %w", s.path(), os.ErrClosed)
	}
	if s.pcm == nil {
		return nil
	}
	return s.pcm.close()
}
