package audio

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"sync"
)

// Bit rates of the embedded sound, in kb/s: enough to hear words by, 15 to
// 20 MB an hour.
const (
	monoKbps   = 32
	stereoKbps = 48
)

// encoderDelay is how many samples a LAME-encoded MP3 starts late: 576 of the
// encoder and 529 of every decoder (LAME technical FAQ, from memory; the test
// measures it). Leaving out as many samples keeps sound and timeline together.
const encoderDelay = 576 + 529

// Span is a stretch of a recording, in seconds from its start.
type Span struct{ From, To float64 }

// Excerpt says what of a tape is to be heard: the channels of each part, and
// which stretches, in order and apart; no stretches is all of it.
type Excerpt struct {
	Layouts []Layout
	Keep    []Span
	// Gains is what each of the channels used is multiplied by, of each part, so
	// that faint voices can be heard; nil, or 0, is as it is.
	Gains [][]float64
	// Mix makes one channel of two.
	Mix bool
}

// channels is how many the sound of the excerpt has: two stay apart, left and
// right; more are mixed into one.
func (e Excerpt) channels() int {
	n := 1
	for _, l := range e.Layouts {
		if len(l.Use) == 2 && !e.Mix {
			n = 2
		}
	}
	return n
}

// SoundBytes is about how large Encode makes so many seconds of it.
func (e Excerpt) SoundBytes(ctx context.Context, seconds float64) int64 {
	switch {
	case !canMakeMP3(ctx):
		return int64(seconds * Rate * 2 * float64(e.channels()))
	case e.channels() == 2:
		return int64(seconds * stereoKbps * 125)
	}
	return int64(seconds * monoKbps * 125)
}

// Encode writes an excerpt as a small file to embed in a page, and gives its MIME
// type: MP3, or 16 kHz WAV where ffmpeg cannot make MP3. Without stretches,
// second t of the result is second t of the recording, to within a few
// milliseconds; else the stretches follow each other.
func (t *Tape) Encode(ctx context.Context, e Excerpt, w io.Writer) (mime string, err error) {
	path := t.Parts[0].Path
	if err := e.fits(t); err != nil {
		return "", fmt.Errorf("%s: %w", path, err)
	}
	if canMakeMP3(ctx) {
		return "audio/mpeg", t.encodeMP3(ctx, e, w)
	}
	if err := ctx.Err(); err != nil {
		return "", fmt.Errorf("%s: encoding: %w", path, err)
	}
	return "audio/wav", t.encodeWAV(ctx, e, w)
}

// mp3Makers remembers of each ffmpeg, by its path, whether it makes MP3: it takes
// as long to ask as to encode seconds of sound.
var mp3Makers sync.Map

func canMakeMP3(ctx context.Context) bool {
	path, err := exec.LookPath("ffmpeg")
	if err != nil {
		return false
	}
	if can, known := mp3Makers.Load(path); known {
		return can.(bool)
	}
	out, err := command(ctx, "ffmpeg", "-v", "error", "-h", "encoder=libmp3lame").Output()
	can := err == nil && bytes.Contains(out, []byte("Encoder libmp3lame"))
	if ctx.Err() == nil {
		mp3Makers.Store(path, can)
	}
	return can
}

func (t *Tape) encodeMP3(ctx context.Context, e Excerpt, w io.Writer) error {
	path := t.Parts[0].Path
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	channels, kbps := e.channels(), monoKbps
	if channels == 2 {
		kbps = stereoKbps
	}
	// At a constant bit rate a browser seeks by arithmetic, so the index a pipe
	// cannot be given afterwards is not missed.
	cmd := command(ctx, "ffmpeg", "-nostdin", "-v", "error",
		"-f", "s16le", "-ar", fmt.Sprint(Rate), "-ac", fmt.Sprint(channels), "-i", "pipe:0",
		"-c:a", "libmp3lame", "-b:a", fmt.Sprintf("%dk", kbps), "-joint_stereo", "0",
		"-write_xing", "0", "-id3v2_version", "0", "-f", "mp3", "pipe:1")
	var said complaint
	out := &errWriter{w: w}
	cmd.Stderr, cmd.Stdout = &said, out
	in, err := cmd.StdinPipe()
	if err != nil {
		return fmt.Errorf("%s: starting ffmpeg: %w", path, err)
	}
	if err := cmd.Start(); err != nil {
		return fmt.Errorf("%s: starting ffmpeg: %w", path, err)
	}
	fed := t.copySamples(ctx, e, encoderDelay, in)
	if fed != nil {
		stop()
	}
	in.Close()
	err = cmd.Wait()
	switch {
	case out.err != nil:
		return fmt.Errorf("%s: writing the sound: %w", path, out.err)
	case err != nil && said.first() != "":
		return fmt.Errorf("%s: encoding: ffmpeg: %s", path, said.first())
	case fed != nil:
		return fed
	case err != nil:
		return fmt.Errorf("%s: encoding: ffmpeg: %w", path, err)
	}
	return nil
}

