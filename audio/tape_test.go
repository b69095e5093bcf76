package audio

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// drainTape reads a tape, whatever its parts: one slice per channel, by part.
func drainTape(tb testing.TB, s *Source) (parts [][][]float32) {
	tb.Helper()
	for {
		block, err := s.Read()
		if err == io.EOF {
			return parts
		}
		if err != nil {
			tb.Fatal(err)
		}
		for len(parts) <= s.Part() {
			parts = append(parts, nil)
		}
		p := &parts[s.Part()]
		if *p == nil {
			*p = make([][]float32, len(block))
		}
		for c := range block {
			(*p)[c] = append((*p)[c], block[c]...)
		}
	}
}

func noiseOf(seed uint64, n int) []float32 {
	rng := rand.New(rand.NewPCG(seed, 9))
	x := make([]float32, n)
	for i := range x {
		x[i] = float32(0.2 * rng.NormFloat64())
	}
	return x
}

func wavOf(tb testing.TB, name string, rate int, channels ...[]float32) string {
	tb.Helper()
	var b bytes.Buffer
	if err := WriteWAV(&b, rate, channels...); err != nil {
		tb.Fatal(err)
	}
	return write(tb, name, b.Bytes())
}

// A recorder that splits a file where it is full splits it between two samples:
// put together, nothing may tell that it was done.
func TestAFileSplitInPartsReadsAsItDidWhole(t *testing.T) {
	for _, rate := range []int{16000, 44100, 48000} {
		l, r := noiseOf(1, 3*rate), noiseOf(2, 3*rate)
		whole, _ := listen(t, wavOf(t, "whole.wav", rate, l, r))
		for _, cuts := range [][]int{{rate}, {rate + 1, 2*rate + 7}, {100, 101, 102}} {
			var paths []string
			var starts []float64
			from := 0
			for i, to := range append(cuts, 3*rate) {
				paths = append(paths, wavOf(t, fmt.Sprintf("part%d.wav", i), rate, l[from:to], r[from:to]))
				starts = append(starts, math.Ceil(float64(from)*Rate/float64(rate))/Rate)
				from = to
			}
			s, err := Open(context.Background(), paths...)
			if err != nil {
				t.Fatal(err)
			}
			var got [2][]float32
			for _, p := range drainTape(t, s) {
				for c := range p {
					got[c] = append(got[c], p[c]...)
				}
			}
			for c := range got {
				if !slices.Equal(got[c], whole[c]) {
					t.Errorf("%d Hz cut at %v: channel %d is not what it was in one file (%d samples, %d)", rate, cuts, c, len(got[c]), len(whole[c]))
				}
			}
			if !slices.Equal(s.Starts(), starts) {
				t.Errorf("%d Hz cut at %v: parts start at %v, want %v", rate, cuts, s.Starts(), starts)
			}
			if s.Elapsed() != 3 || len(s.Warnings()) > 0 {
				t.Errorf("%v s, warnings %q", s.Elapsed(), s.Warnings())
			}
		}
	}
}

func TestPartsMayDifferInRateFormatAndChannels(t *testing.T) {
	need(t, "sox", "ffmpeg", "ffprobe")
	dir := t.TempDir()
	stereo := wavOf(t, "a.wav", 48000, tone(48000, 300, 0.3, 48000), tone(48000, 500, 0.2, 48000))
	mono := filepath.Join(dir, "b.flac")
	run(t, "sox", "-D", wavOf(t, "b.wav", 44100, tone(44100, 400, 0.1, 2*44100)), mono)
	quiet := wavOf(t, "c.wav", 16000, tone(16000, 600, 0.05, 16000), tone(16000, 700, 0.4, 16000))
	s, err := load(t, stereo, mono, quiet).Open(context.Background(), Wanted{})
	if err != nil {
		t.Fatal(err)
	}
	parts := drainTape(t, s)
	if want := []float64{0, 1, 3}; !slices.Equal(s.Starts(), want) || s.Elapsed() != 4 {
		t.Errorf("parts start at %v and end at %v", s.Starts(), s.Elapsed())
	}
	for i, want := range [][]float64{{0.3, 0.2}, {0.1}, {0.05, 0.4}} {
		if len(parts[i]) != len(want) {
			t.Fatalf("part %d has %d channels", i+1, len(parts[i]))
		}
		for c, amplitude := range want {
			x := parts[i][c][2000:14000]
			if got := rms(x) * math.Sqrt2; math.Abs(got-amplitude) > 0.002 {
				t.Errorf("part %d, channel %d has amplitude %.3f, want %.3f", i+1, c, got, amplitude)
			}
		}
	}
}

