package audio

import (
	"bytes"
	"context"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// twoSeats is a 48 kHz stereo file with a burst of its own on each side: the
// left from 2.0 s to 2.3 s, the right from 4.0 s.
func twoSeats(t *testing.T) string {
	const rate = 48000
	left, right := make([]float32, 6*rate), make([]float32, 6*rate)
	copy(left[2*rate:], tone(rate, 500, 0.5, rate*3/10))
	copy(right[4*rate:], tone(rate, 800, 0.5, rate*3/10))
	var b bytes.Buffer
	if err := WriteWAV(&b, rate, left, right); err != nil {
		t.Fatal(err)
	}
	return write(t, "seats.wav", b.Bytes())
}

// encode makes the sound of one file.
func encode(ctx context.Context, path string, layout Layout, w io.Writer) (mime string, err error) {
	t, err := Load(ctx, path)
	if err != nil {
		return "", err
	}
	return t.Encode(ctx, Excerpt{Layouts: []Layout{layout}}, w)
}

// onset is the second at which x first rises to a fifth of full scale.
func onset(x []float32) float64 {
	for i, v := range x {
		if math.Abs(float64(v)) > 0.2 {
			return float64(i) / Rate
		}
	}
	return math.NaN()
}

func TestEncodedSoundIsWhereItWasInTheRecording(t *testing.T) {
	need(t, "ffmpeg", "ffprobe")
	path := twoSeats(t)
	for _, c := range []struct {
		name     string
		use      []int
		channels int
		onsets   []float64
		kbps     float64
	}{
		{"the left side", []int{0}, 1, []float64{2}, monoKbps},
		{"the right side", []int{1}, 1, []float64{4}, monoKbps},
		{"both sides, apart", []int{0, 1}, 2, []float64{2, 4}, stereoKbps},
	} {
		t.Run(c.name, func(t *testing.T) {
			var b bytes.Buffer
			mime, err := encode(context.Background(), path, Layout{Use: c.use}, &b)
			if err != nil {
				t.Fatal(err)
			}
			if mime != "audio/mpeg" {
				t.Fatalf("encoded as %s, want audio/mpeg", mime)
			}
			if got := float64(b.Len()) * 8 / 6 / 1000; got > c.kbps*1.1 {
				t.Errorf("%.1f kb/s, want about %.0f", got, c.kbps)
			}
			got, s := listen(t, write(t, "embedded.mp3", b.Bytes()))
			if s.Info().Format != "mp3" || len(got) != c.channels {
				t.Fatalf("it is %+v", s.Info())
			}
			for i, want := range c.onsets {
				// 500 Hz reaches a fifth of full scale 0.15 ms after its start.
				if at := onset(got[i]); !(math.Abs(at-want) < 0.005) {
					t.Errorf("channel %d starts at %.4f s, want %.4f s", i, at, want)
				}
			}
		})
	}
}

func TestWithoutFFmpegSoundIsEncodedAsWAV(t *testing.T) {
	path := twoSeats(t)
	want, _ := listen(t, path)
	t.Setenv("PATH", t.TempDir())
	var b bytes.Buffer
	mime, err := encode(context.Background(), path, Layout{Use: []int{1}}, &b)
	if err != nil || mime != "audio/wav" {
		t.Fatalf("encoded as %q, %v", mime, err)
	}
	got, s := listen(t, write(t, "embedded.wav", b.Bytes()))
	if i := s.Info(); i.SampleRate != Rate || i.Channels != 1 || i.Duration != 6 || len(s.Warnings()) != 0 {
		t.Errorf("it is %+v, warnings %q", i, s.Warnings())
	}
	for i, v := range want[1] {
		if math.Abs(float64(v-got[0][i])) > 0.5/32768 {
			t.Fatalf("sample %d is %v, want %v", i, got[0][i], v)
		}
	}
}

func TestMoreThanTwoChannelsAreMixedIntoOne(t *testing.T) {
	var b bytes.Buffer
	if err := WriteWAV(&b, Rate, []float32{0.3, 0}, []float32{0.3, 0.6}, []float32{0.3, 0.3}, []float32{1, 1}); err != nil {
		t.Fatal(err)
	}
	path := write(t, "four.wav", b.Bytes())
	t.Setenv("PATH", t.TempDir())
	var out bytes.Buffer
	if _, err := encode(context.Background(), path, Layout{Use: []int{0, 1, 2}}, &out); err != nil {
		t.Fatal(err)
	}
	got, _ := listen(t, write(t, "mix.wav", out.Bytes()))
	if len(got) != 1 || math.Abs(float64(got[0][0])-0.3) > 1e-4 || math.Abs(float64(got[0][1])-0.3) > 1e-4 {
		t.Errorf("mixed into %v, want one channel of 0.3", got)
	}
}

func TestTwoSeatsAreMixedIntoOneWhereAsked(t *testing.T) {
	path := wavOf(t, "two.wav", Rate, []float32{0.5, 0, 0.2}, []float32{0, 0.5, 0.4})
	t.Setenv("PATH", t.TempDir())
	var out bytes.Buffer
	e := Excerpt{Layouts: []Layout{{Use: []int{0, 1}}}, Mix: true}
	if _, err := load(t, path).Encode(context.Background(), e, &out); err != nil {
		t.Fatal(err)
	}
	got, _ := listen(t, write(t, "mix.wav", out.Bytes()))
	for i, want := range []float64{0.25, 0.25, 0.3} {
		if len(got) != 1 || math.Abs(float64(got[0][i])-want) > 1e-4 {
			t.Fatalf("mixed into %v, want one channel of 0.25, 0.25, 0.3", got)
		}
	}
}

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, errors.New("no space left") }

func TestEncodingFailsInOneLine(t *testing.T) {
	path := twoSeats(t)
	check := func(name string, err error, says string) {
		t.Helper()
		if err == nil || !strings.Contains(err.Error(), says) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: error %v, want one line with %q", name, err, says)
		}
	}
	ctx := context.Background()
	_, err := encode(ctx, path, Layout{Use: []int{2}}, io.Discard)
	check("a channel that is not there", err, "names channel 3 of 2")
	_, err = encode(ctx, path, Layout{}, io.Discard)
	check("no channel", err, "names no channel")
	_, err = encode(ctx, path, Layout{Use: []int{0}}, fullDisk{})
	check("a full disk", err, "no space left")
	_, err = encode(ctx, filepath.Join(t.TempDir(), "gone.wav"), Layout{Use: []int{0}}, io.Discard)
	if !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a file that is not there: %v", err)
	}
	cancelled, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := encode(cancelled, path, Layout{Use: []int{0}}, io.Discard); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}
