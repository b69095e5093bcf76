package lesson

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"sidetone/audio"
)

func installed(tool string) bool {
	_, err := exec.LookPath(tool)
	return err == nil
}

var everyVoice = []struct {
	voice Voice
	tool  string
}{
	{Voice{"flite", "slt"}, "flite"},
	{Voice{"flite", "rms"}, "flite"},
	{Voice{"flite", "awb"}, "flite"},
	{Voice{"flite", "kal16"}, "flite"},
	{Voice{"flite", "kal"}, "flite"}, // 8 kHz
	{Voice{"festival", "kal_diphone"}, "festival"},
	{Voice{"espeak-ng", "en-us"}, "espeak-ng"}, // 22.05 kHz
	{Voice{"espeak-ng", "en-gb"}, "espeak-ng"},
}

// Words that begin and end with a loud sound, so that where the sound starts and
// stops is where the word does, and with a pause between them.
var spaced = strings.Fields("Money, alarm, lemon, window, everyone, area, yellow, nine.")

// How far a word's time may be from the sound, in seconds.
const timeTolerance = 0.08

// silent is the level below which sox hears silence, of the loudest sample.
const silent = "5%"

// The outside measure is sox, which cuts away what is 26 dB and more below the loudest.
func TestWordsAreSaidWhenTheVoiceSaysTheyAre(t *testing.T) {
	need(t, "sox")
	for _, v := range everyVoice {
		t.Run(v.voice.String(), func(t *testing.T) {
			need(t, v.tool)
			sp, err := Say(v.voice, spaced)
			if err != nil {
				t.Fatal(err)
			}
			dir := t.TempDir()
			file := filepath.Join(dir, "said.wav")
			f, err := os.Create(file)
			if err != nil {
				t.Fatal(err)
			}
			if err := audio.WriteWAV(f, rate, sp.Samples); err != nil {
				t.Fatal(err)
			}
			if err := f.Close(); err != nil {
				t.Fatal(err)
			}
			for i, w := range spaced {
				from, to := 0.0, float64(len(sp.Samples))/rate
				if i > 0 {
					from = (sp.Ends[i-1] + sp.Begins[i]) / 2
				}
				if i+1 < len(spaced) {
					to = (sp.Ends[i] + sp.Begins[i+1]) / 2
				}
				begin, end := sounds(t, file, from, to)
				if d := sp.Begins[i] - begin; d > timeTolerance || d < -timeTolerance {
					t.Errorf("%s begins at %.3f, its sound at %.3f", w, sp.Begins[i], begin)
				}
				if d := sp.Ends[i] - end; d > timeTolerance || d < -timeTolerance {
					t.Errorf("%s ends at %.3f, its sound at %.3f", w, sp.Ends[i], end)
				}
			}
		})
	}
}

// sounds are the seconds between which a stretch of a file is not silent.
func sounds(t *testing.T, file string, from, to float64) (begin, end float64) {
	t.Helper()
	left := func(effects ...string) float64 {
		out := filepath.Join(t.TempDir(), "left.wav")
		args := append([]string{file, out, "trim", fmt.Sprint(from), fmt.Sprintf("=%g", to)}, effects...)
		if b, err := exec.Command("sox", args...).CombinedOutput(); err != nil {
			t.Fatalf("sox %v: %v: %s", args, err, b)
		}
		b, err := exec.Command("soxi", "-D", out).Output()
		if err != nil {
			t.Fatal(err)
		}
		s, err := strconv.ParseFloat(strings.TrimSpace(string(b)), 64)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	begin = to - left("norm", "silence", "1", "0.01", silent)
	end = from + left("norm", "reverse", "silence", "1", "0.01", silent)
	return begin, end
}

func TestEveryWordHasATimeInOrder(t *testing.T) {
	words := strings.Fields("Of the two, I'd take flaps twenty-five at 3,500 feet... okay? Zero zero five, out of the turn; it's a must.")
	for _, v := range everyVoice {
		t.Run(v.voice.String(), func(t *testing.T) {
			need(t, v.tool)
			sp, err := Say(v.voice, words)
			if err != nil {
				t.Fatal(err)
			}
			if !slices.IsSorted(sp.Begins) || !slices.IsSorted(sp.Ends) {
				t.Errorf("words begin at %.2f and end at %.2f", sp.Begins, sp.Ends)
			}
			length := float64(len(sp.Samples)) / rate
			for i, w := range words {
				if d := sp.Ends[i] - sp.Begins[i]; d < 0.02 || d > 2 || sp.Begins[i] < 0 || sp.Ends[i] > length+0.01 {
					t.Errorf("%q is said from %.2f to %.2f of %.2f s", w, sp.Begins[i], sp.Ends[i], length)
				}
			}
		})
	}
}

func TestAVoiceSaysTheSameEachTime(t *testing.T) {
	for _, v := range everyVoice {
		t.Run(v.voice.String(), func(t *testing.T) {
			need(t, v.tool)
			a, err := Say(v.voice, spaced[:3])
			if err != nil {
				t.Fatal(err)
			}
			b, err := Say(v.voice, spaced[:3])
			if err != nil {
				t.Fatal(err)
			}
			if !slices.Equal(a.Samples, b.Samples) || !slices.Equal(a.Begins, b.Begins) || !slices.Equal(a.Ends, b.Ends) {
				t.Error("it differs from one time to the next")
			}
		})
	}
}

func TestAVoiceThatIsNotThereIsNamed(t *testing.T) {
	for _, v := range []struct {
		voice Voice
		tool  string
	}{{Voice{"festival", "nobody"}, "festival"}, {Voice{"espeak-ng", "xx-nobody"}, "espeak-ng"}} {
		need(t, v.tool)
		if _, err := Say(v.voice, []string{"hello"}); err == nil {
			t.Errorf("%s speaks", v.voice)
		} else if !strings.Contains(err.Error(), v.tool) {
			t.Errorf("%q does not name %s", err, v.tool)
		}
	}
}
