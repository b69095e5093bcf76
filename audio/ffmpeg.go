package audio

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"time"
)

// ffmpegPCM reads any file ffmpeg can read, through a pipe.
type ffmpegPCM struct {
	ctx      context.Context
	path     string
	size     int64 // of the file when it was loaded
	stop     context.CancelFunc
	cmd      *exec.Cmd
	out      io.Reader
	complain complaint
	rate     int
	lossy    bool
	raw      []byte
	tally    floatTally
	frames   int64
	waited   bool
	notes    []string
}

// ffmpegArgs come before every input: no terminal, no chatter, and no opening
// of anything but the file named, whatever a playlist inside it asks for.
func ffmpegArgs(path string) []string {
	return []string{"-v", "error", "-protocol_whitelist", "file,pipe", "-i", "file:" + path}
}

// command is a child process that dies with ctx and is never waited for long.
func command(ctx context.Context, name string, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, name, args...)
	cmd.WaitDelay = 2 * time.Second
	return cmd
}

// needFFmpeg says what to install when it is not there.
func needFFmpeg(path string) error {
	for _, tool := range []string{"ffmpeg", "ffprobe"} {
		if _, err := exec.LookPath(tool); err != nil {
			return fmt.Errorf("%s: %w: it reads every format but plain WAV; install it "+
				"(for example with `apt install ffmpeg` or `brew install ffmpeg`), or save the recording as WAV",
				path, ErrNoFFmpeg)
		}
	}
	return nil
}

// openFFmpeg starts ffmpeg on the first sound track of a file, of so many bytes
// when it was loaded.
func openFFmpeg(ctx context.Context, path string, info Info, size int64) (*ffmpegPCM, error) {
	ctx, stop := context.WithCancel(ctx)
	args := append([]string{"-nostdin"}, ffmpegArgs(path)...)
	args = append(args, "-map", "0:a:0", "-ac", strconv.Itoa(info.Channels),
		"-ar", strconv.Itoa(info.SampleRate), "-c:a", "pcm_f32le", "-f", "f32le", "pipe:1")
	f := &ffmpegPCM{ctx: ctx, stop: stop, path: path, size: size, cmd: command(ctx, "ffmpeg", args...),
		rate: info.SampleRate, lossy: info.BitDepth == 0}
	f.cmd.Stderr = &f.complain
	out, err := f.cmd.StdoutPipe()
	if err != nil {
		stop()
		return nil, fmt.Errorf("%s: starting ffmpeg: %w", path, err)
	}
	if err := f.cmd.Start(); err != nil {
		stop()
		return nil, fmt.Errorf("%s: starting ffmpeg: %w", path, err)
	}
	f.out = bufio.NewReaderSize(out, 1<<16)
	return f, nil
}

func (f *ffmpegPCM) read(dst [][]float32) (int, error) {
	frame := 4 * len(dst)
	f.raw = resizeBytes(f.raw, frame*len(dst[0]))
	m, err := io.ReadFull(f.out, f.raw)
	n := m / frame
	f.tally.add(planesFloat32(prefix(dst, n), f.raw))
	f.frames += int64(n)
	if err == nil {
		return n, nil
	}
	if ctxErr := f.ctx.Err(); ctxErr != nil {
		return 0, ctxErr
	}
	if n > 0 {
		return n, nil
	}
	return 0, f.end()
}

// named is a file that is asked for its size by its name.
type named string

func (n named) Stat() (os.FileInfo, error) { return os.Stat(string(n)) }

// end collects ffmpeg's exit once its output is read.
func (f *ffmpegPCM) end() error {
	if f.waited {
		return io.EOF
	}
	f.waited = true
	err := f.cmd.Wait()
	said := f.complain.first()
	switch {
	case f.frames == 0:
		return fmt.Errorf("ffmpeg found no sound in it%s: %w", colon(said), ErrNotAudio)
	case err != nil:
		f.notes = append(f.notes, fmt.Sprintf("ffmpeg gave up at second %.1f, the rest is lost%s",
			float64(f.frames)/float64(f.rate), colon(said)))
	case said != "":
		f.notes = append(f.notes, "ffmpeg found damage in the recording"+colon(said))
	}
	if w := grown(named(f.path), f.size, float64(f.frames)/float64(f.rate)); w != "" {
		f.notes = append(f.notes, w)
	}
	return io.EOF
}