func TestOnlyTheChannelsWantedAreGivenAndMixed(t *testing.T) {
	path := wavOf(t, "a.wav", 48000, tone(48000, 300, 0.3, 48000), tone(48000, 500, 0.2, 48000))
	all, _ := listen(t, path)
	read := func(w Wanted) [][]float32 {
		s, err := load(t, path).Open(context.Background(), w)
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		return drainTape(t, s)[0]
	}
	if got := read(Wanted{Use: [][]int{{1}}}); len(got) != 1 || !slices.Equal(got[0], all[1]) {
		t.Errorf("channel 2 alone is not what it is beside channel 1")
	}
	tapped, blocks := 0, 0
	mixed := read(Wanted{Mix: true, Tap: func(part int, block [][]float32) {
		tapped += len(block[0])
		blocks++
		if part != 0 || len(block) != 2 {
			t.Fatalf("block of %d channels from part %d", len(block), part)
		}
	}})
	if tapped != 48000 || blocks < 2 {
		t.Errorf("%d frames shown in %d blocks, want 48000 as they are in the file", tapped, blocks)
	}
	for i, v := range mixed[0] {
		if want := (all[0][i] + all[1][i]) / 2; math.Abs(float64(v-want)) > 1e-6 {
			t.Fatalf("sample %d of the mix is %v, want %v", i, v, want)
		}
	}
	_, err := load(t, path).Open(context.Background(), Wanted{Use: [][]int{{2}}})
	checkOneLine(t, err, path, "there is no channel 3")
}

func TestAPartThatCannotBeReadIsNamed(t *testing.T) {
	good := wavOf(t, "a.wav", 16000, noiseOf(1, 100))
	bad := write(t, "b.wav", []byte("Dear diary\n"))
	_, err := Load(context.Background(), good, bad)
	checkOneLine(t, err, bad, "this is text")
	if _, err := Load(context.Background()); err == nil {
		t.Error("no file at all is a recording")
	}
}

// What happens to a file between its being looked at and its being read.
func TestAFileThatChangesWhileItIsReadIsJudgedAsFarAsItWasRead(t *testing.T) {
	const second = 32000
	for _, c := range []struct {
		name    string
		change  func(t *testing.T, path string)
		samples int
		says    string
	}{
		{"it grows", func(t *testing.T, path string) {
			f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			if _, err := f.Write(make([]byte, second)); err != nil {
				t.Fatal(err)
			}
		}, 20 * Rate, "still growing: the 20.0 s that were there"},
		{"it loses its end", func(t *testing.T, path string) {
			if err := os.Truncate(path, 44+15*second); err != nil {
				t.Fatal(err)
			}
		}, 15 * Rate, "lost its end while it was read: nothing is left after second 15.0"},
		{"it is taken away, but was opened before", func(t *testing.T, path string) {
			if err := os.Remove(path); err != nil {
				t.Fatal(err)
			}
		}, 20 * Rate, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := wavOf(t, "lesson.wav", Rate, noiseOf(3, 20*Rate))
			s, err := Open(context.Background(), path)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			if _, err := s.Read(); err != nil {
				t.Fatal(err)
			}
			read := int(s.out)
			c.change(t, path)
			read += len(drain(t, s)[0])
			if read != c.samples {
				t.Errorf("%d samples read, want %d", read, c.samples)
			}
			if w := strings.Join(s.Warnings(), "\n"); c.says == "" && w != "" || !strings.Contains(w, c.says) {
				t.Errorf("warnings %q, want %q", w, c.says)
			}
		})
	}
}

func TestAGrowingFileIsTheSameToEveryReading(t *testing.T) {
	// A recorder that has not filled in its sizes yet.
	grows := newRIFF("RIFF").whole("fmt ", fmtBody(formatInt, 1, 16000, 16)).chunk("data", 0, ramp(16000))
	path := write(t, "lesson.wav", grows.Bytes())
	tape := load(t, path)
	for range 3 {
		s, err := tape.Open(context.Background(), Wanted{})
		if err != nil {
			t.Fatal(err)
		}
		if got := drain(t, s); len(got[0]) != 16000 {
			t.Errorf("%d samples, want the 16000 that were there at first", len(got[0]))
		}
		f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		f.Write(ramp(500))
		f.Close()
	}
}

// failingDisk is a file on a medium that is pulled out after so many bytes.
type failingDisk struct {
	*os.File
	after int64
}

var errPulled = errors.New("input/output error")

func (f failingDisk) ReadAt(b []byte, at int64) (int, error) {
	if at >= f.after {
		return 0, errPulled
	}
	if at+int64(len(b)) > f.after {
		n, err := f.File.ReadAt(b[:f.after-at], at)
		return n, errors.Join(err, errPulled)
	}
	return f.File.ReadAt(b, at)
}

