package audio

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// resample brings one channel to Rate in blocks of the given sizes, over and over.
func resample(f *filter, x []float32, blocks ...int) []float32 {
	r := newResampler(f, 1)
	var out []float32
	for i := 0; len(x) > 0; i++ {
		n := min(max(blocks[i%len(blocks)], 1), len(x))
		out = append(out, r.push([][]float32{x[:n]})[0]...)
		x = x[n:]
	}
	return append(out, r.flush()[0]...)
}

func TestResamplerAgreesWithSox(t *testing.T) {
	need(t, "sox")
	// A sweep through the band both resamplers pass, at each rate recorders use.
	// sox's own very high quality rate conversion ("rate -v") has a stopband
	// beyond 120 dB, so what differs is ours. The bound is on the RMS of the
	// difference against the RMS of the sweep.
	const bound = -96.0
	for _, rate := range []int{8000, 11025, 22050, 24000, 32000, 44100, 48000, 96000, 44101} {
		t.Run(strconv.Itoa(rate), func(t *testing.T) {
			top := 0.88 * float64(min(rate, Rate)) / 2
			in := run(t, "sox", "-D", "-n", "-r", strconv.Itoa(rate), "-e", "float", "-b", "32", "-t", "raw", "-",
				"synth", "4", "sine", fmt.Sprintf("100-%.0f", top), "vol", "0.5", "fade", "h", "0.05", "4", "0.05")
			path := write(t, "sweep.raw", in)
			want := floats(run(t, "sox", "-D", "-r", strconv.Itoa(rate), "-e", "float", "-b", "32", "-c", "1", "-t", "raw", path,
				"-e", "float", "-b", "32", "-t", "raw", "-", "rate", "-v", strconv.Itoa(Rate)))
			got := resample(newFilter(rate), floats(in), rate/2)
			if d := len(got) - len(want); d < -1 || d > 1 {
				t.Fatalf("%d samples, sox gives %d", len(got), len(want))
			}
			n := min(len(got), len(want))
			diff := make([]float32, n)
			for i := range diff {
				diff[i] = got[i] - want[i]
			}
			err := dB(rms(diff) / rms(want))
			t.Logf("error against sox: %.1f dB", err)
			if err > bound {
				t.Errorf("error against sox %.1f dB, want below %.0f dB", err, bound)
			}
		})
	}
}

// The same of a file, decoded and mixed into one channel: what BenchmarkListen
// times.
func TestAFileMixedAndResampledAgreesWithSox(t *testing.T) {
	need(t, "sox")
	const bound = -96.0 // dB
	path := filepath.Join(t.TempDir(), "l.wav")
	run(t, "sox", "-R", "-r", "48000", "-n", "-b", "16", path, "synth", "6", "sine", "100-7000", "sine", "300-6000", "vol", "0.4", "fade", "h", "0.05", "6", "0.05")
	want := floats(run(t, "sox", "-D", path, "-c", "1", "-e", "float", "-b", "32", "-t", "raw", "-", "rate", "-v", "16000"))
	s, err := load(t, path).Open(context.Background(), Wanted{Mix: true})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	got := drainTape(t, s)[0]
	if len(got) != 1 || len(got[0]) != len(want) {
		t.Fatalf("%d channels of %d samples, sox gives %d", len(got), len(got[0]), len(want))
	}
	diff := make([]float32, len(want))
	for i := range want {
		diff[i] = got[0][i] - want[i]
	}
	d := dB(rms(diff) / rms(want))
	t.Logf("error against sox: %.1f dB", d)
	if d > bound {
		t.Errorf("error against sox %.1f dB, want below %.0f dB", d, bound)
	}
}

