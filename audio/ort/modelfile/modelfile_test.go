package modelfile_test

import (
	"bytes"
	"os"
	"testing"

	"github.com/google/go-cmp/cmp"
	onnxruntime "github.com/yalue/onnxruntime_go"

	"sidetone/audio/models/modelstest"
	"sidetone/audio/ort"
	"sidetone/audio/ort/modelfile"
)

func read(t *testing.T, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// ONNX Runtime's own answer is the check.
func TestPortsAreThoseONNXRuntimeFinds(t *testing.T) {
	set := modelstest.Find(t)
	s, err := ort.Open(set.Runtime, set.VAD, 1) // keeps the runtime open
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	ports := func(infos []onnxruntime.InputOutputInfo) (out []modelfile.Port) {
		for _, i := range infos {
			p := modelfile.Port{Name: i.Name}
			p.Dims = append(p.Dims, i.Dimensions...)
			out = append(out, p)
		}
		return out
	}
	for _, path := range []string{set.VAD, set.Encoder, set.Decoder} {
		in, out, err := modelfile.Ports(read(t, path))
		if err != nil {
			t.Fatal(err)
		}
		wantIn, wantOut, err := onnxruntime.GetInputOutputInfo(path)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(ports(wantIn), in); d != "" {
			t.Errorf("inputs of %s, -want +got:\n%s", path, d)
		}
		if d := cmp.Diff(ports(wantOut), out); d != "" {
			t.Errorf("outputs of %s, -want +got:\n%s", path, d)
		}
	}
}

func TestAModelIsWrittenAsItWasRead(t *testing.T) {
	set := modelstest.Find(t)
	for _, path := range []string{set.VAD, set.Decoder} {
		model := read(t, path)
		m, err := modelfile.Parse(model)
		if err != nil {
			t.Fatal(err)
		}
		g, err := modelfile.Parse(m.First(modelfile.ModelGraph))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(m.Encode(), model) || !bytes.Equal(m.With(modelfile.ModelGraph, g).Encode(), model) {
			t.Errorf("%s is another model after it was taken apart and put together", path)
		}
	}
}

func TestWhatIsNoModelIsAnError(t *testing.T) {
	for says, b := range map[string][]byte{
		"nothing":          nil,
		"a text":           []byte("Carb heat on."),
		"a field cut off":  {0x3a, 0x10, 0x01},
		"an empty graph":   {0x3a, 0x00},
		"a graph cut off":  {0x3a, 0x02, 0x0a, 0x05},
		"an input cut off": {0x3a, 0x04, 0x5a, 0x02, 0x0a, 0x05},
	} {
		if in, out, err := modelfile.Ports(b); err == nil {
			t.Errorf("%s has the ports %v and %v", says, in, out)
		}
	}
}

// Whatever can be taken apart is put together the same.
func FuzzParse(f *testing.F) {
	f.Add([]byte{0x3a, 0x04, 0x5a, 0x02, 0x0a, 0x00})
	f.Add([]byte{0x08, 0x96, 0x01})
	f.Add([]byte("no model"))
	f.Fuzz(func(t *testing.T, b []byte) {
		_, _, _ = modelfile.Ports(b)
		m, err := modelfile.Parse(b)
		if err == nil && !bytes.Equal(m.Encode(), b) {
			t.Errorf("%x becomes %x", b, m.Encode())
		}
	})
}
