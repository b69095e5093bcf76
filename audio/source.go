package audio

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// Info says what a recording is before any of it is read.
type Info struct {
	File       string  // base name
	Format     string  // "wav", "rf64", or the codec's name as ffmpeg gives it
	Channels   int     // in the file
	SampleRate int     // of the file, Hz
	BitDepth   int     // bits per sample; 0 for a lossy codec
	Duration   float64 // seconds, as the file has it; 0 when unknown
}

// Source reads one recording from its start to its end. It is not safe for
// concurrent use.
type Source struct {
	ctx  context.Context
	path string
	info Info
	pcm  pcm
	res  *resampler // nil when the file is at Rate or sound is wanted as it is
	in   [][]float32
	out  int64 // samples given, per channel
	rate int   // of what Read gives
	err  error // given by every Read from now on

	closed bool
}

// Open opens a recording: WAV is read here, anything else by ffmpeg. What a
// file is is told by its content, not by its name. Cancelling ctx ends Read,
// and ffmpeg with it. Errors are one line, begin with the path, and wrap
// ErrNotAudio, ErrNoFFmpeg or an error of io/fs.
func Open(ctx context.Context, path string) (*Source, error) {
	s, err := openRaw(ctx, path)
	if err != nil {
		return nil, err
	}
	s.rate = Rate
	if s.info.SampleRate != Rate {
		s.res = newResampler(newFilter(s.info.SampleRate), s.info.Channels)
	}
	return s, nil
}

// openRaw opens a recording to be read at the file's own rate.
func openRaw(ctx context.Context, path string) (*Source, error) {
	p, info, err := openPCM(ctx, path)
	if err != nil {
		return nil, err
	}
	info.File = filepath.Base(path)
	s := &Source{ctx: ctx, path: path, info: info, pcm: p, rate: info.SampleRate}
	// Half a second at a time, less for files with absurdly much in a second.
	block := max(min(info.SampleRate/2, 1<<20/info.Channels), 1)
	for range info.Channels {
		s.in = append(s.in, make([]float32, block))
	}
	return s, nil
}

func openPCM(ctx context.Context, path string) (pcm, Info, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, Info{}, fmt.Errorf("opening the recording: %w", err)
	}
	keep := false
	defer func() {
		if !keep {
			f.Close()
		}
	}()
	st, err := f.Stat()
	switch {
	case err != nil:
		return nil, Info{}, fmt.Errorf("opening the recording: %w", err)
	case st.IsDir():
		return nil, Info{}, fmt.Errorf("%s: this is a folder; name a file in it: %w", path, ErrNotAudio)
	case !st.Mode().IsRegular():
		return nil, Info{}, fmt.Errorf("%s: this is not an ordinary file; save the recording to a file first: %w", path, ErrNotAudio)
	case st.Size() == 0:
		return nil, Info{}, fmt.Errorf("%s: the file is empty: %w", path, ErrNotAudio)
	}

	w, err := walkWAV(f, st.Size())
	switch {
	case errors.Is(err, errNotWAV):
		head := make([]byte, 4096)
		n, err := f.ReadAt(head, 0)
		if err != nil && err != io.EOF {
			return nil, Info{}, fmt.Errorf("reading the recording: %w", err)
		}
		if looksLikeText(head[:n]) {
			return nil, Info{}, fmt.Errorf("%s: this is text, whatever its name says: %w", path, ErrNotAudio)
		}
	case err != nil:
		return nil, Info{}, fmt.Errorf("%s: %v: %w", path, err, ErrNotAudio)
	case w.decodable():
		p, err := openWAV(f, w)
		if err != nil {
			return nil, Info{}, fmt.Errorf("%s: %v: %w", path, err, ErrNotAudio)
		}
		keep = true
		return p, Info{Format: w.container, Channels: w.channels, SampleRate: w.rate,
			BitDepth: w.bits, Duration: w.seconds(w.length)}, nil
	}
	p, info, err := openFFmpeg(ctx, path)
	if err != nil {
		return nil, Info{}, err
	}
	return p, info, nil
}

// Info says what the recording is.
func (s *Source) Info() Info { return s.info }

// Read gives the next half second or so: one slice per channel, all of one
// length, in [-1,1] at Rate. The slices are valid until the next call. At the
// end it gives io.EOF.
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

func (s *Source) read() ([][]float32, error) {
	if err := s.ctx.Err(); err != nil {
		return nil, fmt.Errorf("%s: %w", s.path, err)
	}
	n, err := s.pcm.read(s.in)
	switch {
	case err == io.EOF && s.res != nil:
		return s.res.flush(), io.EOF
	case err == io.EOF:
		return nil, io.EOF
	case err != nil:
		return nil, fmt.Errorf("%s: %w", s.path, err)
	case s.res != nil:
		return s.res.push(prefix(s.in, n)), nil
	}
	return prefix(s.in, n), nil
}

// Elapsed is how many seconds of the recording Read has given.
func (s *Source) Elapsed() float64 { return float64(s.out) / float64(s.rate) }

// Warnings says, one sentence each, what is wrong with the recording that did
// not keep it from being read. The list is complete once Read gave io.EOF.
func (s *Source) Warnings() []string { return s.pcm.warnings() }

// Close frees the file and ends ffmpeg. Calling it again does nothing.
func (s *Source) Close() error {
	if s.closed {
		return nil
	}
	s.closed = true
	if s.err == nil {
		s.err = fmt.Errorf("%s: %w", s.path, os.ErrClosed)
	}
	return s.pcm.close()
}