func TestResamplerStopsWhatWouldFoldBack(t *testing.T) {
	const rate, bound = 48000, -96.0
	f := newFilter(rate)
	for _, hz := range []float64{8000, 8050, 8200, 9000, 11000, 12345, 16000, 16100, 20000, 23900} {
		x := tone(rate, hz, 1, rate)
		y := resample(f, x, rate)
		if level := dB(rms(y[1000:len(y)-1000]) / rms(x)); level > bound {
			t.Errorf("a tone at %.0f Hz comes through at %.1f dB, want below %.0f dB", hz, level, bound)
		}
	}
}

func TestResamplerPassesSpeechUntouched(t *testing.T) {
	for _, rate := range []int{44100, 48000, 192000, 44101} {
		f := newFilter(rate)
		for _, hz := range []float64{50, 1000, 3000, 5000, 7000, 7200} {
			y := resample(f, tone(rate, hz, 0.5, rate), rate/3)
			want := tone(Rate, hz, 0.5, Rate)
			worst := 0.0
			for i := 500; i < len(y)-500; i++ {
				worst = math.Max(worst, math.Abs(float64(y[i]-want[i])))
			}
			if worst > 1e-4 {
				t.Errorf("%d Hz: a tone at %.0f Hz is off by %.1e of full scale", rate, hz, worst)
			}
		}
	}
}

// However a recording is cut into blocks, each sample comes out the same to the
// last bit, and their number is exact.
func TestResamplerDoesNotDependOnBlocks(t *testing.T) {
	filters := map[int]*filter{}
	for _, rate := range []int{8000, 11025, 44100, 48000, 44101} {
		filters[rate] = newFilter(rate)
	}
	noise := make([]float32, 30000)
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range noise {
		noise[i] = rng.Float32() - 0.5
	}
	rapid.Check(t, func(t *rapid.T) {
		rate := rapid.SampledFrom([]int{8000, 11025, 44100, 48000, 44101}).Draw(t, "rate")
		n := rapid.IntRange(0, len(noise)).Draw(t, "samples")
		blocks := rapid.SliceOfN(rapid.IntRange(1, 5000), 1, 8).Draw(t, "blocks")
		whole := resample(filters[rate], noise[:n], max(n, 1))
		if want := (n*Rate + rate - 1) / rate; len(whole) != want {
			t.Fatalf("%d samples of %d Hz give %d, want %d", n, rate, len(whole), want)
		}
		split := resample(filters[rate], noise[:n], blocks...)
		if len(split) != len(whole) {
			t.Fatalf("%d samples in blocks, %d in one", len(split), len(whole))
		}
		for i := range whole {
			if split[i] != whole[i] {
				t.Fatalf("sample %d is %v in blocks, %v in one", i, split[i], whole[i])
			}
		}
	})
}

// Ten minutes in, a click is still where it was.
func TestResamplerDoesNotDrift(t *testing.T) {
	const rate = 44100
	const at = 600 * rate // ten minutes
	r := newResampler(newFilter(rate), 1)
	block := make([]float32, rate)
	peakAt, peak, seen := 0, float32(0), 0
	take := func(out []float32) {
		for i, v := range out {
			if v > peak {
				peak, peakAt = v, seen+i
			}
		}
		seen += len(out)
	}
	for s := range 602 {
		block[0] = 0
		if s*rate == at {
			block[0] = 1
		}
		take(r.push([][]float32{block})[0])
	}
	take(r.flush()[0])
	if peakAt != 600*Rate {
		t.Errorf("a click at 600 s is heard at sample %d, want %d", peakAt, 600*Rate)
	}
	if seen != 602*Rate {
		t.Errorf("602 s give %d samples, want %d", seen, 602*Rate)
	}
}

func BenchmarkResample(b *testing.B) {
	for _, rate := range []int{44100, 48000} {
		b.Run(fmt.Sprintf("%d/stereo", rate), func(b *testing.B) {
			r := newResampler(newFilter(rate), 2)
			x := tone(rate, 440, 0.5, rate)
			for b.Loop() {
				r.push([][]float32{x, x})
			}
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "s/s")
		})
	}
}
