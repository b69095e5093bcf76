package audio

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/go-audio/wav"
)

// rawAll reads a recording at its own rate.
func rawAll(tb testing.TB, path string) ([][]float32, *Source) {
	tb.Helper()
	s := openRaw(tb, path)
	defer s.Close()
	return drain(tb, s), s
}

// lesson makes a WAV file with sox: two channels of 1.3 s that differ, at full
// scale so that every bit of a sample is used.
func lesson(t *testing.T, rate string, format ...string) string {
	path := filepath.Join(t.TempDir(), "lesson.wav")
	args := append([]string{"-R", "-n", "-r", rate}, format...)
	run(t, "sox", append(args, path, "synth", "1.3", "sine", "100-3000", "pinknoise")...)
	return path
}

func TestEverySampleFormatReadsAsFFmpegReadsIt(t *testing.T) {
	need(t, "sox", "ffmpeg")
	for _, c := range []struct {
		name   string
		format []string
		bits   int
	}{
		{"8-bit", []string{"-b", "8", "-e", "unsigned"}, 8},
		{"16-bit", []string{"-b", "16"}, 16},
		{"24-bit, which sox writes with an extensible header", []string{"-b", "24"}, 24},
		{"32-bit", []string{"-b", "32", "-e", "signed"}, 32},
		{"32-bit float", []string{"-b", "32", "-e", "float"}, 32},
	} {
		for _, rate := range []string{"8000", "16000", "44100"} {
			t.Run(c.name+" at "+rate, func(t *testing.T) {
				path := lesson(t, rate, append(c.format, "-c", "2")...)
				want := floats(run(t, "ffmpeg", "-v", "error", "-i", path, "-f", "f32le", "-c:a", "pcm_f32le", "-"))
				got, s := rawAll(t, path)
				if s.Info().BitDepth != c.bits || s.Info().Format != "wav" {
					t.Errorf("read as %+v", s.Info())
				}
				if w := s.Warnings(); len(w) > 0 {
					t.Errorf("warnings %q", w)
				}
				if 2*len(got[0]) != len(want) {
					t.Fatalf("%d frames, ffmpeg reads %d", len(got[0]), len(want)/2)
				}
				for i := range want {
					if v := got[i%2][i/2]; v != want[i] {
						t.Fatalf("frame %d, channel %d: %v, ffmpeg reads %v", i/2, i%2, v, want[i])
					}
				}
			})
		}
	}
}

// The 16-bit reader stands in for go-audio's and must give the same.
func TestSixteenBitReadsAsGoAudioReadsIt(t *testing.T) {
	need(t, "sox")
	path := lesson(t, "16000", "-b", "16", "-c", "2")
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	want, err := wav.NewDecoder(f).FullPCMBuffer()
	if err != nil {
		t.Fatal(err)
	}
	got, _ := listen(t, path)
	if len(want.Data) != 2*len(got[0]) {
		t.Fatalf("%d frames, go-audio reads %d", len(got[0]), len(want.Data)/2)
	}
	for i, v := range want.Data {
		if got[i%2][i/2] != float32(v)/32768 {
			t.Fatalf("frame %d, channel %d: %v, go-audio reads %d", i/2, i%2, got[i%2][i/2], v)
		}
	}
}

// riff builds WAV files byte by byte, for what no tool writes on purpose.
type riff struct{ bytes.Buffer }

func newRIFF(id string) *riff {
	r := &riff{}
	r.WriteString(id + "\xff\xff\xff\xffWAVE")
	return r
}

func (r *riff) chunk(id string, size uint32, body []byte) *riff {
	r.WriteString(id)
	r.Write(binary.LittleEndian.AppendUint32(nil, size))
	r.Write(body)
	return r
}

func (r *riff) whole(id string, body []byte) *riff {
	r.chunk(id, uint32(len(body)), body)
	if len(body)%2 == 1 {
		r.WriteByte(0)
	}
	return r
}

