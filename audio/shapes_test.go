package audio

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// probed is what ffprobe says of a file.
func probed(t *testing.T, path string) (duration float64, channels, rate int, tags map[string]string) {
	t.Helper()
	var found struct {
		Streams []struct {
			Channels int
			Rate     string `json:"sample_rate"`
		}
		Format struct {
			Duration string
			Tags     map[string]string
		}
	}
	out := run(t, "ffprobe", "-v", "error", "-of", "json", "-show_streams", "-show_format", path)
	if err := json.Unmarshal(out, &found); err != nil {
		t.Fatal(err)
	}
	duration, _ = strconv.ParseFloat(found.Format.Duration, 64)
	rate, _ = strconv.Atoi(found.Streams[0].Rate)
	return duration, found.Streams[0].Channels, rate, found.Format.Tags
}

// Files other programs write, in each shape, read here as ffmpeg reads them.
func TestWAVInEveryShapeReadsAsFFmpegReadsIt(t *testing.T) {
	need(t, "sox", "ffmpeg", "ffprobe")
	plain := lesson(t, "48000", "-b", "16", "-c", "2")
	for _, c := range []struct {
		name      string
		args      []string
		container string
	}{
		{"RF64", []string{"-rf64", "always", "-c:a", "pcm_s16le"}, "rf64"},
		{"RF64 of 24 bits and six channels, so extensible", []string{"-rf64", "always", "-c:a", "pcm_s24le", "-ac", "6"}, "rf64"},
		{"extensible of four channels", []string{"-c:a", "pcm_s16le", "-ac", "4"}, "wav"},
		{"32-bit float with a bext chunk before the data", []string{"-write_bext", "1", "-metadata", "description=cockpit", "-c:a", "pcm_f32le"}, "wav"},
		{"a LIST chunk of odd length before the data", []string{"-metadata", "title=circuits", "-metadata", "comment=abc", "-c:a", "pcm_s16le"}, "wav"},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "l.wav")
			run(t, "ffmpeg", slices.Concat([]string{"-v", "error", "-i", plain}, c.args, []string{path})...)
			seconds, channels, rate, _ := probed(t, path)
			want := floats(run(t, "ffmpeg", "-v", "error", "-i", path, "-f", "f32le", "-c:a", "pcm_f32le", "-"))
			got, s := rawAll(t, path)
			i := s.Info()
			if i.Format != c.container || i.Channels != channels || i.SampleRate != rate || math.Abs(i.Duration-seconds) > 1e-6 {
				t.Errorf("read as %+v; ffprobe says %d channels, %d Hz, %v s", i, channels, rate, seconds)
			}
			if len(s.Warnings()) > 0 {
				t.Errorf("warnings %q", s.Warnings())
			}
			if len(got[0])*channels != len(want) {
				t.Fatalf("%d frames, ffmpeg reads %d", len(got[0]), len(want)/channels)
			}
			for k, v := range want {
				if g := got[k%channels][k/channels]; g != v {
					t.Fatalf("frame %d, channel %d: %v, ffmpeg reads %v", k/channels, k%channels, g, v)
				}
			}
		})
	}
	t.Run("from a pipe, with sizes of 0xFFFFFFFF", func(t *testing.T) {
		piped := run(t, "ffmpeg", "-v", "error", "-i", plain, "-f", "wav", "-")
		want, _ := rawAll(t, plain)
		got, s := rawAll(t, write(t, "piped.wav", piped))
		if len(got[0]) != len(want[0]) || !slices.Equal(got[1], want[1]) || len(s.Warnings()) > 0 {
			t.Errorf("%d frames, want %d; warnings %q", len(got[0]), len(want[0]), s.Warnings())
		}
	})
}

// huge makes a sparse RF64 file of more than 5 GB whose last samples are a ramp.
func huge(t *testing.T) (path string, frames int64) {
	const rate, frame = 48000, 4
	frames = 5 << 30 / frame / 2 * 2
	size := frames * frame
	ds64 := binary.LittleEndian.AppendUint64(nil, uint64(size+80))
	ds64 = binary.LittleEndian.AppendUint64(ds64, uint64(size))
	ds64 = binary.LittleEndian.AppendUint64(ds64, uint64(frames))
	ds64 = append(ds64, 0, 0, 0, 0)
	head := newRIFF("RF64").whole("ds64", ds64).whole("fmt ", fmtBody(formatInt, 2, rate, 16)).chunk("data", math.MaxUint32, nil).Bytes()
	path = write(t, "huge.wav", head)
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	end := int64(len(head)) + size
	if err := f.Truncate(end); err != nil {
		t.Skip("this file system takes no file of 5 GB:", err)
	}
	if _, err := f.WriteAt(ramp(2000), end-4000); err != nil {
		t.Fatal(err)
	}
	return path, frames
}

