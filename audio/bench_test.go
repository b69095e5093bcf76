package audio

import (
	"context"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	goaudio "github.com/go-audio/audio"
	"github.com/go-audio/wav"
)

// benchLesson is a 48 kHz 16-bit stereo file of noise, an hour long, or as many
// seconds as SIDETONE_BENCH_SECONDS says.
func benchLesson(b *testing.B) (path string, seconds int) {
	seconds = 3600
	if s, err := strconv.Atoi(os.Getenv("SIDETONE_BENCH_SECONDS")); err == nil {
		seconds = s
	}
	path = filepath.Join(b.TempDir(), "lesson.wav")
	f, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	const rate = 48000
	second := make([]byte, rate*4)
	rng := rand.New(rand.NewPCG(1, 1))
	for i := range second {
		second[i] = byte(rng.Uint32())
	}
	f.Write(wavHeader(rate, 2, 16, int64(seconds*len(second))))
	for range seconds {
		if _, err := f.Write(second); err != nil {
			b.Fatal(err)
		}
	}
	return path, seconds
}

func perSecond(b *testing.B, seconds int) {
	b.ReportMetric(float64(b.N*seconds)/b.Elapsed().Seconds(), "s/s")
}

// BenchmarkListen is opening, decoding, mixing to one channel and resampling a
// whole recording, next to what ffmpeg and sox take for the same, at their own
// default quality and sox at its best, none with more than two threads. "Apart"
// keeps both channels, as a lesson with a seat on each is heard. s/s is seconds
// of recording per second.
func BenchmarkListen(b *testing.B) {
	path, seconds := benchLesson(b)
	for name, want := range map[string]Wanted{"sidetone": {Mix: true}, "sidetone, channels apart": {}} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				s, err := load(b, path).Open(context.Background(), want)
				if err != nil {
					b.Fatal(err)
				}
				for err == nil {
					_, err = s.Read()
				}
				if err != io.EOF {
					b.Fatal(err)
				}
				s.Close()
			}
			perSecond(b, seconds)
		})
	}
	for _, tool := range []struct {
		name string
		args []string
	}{
		{"ffmpeg -ar 16000 -ac 1", []string{"ffmpeg", "-v", "error", "-nostdin", "-y", "-threads", "2", "-i", path, "-ar", "16000", "-ac", "1", "-f", "s16le", os.DevNull}},
		{"ffmpeg with soxr -ar 16000 -ac 1", []string{"ffmpeg", "-v", "error", "-nostdin", "-y", "-threads", "2", "-i", path, "-af", "aresample=resampler=soxr", "-ar", "16000", "-ac", "1", "-f", "s16le", os.DevNull}},
		{"sox -r 16000 -c 1", []string{"sox", path, "-r", "16000", "-c", "1", "-t", "raw", os.DevNull}},
		{"sox -c 1 rate -v 16000", []string{"sox", path, "-c", "1", "-t", "raw", os.DevNull, "rate", "-v", "16000"}},
	} {
		b.Run(tool.name, func(b *testing.B) {
			need(b, tool.args[0])
			for b.Loop() {
				if out, err := exec.Command(tool.args[0], tool.args[1:]...).CombinedOutput(); err != nil {
					b.Fatalf("%v: %s", err, out)
				}
			}
			perSecond(b, seconds)
		})
	}
}

// BenchmarkDecode is reading samples without resampling: 16-bit by our own
// code, 24-bit through go-audio, and 16-bit by go-audio alone.
func BenchmarkDecode(b *testing.B) {
	path, seconds := benchLesson(b)
	ours := func(path string, seconds int) func(*testing.B) {
		return func(b *testing.B) {
			for b.Loop() {
				s := openRaw(b, path)
				var err error
				for err == nil {
					_, err = s.Read()
				}
				s.Close()
			}
			perSecond(b, seconds)
		}
	}
	b.Run("16-bit", ours(path, seconds))
	b.Run("24-bit", func(b *testing.B) {
		f, err := os.ReadFile(path)
		if err != nil {
			b.Fatal(err)
		}
		// The same bytes taken for 24-bit samples make two thirds as many seconds.
		copy(f, wavHeader(48000, 2, 24, int64(len(f)-44)))
		ours(write(b, "24.wav", f), seconds*2/3)(b)
	})
	b.Run("16-bit by go-audio", func(b *testing.B) {
		buf := &goaudio.IntBuffer{Data: make([]int, 48000)}
		for b.Loop() {
			f, err := os.Open(path)
			if err != nil {
				b.Fatal(err)
			}
			d := wav.NewDecoder(f)
			for n := 1; n > 0; {
				if n, err = d.PCMBuffer(buf); err != nil {
					b.Fatal(err)
				}
			}
			f.Close()
		}
		perSecond(b, seconds)
	})
}

func BenchmarkSurvey(b *testing.B) {
	path, seconds := benchLesson(b)
	for b.Loop() {
		if _, err := load(b, path).Survey(context.Background()); err != nil {
			b.Fatal(err)
		}
	}
	perSecond(b, seconds)
}

func BenchmarkPeaks(b *testing.B) {
	x := tone(Rate, 440, 0.5, Rate)
	p := NewPeaks(2000)
	for b.Loop() {
		p.Add(x)
	}
	perSecond(b, 1)
}
