package onnx

import (
	"bytes"
	"math"
	"os"
	"testing"

	"sidetone/audio/audiotest"
	"sidetone/audio/models/modelstest"
	"sidetone/audio/ort"
)

// The published decoder, as it is, is the judge: on speech of people the lightened one
// gives each token the same likelihood, as far as a rounding to eight bits lets it.
func TestTheLightenedDecoderIsThePublishedOne(t *testing.T) {
	set := modelstest.Find(t)
	published, err := os.ReadFile(set.Decoder)
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Equal(lighten(published), published) {
		t.Fatal("the decoder is as it was published")
	}
	light := plain(t)
	heavy := *light
	if heavy.decoder, err = ort.OpenData(set.Runtime, set.Decoder, published, 1); err != nil {
		t.Fatal(err)
	}
	defer heavy.decoder.Close()
	tokens, most := 0, 0.0
	for _, name := range []string{"conf-locked", "pls-hold-while-try", "digits/7"} {
		for _, seg := range segments(t, audiotest.Prompt(t, name)) {
			h, err := light.encode(append(centred(seg.Samples), make([]float32, shortest)...))
			if err != nil {
				t.Fatal(err)
			}
			defer h.Destroy()
			var a, b *cache
			defer func() { a.free(); b.free() }()
			for next := int64(startToken); next != endToken && tokens < 200; tokens++ {
				got, err := light.step(next, h, &a)
				if err != nil {
					t.Fatal(err)
				}
				want, err := heavy.step(next, h, &b)
				if err != nil {
					t.Fatal(err)
				}
				x, y := got.GetData(), want.GetData()
				for i := range y {
					most = max(most, math.Abs(float64(x[i]-y[i])))
				}
				next = likeliest(y).id
				if g := likeliest(x).id; g != next {
					t.Errorf("%s: token %d is %q, was %q", name, tokens, light.piece(g), light.piece(next))
				}
				_, _ = got.Destroy(), want.Destroy()
			}
		}
	}
	if tokens < 15 || most > 0.2 || most == 0 {
		t.Errorf("of %d tokens, logits differ by up to %.3f", tokens, most)
	}
	t.Logf("%d tokens, logits differ by at most %.3f", tokens, most)
}

func TestAModelThatIsMadeOtherwiseIsLeftAsItIs(t *testing.T) {
	set := modelstest.Find(t)
	encoder, err := os.ReadFile(set.Encoder)
	if err != nil {
		t.Fatal(err)
	}
	decoder, err := os.ReadFile(set.Decoder)
	if err != nil {
		t.Fatal(err)
	}
	for says, model := range map[string][]byte{
		"an encoder":                 encoder,
		"a file that is cut off":     decoder[:len(decoder)/2],
		"one that is light already":  lighten(decoder),
		"no model":                   []byte("no model"),
		"nothing":                    {},
		"one with another last name": bytes.ReplaceAll(decoder, []byte("logits"), []byte("scores")),
	} {
		if got := lighten(model); !bytes.Equal(got, model) {
			t.Errorf("%s of %d bytes becomes one of %d", says, len(model), len(got))
		}
	}
}