func fmtBody(tag, channels uint16, rate uint32, bits uint16) []byte {
	le := binary.LittleEndian
	frame := channels * ((bits + 7) / 8)
	b := le.AppendUint16(nil, tag)
	b = le.AppendUint16(b, channels)
	b = le.AppendUint32(b, rate)
	b = le.AppendUint32(b, rate*uint32(frame))
	b = le.AppendUint16(b, frame)
	return le.AppendUint16(b, bits)
}

func extensible(subformat uint16, channels uint16, rate uint32, container, valid uint16) []byte {
	b := fmtBody(formatExtensible, channels, rate, container)
	b = append(b, 22, 0, byte(valid), 0, 3, 0, 0, 0, byte(subformat), byte(subformat>>8))
	return append(b, "\x00\x00\x00\x00\x10\x00\x80\x00\x00\xAA\x00\x38\x9B\x71"...)
}

// ramp is n 16-bit samples 1, 2, 3, ... at 16 kHz.
func ramp(n int) []byte {
	var b []byte
	for i := range n {
		b = binary.LittleEndian.AppendUint16(b, uint16(i+1))
	}
	return b
}

func TestUnusualWAVFilesAreReadAsFarAsTheyGo(t *testing.T) {
	mono16 := fmtBody(formatInt, 1, 16000, 16)
	ds64 := func(size uint64) []byte {
		b := binary.LittleEndian.AppendUint64(make([]byte, 8), size)
		return append(b, make([]byte, 12)...)
	}
	s := ramp(16000) // one second
	for _, c := range []struct {
		name    string
		file    *riff
		samples int
		warning string // "" for none
	}{
		{"a plain file", newRIFF("RIFF").whole("fmt ", mono16).whole("data", s), 16000, ""},
		{"a bext and a LIST chunk stand before the data",
			newRIFF("RIFF").whole("bext", make([]byte, 603)).whole("fmt ", mono16).whole("LIST", []byte("INFOISFT\x03\x00\x00\x00ab\x00\x00")).whole("data", s), 16000, ""},
		{"the data chunk is odd and a LIST chunk follows its padding",
			newRIFF("RIFF").whole("fmt ", fmtBody(formatInt, 1, 16000, 8)).whole("data", bytes.Repeat([]byte{128}, 15999)).whole("LIST", []byte("INFO")), 15999, ""},
		{"the data chunk comes before the format",
			newRIFF("RIFF").whole("data", s).whole("fmt ", mono16), 16000, ""},
		{"an extensible header says 16-bit integers",
			newRIFF("RIFF").whole("fmt ", extensible(formatInt, 1, 16000, 16, 16)).whole("data", s), 16000, ""},
		{"the recorder never filled in the sizes",
			newRIFF("RIFF").whole("fmt ", mono16).chunk("data", 0, s), 16000, ""},
		{"the size is 0xFFFFFFFF, as from a pipe",
			newRIFF("RIFF").whole("fmt ", mono16).chunk("data", math.MaxUint32, s), 16000, ""},
		{"the size is 0x7FFFF000, as from sox into a pipe",
			newRIFF("RIFF").whole("fmt ", mono16).chunk("data", 0x7FFFF000, s), 16000, ""},
		{"RF64 has its size in ds64",
			newRIFF("RF64").whole("ds64", ds64(32000)).whole("fmt ", mono16).chunk("data", math.MaxUint32, s).whole("LIST", []byte("INFO")), 16000, ""},
		{"RF64 is cut short",
			newRIFF("RF64").whole("ds64", ds64(64000)).whole("fmt ", mono16).chunk("data", math.MaxUint32, s), 16000,
			"cut short: it ends at second 1.0, its header promises 2.0"},
		{"the file is cut short in the middle of a sample",
			newRIFF("RIFF").whole("fmt ", mono16).chunk("data", 320000, s[:31999]), 15999,
			"cut short: it ends at second 1.0, its header promises 10.0"},
		{"12-bit samples lie at the top of 16",
			newRIFF("RIFF").whole("fmt ", fmtBody(formatInt, 1, 16000, 12)).whole("data", s), 16000, ""},
		{"the frame size in the header is wrong",
			newRIFF("RIFF").whole("fmt ", slices.Concat(mono16[:12], []byte{7, 0}, mono16[14:])).whole("data", s), 16000, ""},
		{"junk follows the data",
			newRIFF("RIFF").whole("fmt ", mono16).whole("data", s).chunk("zzzz", 5, nil), 16000, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, src := listen(t, write(t, "lesson.wav", c.file.Bytes()))
			if len(got[0]) != c.samples {
				t.Fatalf("%d samples, want %d", len(got[0]), c.samples)
			}
			for i, v := range got[0] {
				want := float32(int16(i+1)) / 32768
				if src.Info().BitDepth == 8 {
					want = 0
				}
				if v != want {
					t.Fatalf("sample %d is %v, want %v", i, v, want)
				}
			}
			if d, want := src.Info().Duration, float64(c.samples)/16000; d != want {
				t.Errorf("duration %v, want %v", d, want)
			}
			if e, want := src.Elapsed(), float64(c.samples)/16000; e != want {
				t.Errorf("elapsed %v, want %v", e, want)
			}
			w := strings.Join(src.Warnings(), "\n")
			if c.warning == "" && w != "" || !strings.Contains(w, c.warning) {
				t.Errorf("warnings %q, want %q", w, c.warning)
			}
		})
	}
}

