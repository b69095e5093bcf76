package audio

import (
	"bytes"
	"context"
	"encoding/binary"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"sidetone/audio/models/modelstest"
)

// need skips a test whose tool is not installed, or fails it where
// SIDETONE_REQUIRE_TOOLS=1 says that all tools are.
func need(tb testing.TB, tools ...string) {
	tb.Helper()
	for _, tool := range tools {
		if _, err := exec.LookPath(tool); err != nil {
			modelstest.Missing(tb, tool)
		}
	}
}

// run runs a tool and gives what it writes to its standard output.
func run(tb testing.TB, name string, args ...string) []byte {
	tb.Helper()
	var errs bytes.Buffer
	cmd := exec.Command(name, args...)
	cmd.Stderr = &errs
	out, err := cmd.Output()
	if err != nil {
		tb.Fatalf("%s %q: %v\n%s", name, args, err, errs.String())
	}
	return out
}

// floats reads raw little-endian float32, the way sox and ffmpeg write it.
func floats(b []byte) []float32 {
	out := make([]float32, len(b)/4)
	for i := range out {
		out[i] = math.Float32frombits(binary.LittleEndian.Uint32(b[4*i:]))
	}
	return out
}

// write puts content into a new file and gives its path.
func write(tb testing.TB, name string, content []byte) string {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), name)
	if err := os.WriteFile(path, content, 0o644); err != nil {
		tb.Fatal(err)
	}
	return path
}

// load is the tape of some files.
func load(tb testing.TB, paths ...string) *Tape {
	tb.Helper()
	t, err := Load(context.Background(), paths...)
	if err != nil {
		tb.Fatal(err)
	}
	return t
}

// openRaw opens a recording to be read at its own rate.
func openRaw(tb testing.TB, path string) *Source {
	tb.Helper()
	s, err := load(tb, path).Open(context.Background(), Wanted{raw: true})
	if err != nil {
		tb.Fatal(err)
	}
	return s
}

// drain reads a source to its end, one slice per channel.
func drain(tb testing.TB, s *Source) [][]float32 {
	tb.Helper()
	all := make([][]float32, s.Info().Channels)
	for {
		block, err := s.Read()
		if err == io.EOF {
			return all
		}
		if err != nil {
			tb.Fatal(err)
		}
		for c := range block {
			all[c] = append(all[c], block[c]...)
		}
	}
}

// listen opens and reads a whole recording.
func listen(tb testing.TB, path string) ([][]float32, *Source) {
	tb.Helper()
	s, err := Open(context.Background(), path)
	if err != nil {
		tb.Fatal(err)
	}
	defer s.Close()
	return drain(tb, s), s
}

// tone is a sine of hz at rate, n samples of the given amplitude.
func tone(rate int, hz, amplitude float64, n int) []float32 {
	out := make([]float32, n)
	for i := range out {
		out[i] = float32(amplitude * math.Sin(2*math.Pi*hz*float64(i)/float64(rate)))
	}
	return out
}

// newRand gives the same numbers every time.
func newRand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 11)) }

// rms is the root mean square of x.
func rms(x []float32) float64 {
	sum := 0.0
	for _, v := range x {
		sum += float64(v) * float64(v)
	}
	return math.Sqrt(sum / float64(max(len(x), 1)))
}

func dB(ratio float64) float64 { return 20 * math.Log10(ratio) }
