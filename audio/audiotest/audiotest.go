// Package audiotest gives tests sound to listen to: Debian's recorded prompts,
// synthetic voices, and whatever sox makes.
package audiotest

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"sidetone/audio"
	"sidetone/audio/models/modelstest"
)

// The recorded prompts of Debian's asterisk-core-sounds-en-wav (one woman's
// voice, 8 kHz) and what they say.
const (
	promptDir   = "/usr/share/asterisk/sounds/en_US_f_Allison"
	promptTexts = "/usr/share/doc/asterisk-core-sounds-en/core-sounds-en.txt.gz"
)

// Need skips a test whose tools are not installed, or fails it when all must be.
func Need(tb testing.TB, tools ...string) {
	tb.Helper()
	for _, tool := range tools {
		if _, err := exec.LookPath(tool); err != nil {
			modelstest.Missing(tb, tool)
		}
	}
}

// Run runs a tool and gives what it writes to its standard output.
func Run(tb testing.TB, name string, args ...string) []byte {
	tb.Helper()
	Need(tb, name)
	var errs bytes.Buffer
	cmd := exec.Command(name, args...)
	cmd.Stderr = &errs
	out, err := cmd.Output()
	if err != nil {
		tb.Fatalf("%s %q: %v\n%s", name, args, err, errs.String())
	}
	return out
}

// Load reads the first channel of a recording at audio.Rate.
func Load(tb testing.TB, path string) []float32 {
	tb.Helper()
	src, err := audio.Open(context.Background(), path)
	if err != nil {
		tb.Fatal(err)
	}
	defer src.Close()
	var all []float32
	for {
		block, err := src.Read()
		if errors.Is(err, io.EOF) {
			return all
		}
		if err != nil {
			tb.Fatal(err)
		}
		all = append(all, block[0]...)
	}
}

// Say speaks text with a voice of flite.
func Say(tb testing.TB, voice, text string) []float32 {
	tb.Helper()
	file := filepath.Join(tb.TempDir(), "said.wav")
	Run(tb, "flite", "-voice", voice, "-t", text, "-o", file)
	return Load(tb, file)
}

// Synth makes sound with sox: seconds of it, by its synth effect and what follows.
func Synth(tb testing.TB, seconds string, effect ...string) []float32 {
	tb.Helper()
	args := append([]string{"-R", "-n", "-r", "16000", "-c", "1", "-t", "f32", "-", "synth", seconds}, effect...)
	b := Run(tb, "sox", args...)
	out := make([]float32, len(b)/4)
	for i := range out {
		out[i] = math.Float32frombits(binary.LittleEndian.Uint32(b[4*i:]))
	}
	return out
}

// Prompt is a recorded prompt by its name, as "digits/7".
func Prompt(tb testing.TB, name string) []float32 {
	tb.Helper()
	needPrompts(tb)
	return Load(tb, promptFile(name))
}

// Prompts is what each recorded prompt says, by its name.
func Prompts(tb testing.TB) map[string]string {
	tb.Helper()
	needPrompts(tb)
	f, err := os.Open(promptTexts)
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		tb.Fatal(err)
	}
	b, err := io.ReadAll(z)
	if err != nil {
		tb.Fatal(err)
	}
	texts := map[string]string{}
	for line := range strings.Lines(string(b)) {
		if name, text, ok := strings.Cut(strings.TrimSpace(line), ": "); ok && !strings.HasPrefix(name, ";") {
			texts[name] = strings.TrimSpace(text)
		}
	}
	return texts
}

func needPrompts(tb testing.TB) {
	tb.Helper()
	for _, p := range []string{promptDir, promptTexts} {
		if _, err := os.Stat(p); err != nil {
			modelstest.Missing(tb, "Debian's asterisk-core-sounds-en-wav ("+p+")")
		}
	}
}

// Join puts sounds one after the other with seconds of silence before, between
// and after them, and tells the second each begins at.
func Join(gap float64, sounds ...[]float32) (joined []float32, begins []float64) {
	quiet := make([]float32, int(gap*audio.Rate))
	joined = append(joined, quiet...)
	for _, s := range sounds {
		begins = append(begins, float64(len(joined))/audio.Rate)
		joined = append(append(joined, s...), quiet...)
	}
	return joined, begins
}

// WriteWAV writes a recording at audio.Rate and gives its path.
func WriteWAV(tb testing.TB, channels ...[]float32) string {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), "recording.wav")
	f, err := os.Create(path)
	if err != nil {
		tb.Fatal(err)
	}
	if err := errors.Join(audio.WriteWAV(f, audio.Rate, channels...), f.Close()); err != nil {
		tb.Fatal(err)
	}
	return path
}

// HasPrompt says whether there is a recording of a prompt: some are only in the list.
func HasPrompt(name string) bool {
	_, err := os.Stat(promptFile(name))
	return err == nil
}

func promptFile(name string) string {
	return filepath.Join(promptDir, filepath.FromSlash(name)+".wav")
}
