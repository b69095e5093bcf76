package audio

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"
)

func TestOtherFormatsComeThroughFFmpeg(t *testing.T) {
	need(t, "sox", "ffmpeg", "ffprobe")
	lossless := lesson(t, "44100", "-b", "16", "-c", "2")
	want, _ := listen(t, lossless)
	for _, c := range []struct {
		name, format string
		args         []string
		exact        bool
		bits         int
	}{
		{"FLAC", "flac", []string{"-c:a", "flac", "-f", "flac"}, true, 16},
		{"FLAC named .wav", "flac", []string{"-c:a", "flac", "-f", "flac"}, true, 16},
		{"AIFF", "pcm_s16be", []string{"-c:a", "pcm_s16be", "-f", "aiff"}, true, 16},
		{"64-bit float WAV", "pcm_f64le", []string{"-c:a", "pcm_f64le", "-f", "wav"}, true, 64},
		{"µ-law WAV", "pcm_mulaw", []string{"-c:a", "pcm_mulaw", "-f", "wav"}, false, 8},
		{"MP3", "mp3", []string{"-c:a", "libmp3lame", "-f", "mp3"}, false, 0},
		{"AAC in MP4", "aac", []string{"-c:a", "aac", "-f", "mp4"}, false, 0},
		{"Apple lossless in M4A, a voice memo", "alac", []string{"-c:a", "alac", "-f", "ipod"}, true, 16},
		{"PCM in MOV beside a film", "pcm_s16le", []string{"-f", "lavfi", "-i", "color=size=64x64:rate=5:duration=1.3", "-c:v", "mpeg4", "-c:a", "pcm_s16le", "-map", "1:v", "-map", "0:a", "-f", "mov"}, true, 16},
		{"AAC in MP4 beside a film", "aac", []string{"-f", "lavfi", "-i", "color=size=64x64:rate=5:duration=1.3", "-c:v", "mpeg4", "-c:a", "aac", "-map", "1:v", "-map", "0:a", "-f", "mp4"}, false, 0},
		{"PCM in Matroska", "pcm_s16le", []string{"-c:a", "pcm_s16le", "-f", "matroska"}, true, 16},
		{"Vorbis in Ogg", "vorbis", []string{"-c:a", "libvorbis", "-f", "ogg"}, false, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "-lesson.wav") // a name ffmpeg could take for an option
			run(t, "ffmpeg", append(append([]string{"-v", "error", "-i", lossless}, c.args...), "file:"+path)...)
			got, s := listen(t, path)
			info := s.Info()
			if info.Format != c.format || info.Channels != 2 || info.SampleRate != 44100 || info.BitDepth != c.bits {
				t.Errorf("read as %+v", info)
			}
			if info.Duration < 1.29 || info.Duration > 1.45 {
				t.Errorf("duration %v, want about 1.3", info.Duration)
			}
			if w := s.Warnings(); len(w) > 0 {
				t.Errorf("warnings %q", w)
			}
			if !c.exact {
				if n, m := len(got[0]), len(want[0]); n < m-100 || n > m+2000 {
					t.Errorf("%d samples, want about %d", n, m)
				}
				return
			}
			if len(got[0]) != len(want[0]) {
				t.Fatalf("%d samples, want %d", len(got[0]), len(want[0]))
			}
			for ch := range want {
				for i := range want[ch] {
					if got[ch][i] != want[ch][i] {
						t.Fatalf("sample %d of channel %d is %v, want %v", i, ch, got[ch][i], want[ch][i])
					}
				}
			}
		})
	}
}

// Opus knows 48 kHz only, so it has a test of its own.
func TestOpusComesThroughFFmpeg(t *testing.T) {
	need(t, "sox", "ffmpeg", "ffprobe")
	from := lesson(t, "48000", "-b", "16", "-c", "2")
	want, _ := listen(t, from)
	for _, format := range []string{"ogg", "webm", "matroska"} {
		path := filepath.Join(t.TempDir(), "l."+format)
		run(t, "ffmpeg", "-v", "error", "-i", from, "-c:a", "libopus", "-f", format, path)
		got, s := listen(t, path)
		if i := s.Info(); i.Format != "opus" || i.Channels != 2 || i.SampleRate != 48000 || len(s.Warnings()) > 0 {
			t.Errorf("%s: read as %+v, warnings %q", format, i, s.Warnings())
		}
		if n, m := len(got[0]), len(want[0]); n < m-400 || n > m+400 {
			t.Errorf("%s: %d samples, want about %d", format, n, m)
		}
	}
}

// What ffmpeg reads is never put down on the disk as a whole, however long it is.
func TestSoundFromFFmpegIsStreamed(t *testing.T) {
	need(t, "sox", "ffmpeg", "ffprobe")
	dir, temp := t.TempDir(), t.TempDir()
	path := filepath.Join(dir, "l.flac")
	run(t, "sox", "-R", "-n", "-r", "48000", "-c", "2", "-b", "16", path, "synth", "300", "sine", "440")
	t.Setenv("TMPDIR", temp)
	s, err := Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for s.Elapsed() < 150 {
		if _, err := s.Read(); err != nil {
			t.Fatal(err)
		}
	}
	for _, d := range []string{dir, temp} {
		entries, err := os.ReadDir(d)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			if e.Name() != "l.flac" {
				t.Errorf("%s appeared", e.Name())
			}
		}
	}
}

