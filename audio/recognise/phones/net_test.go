package phones

import (
	"bytes"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"testing"
)

// small writes a network of two layers, and gives it also as plain numbers.
func small(rng *rand.Rand) (file []byte, layers []layer) {
	layers = []layer{{in: 32, out: 16, width: 3, rectified: true}, {in: 16, out: Count, width: 1}}
	b := bytes.NewBufferString(Magic)
	put := func(v any) { _ = binary.Write(b, binary.LittleEndian, v) }
	put(uint32(len(layers)))
	for _, l := range layers {
		put([]uint32{uint32(l.in), uint32(l.out), uint32(l.width)})
	}
	for i := range layers {
		l := &layers[i]
		for range l.out {
			bias, scale := float32(rng.NormFloat64()), float32(0.01)
			l.bias = append(l.bias, bias)
			put([]float32{bias, scale})
			for range l.in * l.width {
				w := int8(rng.IntN(255) - 127)
				put(w)
				l.weights = append(l.weights, scale*float32(w))
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
func plainly(layers []layer, states []float32, frames int) [][]float64 {
	x := make([][]float64, frames)
	for t := range x {
		for _, v := range states[t*layers[0].in : (t+1)*layers[0].in] {
			x[t] = append(x[t], float64(v))
		}
	}
	for _, l := range layers {
		y := make([][]float64, frames)
		for t := range y {
			for o := range l.out {
				v := float64(l.bias[o])
				for k := range l.width {
					from := t + k - l.width/2
					if from < 0 || from >= frames {
						continue
					}
					for i := range l.in {
						v += float64(l.weights[(o*l.width+k)*l.in+i]) * x[from][i]
					}
				}
				if l.rectified {
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
