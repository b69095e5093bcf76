package audio

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
)

// Info says what a file is before any of it is read.
type Info struct {
	File       string  // base name
	Format     string  // "wav", "rf64", or the codec's name as ffmpeg gives it
	Channels   int     // in the file
	SampleRate int     // of the file, Hz
	BitDepth   int     // bits per sample; 0 for a lossy codec
	Duration   float64 // seconds, as the file has it; 0 when unknown
	Began      *Began  // nil when the file does not say
}

// Tape is one recording: a file, or several that follow each other without a
// gap, as recorders split them. What each file was when it was loaded is kept,
// so that every reading of a tape sees the same of a file that still grows.
type Tape struct{ Parts []Part }

// Part is one file of a tape.
type Part struct {
	Path string
	Info Info

	wav  *wavFile // nil when ffmpeg reads it
	size int64    // bytes in the file when it was loaded
}

// Load looks at the files of a recording, in the order they were recorded in.
// They may differ in format, rate and channels. WAV is read here, anything else
// by ffmpeg. What a file is is told by its content, not by its name. Errors are
// one line, name the file, and wrap ErrNotAudio, ErrNoFFmpeg or an error of
// io/fs.
func Load(ctx context.Context, paths ...string) (*Tape, error) {
	if len(paths) == 0 {
		return nil, errors.New("no recording is named")
	}
	t := &Tape{}
	for _, path := range paths {
		p, err := inspect(ctx, path)
		if err != nil {
			return nil, err
		}
		p.Info.File = filepath.Base(path)
		t.Parts = append(t.Parts, p)
	}
	return t, nil
}

// Duration is the length of the whole in seconds, as the files have it; 0 when
// that of one is unknown.
func (t *Tape) Duration() float64 {
	total := 0.0
	for _, p := range t.Parts {
		if p.Info.Duration == 0 {
			return 0
		}
		total += p.Info.Duration
	}
	return total
}

// Channels is the most channels any of its files has.
func (t *Tape) Channels() int {
	n := 0
	for _, p := range t.Parts {
		n = max(n, p.Info.Channels)
	}
	return n
}

// inspect finds out what one file is.
func inspect(ctx context.Context, path string) (Part, error) {
	f, err := os.Open(path)
	if err != nil {
		return Part{}, fmt.Errorf("opening the recording: %w", err)
	}
	defer f.Close()
	st, err := f.Stat()
	switch {
	case err != nil:
		return Part{}, fmt.Errorf("opening the recording: %w", err)
	case st.IsDir():
		return Part{}, fmt.Errorf("%s: this is a folder; name a file in it: %w", path, ErrNotAudio)
	case !st.Mode().IsRegular():
		return Part{}, fmt.Errorf("%s: this is not an ordinary file; save the recording to a file first: %w", path, ErrNotAudio)
	case st.Size() == 0:
		return Part{}, fmt.Errorf("%s: the file is empty: %w", path, ErrNotAudio)
	}
	p := Part{Path: path, size: st.Size()}

	w, err := walkWAV(f, p.size)
	switch {
	case errors.Is(err, errNotWAV):
		head := make([]byte, 4096)
		n, err := f.ReadAt(head, 0)
		if err != nil && err != io.EOF {
			return Part{}, fmt.Errorf("reading the recording: %w", err)
		}
		if looksLikeText(head[:n]) {
			return Part{}, fmt.Errorf("%s: this is text, whatever its name says: %w", path, ErrNotAudio)
		}
	case err != nil:
		return Part{}, fmt.Errorf("%s: %v: %w", path, err, ErrNotAudio)
	case w.decodable():
		p.wav = w
		p.Info = Info{Format: w.container, Channels: w.channels, SampleRate: w.rate,
			BitDepth: w.bits, Duration: w.seconds(w.length)}
		if w.bext != (bext{}) {
			p.Info.Began = w.bext.began(w.rate)
		}
		return p, nil
	}
	if p.Info, err = probe(ctx, path); err != nil {
		return Part{}, err
	}
	return p, nil
}

// open begins to read the samples of a part.
func (p Part) open(ctx context.Context) (pcm, error) {
	if p.wav == nil {
		return openFFmpeg(ctx, p.Path, p.Info, p.size)
	}
	f, err := os.Open(p.Path)
	if err != nil {
		return nil, fmt.Errorf("opening the recording: %w", err)
	}
	w, err := openWAV(f, p.wav, p.size)
	if err != nil {
		f.Close()
		return nil, fmt.Errorf("%s: %v: %w", p.Path, err, ErrNotAudio)
	}
	return w, nil
}

// alike says whether sound may run on from one part into the other: the same
// rate, and the same channels wanted of them.
func (p Part) alike(q Part, use, useQ []int) bool {
	return p.Info.SampleRate == q.Info.SampleRate && p.Info.Channels == q.Info.Channels && slices.Equal(use, useQ)
}