func TestFilesFFmpegCannotReadSaySoInOneLine(t *testing.T) {
	need(t, "ffmpeg", "ffprobe")
	noise := make([]byte, 5000)
	for i := range noise {
		noise[i] = byte(i * i * 7)
	}
	path := write(t, "lesson.mp4", noise)
	_, err := Open(context.Background(), path)
	checkOneLine(t, err, path, "ffmpeg cannot read it")
	if !errors.Is(err, ErrNotAudio) {
		t.Errorf("%v does not wrap ErrNotAudio", err)
	}

	film := filepath.Join(t.TempDir(), "silent.mp4")
	run(t, "ffmpeg", "-v", "error", "-f", "lavfi", "-i", "color=size=64x64:duration=0.2", "-c:v", "mpeg4", film)
	_, err = Open(context.Background(), film)
	checkOneLine(t, err, film, "no sound track")
	if !errors.Is(err, ErrNotAudio) {
		t.Errorf("%v does not wrap ErrNotAudio", err)
	}
}

func TestWithoutFFmpegTheErrorSaysWhatToInstall(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	path := write(t, "lesson.m4a", []byte("\x00\x00\x00\x18ftypM4A \x00\x00\x00\x00"))
	_, err := Open(context.Background(), path)
	checkOneLine(t, err, path, "install it")
	if !errors.Is(err, ErrNoFFmpeg) {
		t.Errorf("%v does not wrap ErrNoFFmpeg", err)
	}
	// A plain WAV file needs no ffmpeg.
	plain := newRIFF("RIFF").whole("fmt ", fmtBody(formatInt, 1, 16000, 16)).whole("data", ramp(99)).Bytes()
	if got, _ := listen(t, write(t, "plain.wav", plain)); len(got[0]) != 99 {
		t.Errorf("a plain WAV file gave %d samples, want 99", len(got[0]))
	}
}

func TestATruncatedCompressedFileIsReadAsFarAsItGoes(t *testing.T) {
	need(t, "sox", "ffmpeg", "ffprobe")
	path := filepath.Join(t.TempDir(), "l.flac")
	run(t, "sox", "-R", "-n", "-r", "16000", "-b", "16", path, "synth", "20", "pinknoise")
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	got, s := listen(t, write(t, "cut.flac", whole[:len(whole)/2]))
	if n := len(got[0]); n < 8*Rate || n > 12*Rate {
		t.Errorf("%d samples of half a file of 20 s", n)
	}
	if w := s.Warnings(); len(w) != 1 || !strings.Contains(w[0], "ffmpeg") && !strings.Contains(w[0], "cut short") {
		t.Errorf("warnings %q", w)
	}
}

// ffmpeg does not outlive its reader: not when it is closed half-way, not when
// the context ends.
func TestFFmpegEndsWithItsReader(t *testing.T) {
	need(t, "sox", "ffmpeg", "ffprobe")
	path := filepath.Join(t.TempDir(), "long.flac")
	run(t, "sox", "-n", "-r", "16000", "-b", "16", path, "synth", "120", "sine", "440")
	before := runtime.NumGoroutine()
	for _, end := range []string{"closed", "cancelled"} {
		ctx, cancel := context.WithCancel(context.Background())
		s, err := Open(ctx, path)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := s.Read(); err != nil {
			t.Fatal(err)
		}
		if end == "cancelled" {
			cancel()
			start := time.Now()
			for err == nil {
				_, err = s.Read()
			}
			if !errors.Is(err, context.Canceled) {
				t.Errorf("reading after cancel: %v", err)
			}
			if took := time.Since(start); took > 5*time.Second {
				t.Errorf("cancel took %v", took)
			}
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		if s.pcm.(*ffmpegPCM).cmd.ProcessState == nil {
			t.Errorf("ffmpeg is still there once its reader is %s", end)
		}
		cancel()
	}
	for deadline := time.Now().Add(5 * time.Second); runtime.NumGoroutine() > before; time.Sleep(10 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatalf("%d goroutines before, %d after", before, runtime.NumGoroutine())
		}
	}
}

// FuzzProbe reads what ffprobe might answer: something to open, or an error.
func FuzzProbe(f *testing.F) {
	f.Add([]byte(`{"streams":[{"codec_name":"aac","sample_rate":"48000","channels":2,"bits_per_sample":0,"duration":"12.5","tags":{"creation_time":"2026-05-01T14:32:05.000000Z"}}],"format":{"duration":"12.6","tags":{}}}`))
	f.Add([]byte(`{"streams":[{"codec_name":"pcm_s16be","sample_rate":"44100","channels":1,"bits_per_raw_sample":"16"}],"format":{"duration":"N/A"}}`))
	f.Add([]byte(`{"streams":[{"sample_rate":"-1","channels":1e9,"duration":"NaN"}]}`))
	f.Add([]byte(`{"streams":[]}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		i, err := readProbe("lesson.m4a", b)
		if err != nil {
			if !strings.Contains(err.Error(), "lesson.m4a") {
				t.Errorf("the error does not name the file: %v", err)
			}
			return
		}
		if i.Channels < 1 || i.Channels > maxChannels || i.SampleRate < minRate || i.SampleRate > maxRate || !(i.Duration >= 0 && i.Duration < 1e9) {
			t.Errorf("%+v", i)
		}
		if i.Began != nil && i.Began.Time.Before(earliest) {
			t.Errorf("began %v", i.Began.Time)
		}
	})
}
