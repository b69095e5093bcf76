package audio

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
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

// Encode writes the channels of the layout as a small file to embed in a page,
// and gives its MIME type: MP3, or 16 kHz WAV where ffmpeg cannot make MP3.
// Two channels stay apart, left and right; more are mixed into one. Second t of
// the result is second t of the recording, to within a few milliseconds.
func Encode(ctx context.Context, path string, layout Layout, w io.Writer) (mime string, err error) {
	if canMakeMP3(ctx) {
		return "audio/mpeg", encodeMP3(ctx, path, layout, w)
	}
	if err := ctx.Err(); err != nil {
		return "", fmt.Errorf("%s: encoding: %w", path, err)
	}
	return "audio/wav", encodeWAV(ctx, path, layout, w)
}

func canMakeMP3(ctx context.Context) bool {
	out, err := command(ctx, "ffmpeg", "-v", "error", "-h", "encoder=libmp3lame").Output()
	return err == nil && bytes.Contains(out, []byte("Encoder libmp3lame"))
}

func encodeMP3(ctx context.Context, path string, layout Layout, w io.Writer) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	channels, kbps := 1, monoKbps
	if len(layout.Use) == 2 {
		channels, kbps = 2, stereoKbps
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
	fed := copySamples(ctx, path, layout, encoderDelay, in)
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
func encodeWAV(ctx context.Context, path string, layout Layout, w io.Writer) error {
	var size counter
	if err := copySamples(ctx, path, layout, 0, &size); err != nil {
		return err
	}
	channels := 1
	if len(layout.Use) == 2 {
		channels = 2
	}
	if _, err := w.Write(wavHeader(Rate, channels, 16, int64(size))); err != nil {
		return fmt.Errorf("%s: writing the sound: %w", path, err)
	}
	return copySamples(ctx, path, layout, 0, w)
}

// copySamples writes the channels of the layout from sample skip on as
// interleaved 16-bit samples at Rate.
func copySamples(ctx context.Context, path string, layout Layout, skip int, w io.Writer) error {
	s, err := Open(ctx, path)
	if err != nil {
		return err
	}
	defer s.Close()
	if err := layout.fits(s.info.Channels); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	var b []byte
	for {
		block, err := s.Read()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		planes := layout.pick(block)
		skipping := min(skip, len(planes[0]))
		skip -= skipping
		for c := range planes {
			planes[c] = planes[c][skipping:]
		}
		b = interleave16(b[:0], planes)
		if _, err := w.Write(b); err != nil {
			return fmt.Errorf("%s: writing the sound: %w", path, err)
		}
	}
}

func (l Layout) fits(channels int) error {
	if len(l.Use) == 0 {
		return errors.New("the layout names no channel")
	}
	for _, c := range l.Use {
		if c < 0 || c >= channels {
			return fmt.Errorf("the layout names channel %d of %d", c+1, channels)
		}
	}
	return nil
}

// pick gives one or two channels as they are, and the mean of more.
func (l Layout) pick(block [][]float32) [][]float32 {
	if len(l.Use) > 2 {
		mix := make([]float32, len(block[0]))
		for _, c := range l.Use {
			for i, v := range block[c] {
				mix[i] += v / float32(len(l.Use))
			}
		}
		return [][]float32{mix}
	}
	var out [][]float32
	for _, c := range l.Use {
		out = append(out, block[c])
	}
	return out
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