func TestFloatsBeyondMeasureAreTamed(t *testing.T) {
	var b []byte
	for _, v := range []float32{0.5, float32(math.NaN()), float32(math.Inf(1)), -3, -0.25} {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(v))
	}
	r := newRIFF("RIFF").whole("fmt ", fmtBody(formatFloat, 1, 16000, 32)).whole("data", b)
	got, s := listen(t, write(t, "f.wav", r.Bytes()))
	if want := []float32{0.5, 0, 1, -1, -0.25}; !slices.Equal(got[0], want) {
		t.Errorf("read %v, want %v", got[0], want)
	}
	if w := s.Warnings(); len(w) != 2 || !strings.HasPrefix(w[0], "1 samples are not numbers") || !strings.HasPrefix(w[1], "2 samples are louder") {
		t.Errorf("warnings %q", w)
	}
}

// A recorder that wraps its 32-bit size loses hours to a reader that believes it.
func TestSizeWrappedBeyondFourGigabytes(t *testing.T) {
	head := newRIFF("RIFF").whole("fmt ", fmtBody(formatInt, 2, 48000, 16)).chunk("data", 1000, nil).Bytes()
	size := int64(len(head)) + 2<<32 + 1000
	w, err := walkWAV(sparse(head), size)
	if err != nil {
		t.Fatal(err)
	}
	if w.length != 2<<32+1000 || len(w.warnings) != 1 {
		t.Errorf("length %d, warnings %q", w.length, w.warnings)
	}
}

// sparse is a file that is zero after its head.
type sparse []byte

func (s sparse) ReadAt(b []byte, at int64) (int, error) {
	clear(b)
	if at < int64(len(s)) {
		copy(b, s[at:])
	}
	return len(b), nil
}