func TestADiskPulledInMidFileLeavesWhatWasRead(t *testing.T) {
	for _, bits := range []uint16{16, 24} {
		frame := int64(bits / 8)
		r := newRIFF("RIFF").whole("fmt ", fmtBody(formatInt, 1, 16000, bits)).whole("data", make([]byte, 10*16000*frame))
		path := write(t, "lesson.wav", r.Bytes())
		f, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		tape := load(t, path)
		w, err := openWAV(failingDisk{f, 44 + 4*16000*frame + 1}, tape.Parts[0].wav, tape.Parts[0].size)
		if err != nil {
			t.Fatal(err)
		}
		dst, frames := [][]float32{make([]float32, 8000)}, 0
		for n := 1; n > 0; {
			if n, err = w.read(dst); err != nil && err != io.EOF {
				t.Fatal(err)
			}
			frames += n
		}
		if frames < 4*16000-8000 || frames > 4*16000 {
			t.Errorf("%d bits: %d samples read, want about %d", bits, frames, 4*16000)
		}
		if s := strings.Join(w.warnings(), "\n"); !strings.Contains(s, "reading failed at second") || !strings.Contains(s, "input/output error") {
			t.Errorf("%d bits: warnings %q", bits, s)
		}
		w.close()
	}
}

func TestALaterPartThatIsGoneEndsTheRecordingWithAWarning(t *testing.T) {
	a, b := wavOf(t, "a.wav", 48000, noiseOf(1, 48000)), wavOf(t, "b.wav", 48000, noiseOf(2, 48000))
	tape := load(t, a, b)
	if err := os.Remove(b); err != nil {
		t.Fatal(err)
	}
	s, err := tape.Open(context.Background(), Wanted{})
	if err != nil {
		t.Fatal(err)
	}
	if got := drain(t, s); len(got[0]) != Rate {
		t.Errorf("%d samples, want all %d of the first part", len(got[0]), Rate)
	}
	if w := s.Warnings(); len(w) != 1 || !strings.Contains(w[0], "b.wav could not be read any more") {
		t.Errorf("warnings %q", w)
	}
}

func TestStretchesAreCutOutWhereTheyWere(t *testing.T) {
	x := make([]float32, 10*Rate)
	for i := range x {
		x[i] = float32(i) / float32(len(x)) * 0.9
	}
	a, b := wavOf(t, "a.wav", Rate, x[:4*Rate]), wavOf(t, "b.wav", Rate, x[4*Rate:])
	t.Setenv("PATH", t.TempDir()) // as WAV, to the sample
	var out bytes.Buffer
	keep := []Span{{0.5, 1}, {3.5, 4.5}, {9.75, 20}}
	mono := Layout{Use: []int{0}}
	if _, err := load(t, a, b).Encode(context.Background(), Excerpt{Layouts: []Layout{mono, mono}, Keep: keep, Gains: [][]float64{{0}, {1}}}, &out); err != nil {
		t.Fatal(err)
	}
	got, _ := listen(t, write(t, "cut.wav", out.Bytes()))
	want := slices.Concat(x[Rate/2:Rate], x[Rate*7/2:Rate*9/2], x[Rate*39/4:])
	if len(got[0]) != len(want) {
		t.Fatalf("%d samples kept, want %d", len(got[0]), len(want))
	}
	for i := range want {
		if math.Abs(float64(got[0][i]-want[i])) > 1e-4 {
			t.Fatalf("sample %d is %v, want %v", i, got[0][i], want[i])
		}
	}
}

func TestLayoutsOfPartsAreJudgedTogetherWhereTheyCompare(t *testing.T) {
	odd := func(s int) bool { return s%6 < 2 }
	even := func(s int) bool { return s%6 > 3 }
	rumble := engine(3, 0.005)
	student, instructor := mix(1, talk(1, 0.1, odd), rumble), mix(1, talk(2, 0.1, even), engine(6, 0.005))
	both := wavOf(t, "both.wav", Rate, student, instructor)
	alone := wavOf(t, "alone.wav", Rate, rumble, instructor) // the student says nothing in this part
	mono := wavOf(t, "mono.wav", Rate, student)
	survey, err := load(t, both, alone, mono).Survey(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	all := survey.Layouts
	for i, want := range []Layout{{Kind: Separate, Use: []int{0, 1}}, {Kind: Separate, Use: []int{0, 1}}, {Kind: Mono, Use: []int{0}}} {
		if all[i].Kind != want.Kind || !slices.Equal(all[i].Use, want.Use) {
			t.Errorf("part %d: %+v, want %+v", i+1, all[i], want)
		}
	}
}