func TestBeyondFourGigabytesSoundIsReadWhereFFmpegReadsIt(t *testing.T) {
	need(t, "ffmpeg", "ffprobe")
	path, frames := huge(t)
	seconds, _, _, _ := probed(t, path)
	tape := load(t, path)
	if i := tape.Parts[0].Info; i.Format != "rf64" || math.Abs(i.Duration-seconds) > 1e-3 || i.Duration < 7*3600 {
		t.Errorf("read as %+v, ffprobe says %v s", i, seconds)
	}
	p, err := tape.Parts[0].open(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	defer p.close()
	// The hours before would only take time.
	const last = 1500
	w := p.(*wavPCM)
	if _, err := w.data.(io.Seeker).Seek((frames-last)*4, io.SeekStart); err != nil {
		t.Fatal(err)
	}
	w.frames = frames - last
	dst := [][]float32{make([]float32, 48000), make([]float32, 48000)}
	n, err := p.read(dst)
	if err != nil || n != last {
		t.Fatalf("%d frames read of the last %d: %v", n, last, err)
	}
	raw := run(t, "ffmpeg", "-v", "error", "-ss", strconv.FormatFloat(seconds-0.5, 'f', 6, 64), "-i", path, "-f", "f32le", "-")
	want := floats(raw)
	want = want[len(want)-2*last:]
	for i := range last {
		if dst[0][i] != want[2*i] || dst[1][i] != want[2*i+1] {
			t.Fatalf("frame %d before the end: %v and %v, ffmpeg reads %v and %v", last-i, dst[0][i], dst[1][i], want[2*i], want[2*i+1])
		}
	}
	if dst[1][last-1] != 2000.0/32768 {
		t.Errorf("the last sample is %v, written was %v", dst[1][last-1], 2000.0/32768)
	}
	if _, err := p.read(dst); err != io.EOF || len(p.warnings()) > 0 {
		t.Errorf("after the last: %v, warnings %q", err, p.warnings())
	}
}

func TestSoundBehindAChunkOfFourGigabytesIsFound(t *testing.T) {
	head := newRIFF("RIFF").whole("fmt ", fmtBody(formatInt, 1, 16000, 16)).chunk("JUNK", math.MaxUint32-1, nil).Bytes()
	path := write(t, "junk.wav", head)
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	data := append([]byte("data\x00\x02\x00\x00"), ramp(256)...)
	if _, err := f.WriteAt(data, int64(len(head))+math.MaxUint32-1); err != nil {
		t.Skip("this file system takes no file of 4 GB:", err)
	}
	got, s := listen(t, path)
	if len(got[0]) != 256 || got[0][255] != 256.0/32768 || len(s.Warnings()) > 0 {
		t.Errorf("%d samples, warnings %q", len(got[0]), s.Warnings())
	}
}

// bextChunk is the body of a bext chunk with that date, time and count.
func bextChunk(date, clock string, samples uint64) []byte {
	b := make([]byte, 602)
	copy(b, "A lesson")
	copy(b[bextDate:], date+clock)
	binary.LittleEndian.PutUint64(b[bextDate+18:], samples)
	return b
}

func TestAWAVFileTellsWhenItBegan(t *testing.T) {
	const rate = 48000
	at := func(s string) *time.Time {
		v, err := time.Parse("2006-01-02T15:04:05.999", s)
		if err != nil {
			t.Fatal(err)
		}
		return &v
	}
	mono := fmtBody(formatInt, 1, rate, 16)
	s := ramp(96)
	for _, c := range []struct {
		name  string
		file  *riff
		want  *time.Time
		exact bool
	}{
		{"no bext chunk", newRIFF("RIFF").whole("fmt ", mono).whole("data", s), nil, false},
		{"a bext chunk, an iXML and a LIST before the data",
			newRIFF("RIFF").whole("bext", bextChunk("2026-05-01", "14:32:05", 0)).whole("iXML", []byte("<BWFXML/>")).whole("LIST", []byte("INFO")).whole("fmt ", mono).whole("data", s),
			at("2026-05-01T14:32:05"), false},
		{"its count of samples is finer",
			newRIFF("RIFF").whole("bext", bextChunk("2026-05-01", "14:32:05", (14*3600+32*60+5)*rate+rate/4)).whole("fmt ", mono).whole("data", s),
			at("2026-05-01T14:32:05.25"), true},
		{"its count of samples is that of another clock",
			newRIFF("RIFF").whole("bext", bextChunk("2026-05-01", "14:32:05", 3600*rate)).whole("fmt ", mono).whole("data", s),
			at("2026-05-01T14:32:05"), false},
		{"other separators, as the standard allows",
			newRIFF("RIFF").whole("bext", bextChunk("2026_05_01", "14.32.05", 0)).whole("fmt ", mono).whole("data", s),
			at("2026-05-01T14:32:05"), false},
		{"after the sound", newRIFF("RIFF").whole("fmt ", mono).whole("data", ramp(97)[:193]).whole("LIST", []byte("INFO")).whole("bext", bextChunk("2026-05-01", "14:32:05", 0)),
			at("2026-05-01T14:32:05"), false},
		{"a clock that was never set", newRIFF("RIFF").whole("bext", bextChunk("1980-01-01", "00:00:00", 0)).whole("fmt ", mono).whole("data", s), nil, false},
		{"no date at all", newRIFF("RIFF").whole("bext", make([]byte, 602)).whole("fmt ", mono).whole("data", s), nil, false},
		{"a bext chunk cut short", newRIFF("RIFF").whole("bext", bextChunk("2026-05-01", "14:32:05", 0)[:330]).whole("fmt ", mono).whole("data", s), nil, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := load(t, write(t, "l.wav", c.file.Bytes())).Parts[0].Info.Began
			switch {
			case (got == nil) != (c.want == nil):
				t.Fatalf("began %+v, want %v", got, c.want)
			case got != nil && (!got.Time.Equal(*c.want) || got.Exact != c.exact || got.Zone || got.From != "bext"):
				t.Errorf("began %+v, want %v", got, c.want)
			}
		})
	}
}