func TestWhatIsNoRecordingSaysSoInOneLine(t *testing.T) {
	mono16 := fmtBody(formatInt, 1, 16000, 16)
	for _, c := range []struct {
		name, says string
		content    []byte
	}{
		{"an empty file", "the file is empty", nil},
		{"text renamed .wav", "this is text", []byte("Slow flight:\r\n\tcarb heat on, power back — then trim.\r\n")},
		{"a play list", "this is text", []byte("#EXTM3U\n#EXT-X-TARGETDURATION:10\n#EXTINF:10,\n/etc/hostname\n")},
		{"a header and nothing more", "no fmt chunk", newRIFF("RIFF").Bytes()},
		{"no data chunk", "no data chunk", newRIFF("RIFF").whole("fmt ", mono16).Bytes()},
		{"a data chunk of no samples", "holds no sound", newRIFF("RIFF").whole("fmt ", mono16).chunk("data", 0, nil).Bytes()},
		{"no samples, then a LIST chunk", "holds no sound", newRIFF("RIFF").whole("fmt ", mono16).chunk("data", 0, nil).whole("LIST", []byte("INFO")).Bytes()},
		{"a fmt chunk of 3 bytes", "fmt chunk of 3 bytes", newRIFF("RIFF").whole("fmt ", []byte{1, 0, 1}).whole("data", ramp(4)).Bytes()},
		{"a fmt chunk cut short", "cut short", newRIFF("RIFF").chunk("fmt ", 16, mono16[:9]).Bytes()},
		{"no channels", "0 channels", newRIFF("RIFF").whole("fmt ", fmtBody(formatInt, 0, 16000, 16)).whole("data", ramp(4)).Bytes()},
		{"65535 channels", "65535 channels", newRIFF("RIFF").whole("fmt ", fmtBody(formatInt, 65535, 16000, 16)).whole("data", ramp(4)).Bytes()},
		{"a sample rate of 0", "0 samples a second", newRIFF("RIFF").whole("fmt ", fmtBody(formatInt, 1, 0, 16)).whole("data", ramp(4)).Bytes()},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := write(t, "lesson.wav", c.content)
			s, err := Open(context.Background(), path)
			if err == nil {
				s.Close()
				t.Fatal("opened")
			}
			checkOneLine(t, err, path, c.says)
			if !errors.Is(err, ErrNotAudio) {
				t.Errorf("%v does not wrap ErrNotAudio", err)
			}
		})
	}
	t.Run("a folder", func(t *testing.T) {
		dir := t.TempDir()
		_, err := Open(context.Background(), dir)
		checkOneLine(t, err, dir, "folder")
		if !errors.Is(err, ErrNotAudio) {
			t.Errorf("%v does not wrap ErrNotAudio", err)
		}
	})
	t.Run("a file that is not there", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "gone.wav")
		_, err := Open(context.Background(), path)
		checkOneLine(t, err, path, "no such file")
		if !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%v does not wrap fs.ErrNotExist", err)
		}
	})
}

func checkOneLine(t *testing.T, err error, path, says string) {
	t.Helper()
	if err == nil {
		t.Fatal("no error")
	}
	msg := err.Error()
	if strings.Contains(msg, "\n") || !strings.Contains(msg, path) || !strings.Contains(msg, says) {
		t.Errorf("error %q, want one line naming %q and %q", msg, path, says)
	}
}

func TestReadEndsWithItsContext(t *testing.T) {
	path := write(t, "lesson.wav", newRIFF("RIFF").whole("fmt ", fmtBody(formatInt, 1, 16000, 16)).whole("data", ramp(16000*2)).Bytes())
	ctx, cancel := context.WithCancel(context.Background())
	s, err := Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if _, err := s.Read(); err != nil {
		t.Fatal(err)
	}
	cancel()
	for range 2 {
		if _, err := s.Read(); !errors.Is(err, context.Canceled) {
			t.Fatalf("reading after cancel: %v", err)
		}
	}
}