func (f *ffmpegPCM) warnings() []string {
	tally := f.tally
	if f.lossy {
		tally.clipped = 0 // such a codec overshoots a little whenever it is loud
	}
	return append(append([]string(nil), f.notes...), tally.warnings()...)
}

// close ends ffmpeg, wherever it is, and waits for it.
func (f *ffmpegPCM) close() error {
	f.stop()
	if !f.waited {
		f.waited = true
		f.cmd.Wait() // killed on purpose: its exit says nothing
	}
	return nil
}

// probe asks ffprobe what the first sound track of a file is.
func probe(ctx context.Context, path string) (Info, error) {
	if err := needFFmpeg(path); err != nil {
		return Info{}, err
	}
	args := append(ffmpegArgs(path), "-select_streams", "a:0", "-of", "json", "-show_entries",
		"stream=codec_name,sample_rate,channels,bits_per_sample,bits_per_raw_sample,duration:stream_tags=creation_time:format=duration:format_tags="+strings.Join(creationTags, ","))
	cmd := command(ctx, "ffprobe", args...)
	var complain complaint
	cmd.Stderr = &complain
	out, err := cmd.Output()
	if ctx.Err() != nil {
		return Info{}, ctx.Err()
	}
	if err != nil {
		return Info{}, fmt.Errorf("%s: ffmpeg cannot read it%s: %w", path, colon(complain.first()), ErrNotAudio)
	}
	return readProbe(path, out)
}

// readProbe makes sense of ffprobe's answer about a file.
func readProbe(path string, out []byte) (Info, error) {
	var found struct {
		Streams []struct {
			Codec    string `json:"codec_name"`
			Rate     string `json:"sample_rate"`
			Channels int    `json:"channels"`
			Bits     int    `json:"bits_per_sample"`
			RawBits  string `json:"bits_per_raw_sample"`
			Duration string `json:"duration"`
			Tags     map[string]string
		}
		Format struct {
			Duration string `json:"duration"`
			Tags     map[string]string
		}
	}
	if err := json.Unmarshal(out, &found); err != nil {
		return Info{}, fmt.Errorf("%s: reading ffprobe's answer: %w", path, err)
	}
	if len(found.Streams) == 0 {
		return Info{}, fmt.Errorf("%s: there is no sound track in it: %w", path, ErrNotAudio)
	}
	s := found.Streams[0]
	info := Info{Format: s.Codec, Channels: s.Channels, BitDepth: s.Bits}
	info.SampleRate, _ = strconv.Atoi(s.Rate)
	if info.BitDepth == 0 {
		info.BitDepth, _ = strconv.Atoi(s.RawBits)
	}
	for _, d := range []string{s.Duration, found.Format.Duration} {
		if v, err := strconv.ParseFloat(d, 64); err == nil && v > 0 && v < 1e9 {
			info.Duration = v
			break
		}
	}
	if info.Began = tagged(found.Format.Tags); info.Began == nil {
		info.Began = tagged(s.Tags)
	}
	if info.Channels < 1 || info.Channels > maxChannels || info.SampleRate < minRate || info.SampleRate > maxRate {
		return Info{}, fmt.Errorf("%s: its sound track is damaged (%d channels, %d samples a second): %w",
			path, info.Channels, info.SampleRate, ErrNotAudio)
	}
	return info, nil
}

// complaint keeps the first part of what a child process says on its standard error.
type complaint struct{ b bytes.Buffer }

func (t *complaint) Write(p []byte) (int, error) {
	const enough = 4096
	if room := enough - t.b.Len(); room > 0 {
		t.b.Write(p[:min(room, len(p))])
	}
	return len(p), nil
}

// first is the first line said, without the address ffmpeg puts before it.
func (t *complaint) first() string {
	line, _, _ := strings.Cut(strings.TrimSpace(t.b.String()), "\n")
	if strings.HasPrefix(line, "[") {
		if _, rest, ok := strings.Cut(line, "] "); ok {
			line = rest
		}
	}
	return strings.TrimSpace(line)
}

func colon(said string) string {
	if said == "" {
		return ""
	}
	return " (" + said + ")"
}