// What ffmpeg writes as the time of a recording, ffprobe reads it as.
func TestTheTimeARecordingBeganIsWhatFFprobeSays(t *testing.T) {
	need(t, "ffmpeg", "ffprobe")
	dir := t.TempDir()
	source := []string{"-v", "error", "-f", "lavfi", "-i", "sine=duration=0.2:sample_rate=48000"}
	record := func(name string, args ...string) (string, *Began) {
		path := filepath.Join(dir, name)
		run(t, "ffmpeg", slices.Concat(source, args, []string{path})...)
		return path, load(t, path).Parts[0].Info.Began
	}
	for _, name := range []string{"memo.m4a", "film.mp4", "film.mov", "film.mkv"} {
		path, b := record(name, "-metadata", "creation_time=2026-05-01T14:32:05Z")
		_, _, _, tags := probed(t, path)
		if b == nil || !b.Zone || b.From != "creation_time" || b.Time.UTC().Format("2006-01-02T15:04:05.000000Z") != tags["creation_time"] {
			t.Errorf("%s began %+v, ffprobe says %q", name, b, tags["creation_time"])
		}
	}
	path, b := record("recorder.wav", "-write_bext", "1", "-metadata", "origination_date=2026-05-01", "-metadata", "origination_time=14:32:05", "-metadata", "time_reference=2511612000")
	_, _, _, tags := probed(t, path)
	reference, _ := strconv.ParseFloat(tags["time_reference"], 64)
	midnight := time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC)
	if b == nil || b.Time.Format("2006-01-02") != tags["date"] || b.Time.Format("15:04:05") != tags["creation_time"] || b.Time.Sub(midnight).Seconds() != reference/48000 {
		t.Errorf("%s began %+v, ffprobe says %v", path, b, tags)
	}
	if _, b := record("phone.mov", "-movflags", "use_metadata_tags", "-metadata", "creation_time=2026-05-01T12:32:05Z", "-metadata", "com.apple.quicktime.creationdate=2026-05-01T14:32:05+0200"); b == nil || b.From != "com.apple.quicktime.creationdate" || b.Time.Format(time.RFC3339) != "2026-05-01T14:32:05+02:00" {
		t.Errorf("a film with its zone began %+v", b)
	}
	if _, b := record("no-clock.m4a"); b != nil {
		t.Errorf("a file that does not say began %+v", b)
	}
	if _, b := record("unset.m4a", "-metadata", "creation_time=1970-01-01T00:00:00Z"); b != nil {
		t.Errorf("a clock that was never set began %+v", b)
	}
}

// FuzzBext reads what stands in a bext chunk, whatever it is.
func FuzzBext(f *testing.F) {
	f.Add(bextChunk("2026-05-01", "14:32:05", 2511612000), 48000)
	f.Add(bextChunk("0000-00-00", "99:99:99", math.MaxUint64), 1)
	f.Add([]byte("short"), 0)
	f.Fuzz(func(t *testing.T, body []byte, rate int) {
		b, ok := readBext(bytes.NewReader(body), 0, int64(len(body)))
		if !ok {
			return
		}
		began := b.began(rate)
		if d := began.Time.Sub(b.at); d < -2*time.Second || d > 2*time.Second {
			t.Errorf("%v became %v", b.at, began.Time)
		}
		if y := began.Time.Year(); y < 1994 || y > 9999 || strings.ContainsAny(began.Time.Format(time.RFC3339), "?!") {
			t.Errorf("began in the year %d", y)
		}
	})
}