func TestReadAfterClose(t *testing.T) {
	s, err := Open(context.Background(), write(t, "l.wav", newRIFF("RIFF").whole("fmt ", fmtBody(formatInt, 1, 16000, 16)).whole("data", ramp(99)).Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.Read(); !errors.Is(err, os.ErrClosed) {
		t.Errorf("reading after Close: %v", err)
	}
}

func TestWriteWAVIsReadBackAndBySox(t *testing.T) {
	left, right := tone(Rate, 440, 0.9, 20000), tone(Rate, 880, 1.2, 20000) // the right is too loud
	var b bytes.Buffer
	if err := WriteWAV(&b, Rate, left, right); err != nil {
		t.Fatal(err)
	}
	path := write(t, "w.wav", b.Bytes())
	got, _ := listen(t, path)
	for i := range left {
		wantR := min(max(right[i], -1), 32767.0/32768)
		if math.Abs(float64(got[0][i]-left[i])) > 0.5/32768 || math.Abs(float64(got[1][i]-wantR)) > 0.5/32768 {
			t.Fatalf("frame %d: %v and %v, wrote %v and %v", i, got[0][i], got[1][i], left[i], right[i])
		}
	}
	if err := WriteWAV(io.Discard, Rate, left, right[1:]); err == nil {
		t.Error("channels of different lengths were written")
	}
	if err := WriteWAV(io.Discard, Rate); err == nil {
		t.Error("no channels were written")
	}
	need(t, "sox")
	sox := floats(run(t, "sox", path, "-t", "raw", "-e", "float", "-b", "32", "-"))
	if len(sox) != 40000 || sox[2000] != got[0][1000] {
		t.Errorf("sox reads %d samples, number 2000 as %v, want 40000 and %v", len(sox), sox[2000], got[0][1000])
	}
}

// FuzzOpenWAV feeds damaged WAV files. Whatever they hold, opening and reading
// must end, without panic, in samples within [-1,1] or one error.
func FuzzOpenWAV(f *testing.F) {
	mono16 := fmtBody(formatInt, 1, 16000, 16)
	f.Add(newRIFF("RIFF").whole("fmt ", mono16).whole("data", ramp(40)).Bytes())
	f.Add(newRIFF("RIFF").whole("fmt ", fmtBody(formatInt, 2, 44100, 24)).chunk("data", 0, ramp(60)).Bytes())
	f.Add(newRIFF("RIFF").whole("fmt ", fmtBody(formatInt, 1, 8000, 8)).whole("data", ramp(20)).Bytes())
	f.Add(newRIFF("RIFF").whole("fmt ", fmtBody(formatInt, 1, 11025, 32)).whole("data", ramp(30)).Bytes())
	f.Add(newRIFF("RIFF").whole("LIST", []byte("INFO")).whole("fmt ", extensible(formatFloat, 1, 48000, 32, 32)).chunk("data", math.MaxUint32, ramp(30)).Bytes())
	f.Add(newRIFF("RF64").whole("ds64", make([]byte, 28)).whole("fmt ", mono16).chunk("data", math.MaxUint32, ramp(30)).Bytes())
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, b []byte) {
		w, err := walkWAV(bytes.NewReader(b), int64(len(b)))
		if err != nil || !w.decodable() {
			return // what is left to ffmpeg is not ours to fuzz
		}
		if w.rate > 2*48000 {
			return // building a filter for a rate like 999,983 Hz is only slow
		}
		path := filepath.Join(dir, fmt.Sprint(time.Now().UnixNano()))
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		defer os.Remove(path)
		s, err := Open(context.Background(), path)
		if err != nil {
			t.Fatalf("its header was accepted: %v", err)
		}
		defer s.Close()
		samples := 0
		for {
			block, err := s.Read()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
			for _, plane := range block {
				if len(plane) != len(block[0]) {
					t.Fatalf("channels of %d and %d samples", len(block[0]), len(plane))
				}
				for _, v := range plane {
					if !(v >= -1 && v <= 1) {
						t.Fatalf("a sample is %v", v)
					}
				}
			}
			samples += len(block[0])
		}
		frames := int(w.length) / w.frameBytes()
		if want := (frames*Rate + w.rate - 1) / w.rate; samples != want {
			t.Fatalf("%d frames at %d Hz gave %d samples, want %d", frames, w.rate, samples, want)
		}
	})
}