// encodeWAV reads the recording twice: a WAV header gives the length first.
func (t *Tape) encodeWAV(ctx context.Context, e Excerpt, w io.Writer) error {
	var size counter
	if err := t.copySamples(ctx, e, 0, &size); err != nil {
		return err
	}
	if _, err := w.Write(wavHeader(Rate, e.channels(), 16, int64(size))); err != nil {
		return fmt.Errorf("%s: writing the sound: %w", t.Parts[0].Path, err)
	}
	return t.copySamples(ctx, e, 0, w)
}

// copySamples writes an excerpt as interleaved 16-bit samples at Rate, without
// its first skip samples.
func (t *Tape) copySamples(ctx context.Context, e Excerpt, skip int, w io.Writer) error {
	var use [][]int
	for _, l := range e.Layouts {
		use = append(use, l.Use)
	}
	s, err := t.Open(ctx, Wanted{Use: use})
	if err != nil {
		return err
	}
	defer s.Close()
	var b []byte
	cut := newCutter(e.Keep)
	for !cut.done() {
		block, err := s.Read()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		b = b[:0]
		e.amplify(block, s.Part())
		for _, planes := range cut.take(spread(block, e.channels())) {
			skipping := min(skip, len(planes[0]))
			skip -= skipping
			for c := range planes {
				planes[c] = planes[c][skipping:]
			}
			b = interleave16(b, planes)
		}
		if _, err := w.Write(b); err != nil {
			return fmt.Errorf("%s: writing the sound: %w", s.path(), err)
		}
	}
	return nil
}

// amplify changes a block in place.
func (e Excerpt) amplify(block [][]float32, part int) {
	if e.Gains == nil {
		return
	}
	for i, g := range e.Gains[part] {
		if g != 0 {
			for k, v := range block[i] {
				block[i][k] = clip(v * float32(g))
			}
		}
	}
}

// spread makes a block of so many channels, one or two: more are mixed into one,
// and one is heard on both sides.
func spread(block [][]float32, channels int) [][]float32 {
	if len(block) > 2 || len(block) > channels {
		block = [][]float32{mean(nil, block)}
	}
	if len(block) < channels {
		block = [][]float32{block[0], block[0]}
	}
	return block
}

// cutter keeps the samples of some stretches as blocks go by.
type cutter struct {
	keep [][2]int64 // first sample and one past the last
	all  bool
	at   int64
}

func newCutter(keep []Span) *cutter {
	c := &cutter{all: len(keep) == 0}
	for _, k := range keep {
		c.keep = append(c.keep, [2]int64{int64(k.From * Rate), int64(k.To * Rate)})
	}
	return c
}

// done says whether nothing that follows is kept.
func (c *cutter) done() bool { return !c.all && len(c.keep) == 0 }

// take gives the pieces of the next block that are kept.
func (c *cutter) take(block [][]float32) (pieces [][][]float32) {
	from, to := c.at, c.at+int64(len(block[0]))
	c.at = to
	if c.all {
		return [][][]float32{block}
	}
	for len(c.keep) > 0 {
		k := c.keep[0]
		if lo, hi := max(k[0], from), min(k[1], to); lo < hi {
			piece := make([][]float32, len(block))
			for i := range block {
				piece[i] = block[i][lo-from : hi-from]
			}
			pieces = append(pieces, piece)
		}
		if k[1] > to {
			break
		}
		c.keep = c.keep[1:]
	}
	return pieces
}

func (e Excerpt) fits(t *Tape) error {
	if len(e.Layouts) != len(t.Parts) {
		return fmt.Errorf("%d layouts for %d files", len(e.Layouts), len(t.Parts))
	}
	if e.Gains != nil && len(e.Gains) != len(t.Parts) {
		return fmt.Errorf("gains of %d files for %d files", len(e.Gains), len(t.Parts))
	}
	for i, l := range e.Layouts {
		if e.Gains != nil && len(e.Gains[i]) != len(l.Use) {
			return fmt.Errorf("%d gains for %d channels", len(e.Gains[i]), len(l.Use))
		}
		if len(l.Use) == 0 {
			return errors.New("the layout names no channel")
		}
		for _, c := range l.Use {
			if n := t.Parts[i].Info.Channels; c < 0 || c >= n {
				return fmt.Errorf("the layout names channel %d of %d", c+1, n)
			}
		}
	}
	return nil
}

// counter counts the bytes written to it.
type counter int64

func (c *counter) Write(p []byte) (int, error) {
	*c += counter(len(p))
	return len(p), nil
}

// errWriter remembers that its writer failed, which exec would report as
// something ffmpeg did.
type errWriter struct {
	w   io.Writer
	err error
}

func (e *errWriter) Write(p []byte) (int, error) {
	n, err := e.w.Write(p)
	if err != nil && e.err == nil {
		e.err = err
	}
	return n, err
}
