package phones

import (
	"bytes"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"testing"
)

// small writes a network of two layers, and gives it also as plain numbers.
func small(rng *rand.Rand) (file []byte, layers []Layer) {
	layers = []Layer{{In: 32, Out: 16, Width: 3}, {In: 16, Out: Count, Width: 1}}
	b := bytes.NewBufferString(Magic)
	put := func(v any) { _ = binary.Write(b, binary.LittleEndian, v) }
	put(uint32(len(layers)))
	for _, l := range layers {
		put([]uint32{uint32(l.In), uint32(l.Out), uint32(l.Width)})
	}
	for i := range layers {
		l := &layers[i]
		for range l.Out {
			bias, scale := float32(rng.NormFloat64()), float32(0.01)
			l.Bias = append(l.Bias, bias)
			put([]float32{bias, scale})
			for range l.In * l.Width {
				w := int8(rng.IntN(255) - 127)
				put(w)
				l.Weights = append(l.Weights, scale*float32(w))
			}
		}
	}
	return b.Bytes(), layers
}

func TestTheNetworkIsWhatItsNumbersSay(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	file, layers := small(rng)
	n, err := Load(file)
	if err != nil {
		t.Fatal(err)
	}
	for _, frames := range []int{0, 1, 2, 5, 8, 13} {
		states := make([]float32, frames*32)
		for i := range states {
			states[i] = float32(rng.NormFloat64()*3 + 1)
		}
		heard := n.Hear(states)
		if len(heard) != frames {
			t.Fatalf("%d frames gave %d", frames, len(heard))
		}
		for i, row := range plainly(layers, states, frames) {
			sum := 0.0
			for p, v := range row {
				if math.Abs(v-float64(heard[i][p])) > 1e-3 {
					t.Errorf("%d frames, frame %d, phoneme %d: %v, want %v", frames, i, p, heard[i][p], v)
				}
				sum += math.Exp(float64(heard[i][p]))
			}
			if math.Abs(sum-1) > 1e-4 {
				t.Errorf("frame %d: the probabilities sum to %v", i, sum)
			}
		}
	}
}

// plainly is the network by its definition.
func plainly(layers []Layer, states []float32, frames int) [][]float64 {
	x := make([][]float64, frames)
	for t := range x {
		for _, v := range states[t*layers[0].In : (t+1)*layers[0].In] {
			x[t] = append(x[t], float64(v))
		}
	}
	for n, l := range layers {
		y := make([][]float64, frames)
		for t := range y {
			for o := range l.Out {
				v := float64(l.Bias[o])
				for k := range l.Width {
					from := t + k - l.Width/2
					if from < 0 || from >= frames {
						continue
					}
					for in := range l.In {
						v += float64(l.Weights[(o*l.Width+k)*l.In+in]) * x[from][in]
					}
				}
				if n < len(layers)-1 {
					v = max(v, 0)
				}
				y[t] = append(y[t], v)
			}
		}
		x = y
	}
	for _, row := range x {
		sum := 0.0
		for _, v := range row {
			sum += math.Exp(v)
		}
		for i := range row {
			row[i] -= math.Log(sum)
		}
	}
	return x
}

func TestABrokenNetworkIsRefused(t *testing.T) {
	good, _ := small(rand.New(rand.NewPCG(1, 2)))
	changed := func(at int, v byte) []byte {
		b := bytes.Clone(good)
		b[at] = v
		return b
	}
	for name, b := range map[string][]byte{
		"nothing":                          nil,
		"another kind of file":             []byte("RIFF, this is a recording and no network"),
		"cut off in its sizes":             good[:14],
		"cut off in its weights":           good[:len(good)-1],
		"inputs the processor cannot take": changed(12, 31),
		"an even width":                    changed(20, 2),
		"layers that do not fit together":  changed(24, 32),
		"other phonemes":                   changed(28, 41),
	} {
		if _, err := Load(b); err == nil {
			t.Errorf("%s: taken for a network", name)
		}
	}
}
