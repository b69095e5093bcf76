package onnx

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sidetone/audio/models"
	"sidetone/audio/models/modelstest"
)

func vocabulary(tb testing.TB) []string {
	tb.Helper()
	v, err := models.ReadVocabulary(modelstest.Find(tb).Vocabulary)
	if err != nil {
		tb.Fatal(err)
	}
	return v
}

func TestTextIsEncodedIntoTheModelsPiecesAndBack(t *testing.T) {
	v := vocabulary(t)
	tok, r := newTokeniser(v), &Recogniser{vocabulary: v}
	back := func(ids []int64) string {
		var b strings.Builder
		for _, id := range ids {
			b.WriteString(r.piece(id))
		}
		return strings.TrimPrefix(b.String(), " ")
	}
	for _, phrase := range lexicon(t) {
		for _, text := range []string{phrase.Text, strings.ToUpper(phrase.Text[:1]) + phrase.Text[1:]} {
			ids, ok := tok.encode(text)
			if !ok {
				t.Errorf("%q has no tokens", text)
			} else if got := back(ids); got != text {
				t.Errorf("%q becomes %q", text, got)
			}
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOfN(rapid.StringMatching(`[A-Za-z0-9.,'?é-]{1,12}`), 1, 6).Draw(t, "words")
		text := strings.Join(words, " ")
		ids, ok := tok.encode(text)
		if !ok {
			t.Fatalf("%q has no tokens", text)
		}
		if got := back(ids); got != text {
			t.Fatalf("%q becomes %q", text, got)
		}
	})
}

func TestMergesAreMadeInTheOrderOfTheVocabulary(t *testing.T) {
	tok := newTokeniser([]string{"<unk>", "<s>", "</s>", "▁a", "ab", "bc", "▁ab", "abc", "▁", "a", "b", "c"})
	for _, c := range []struct {
		text string
		want []int64
		ok   bool
	}{
		{"a", []int64{3}, true},
		{"ab", []int64{6}, true},     // "▁a" comes before "ab"
		{"abc", []int64{3, 5}, true}, // "▁a", then "bc": "▁ab" is no longer to be had
		{"bc b", []int64{8, 5, 8, 10}, true},
		{"cc", []int64{8, 11, 11}, true},
		{"  a   b ", []int64{3, 8, 10}, true},
		{"ad", nil, false},
		{"", nil, false},
		{" ", nil, false},
	} {
		for range 2 { // the second time out of memory
			if got, ok := tok.encode(c.text); ok != c.ok || !slices.Equal(got, c.want) {
				t.Errorf("%q is encoded as %v, %v, want %v, %v", c.text, got, ok, c.want, c.ok)
			}
		}
	}
}

func TestPiecesAreText(t *testing.T) {
	r := &Recogniser{vocabulary: []string{"<unk>", "<s>", "</s>", "▁trim", "set", "<0x2E>", "<0xZZ>", "▁"}}
	for id, want := range map[int64]string{-1: "", 0: "", 1: "", 2: "", 3: " trim", 4: "set", 5: ".", 6: "<0xZZ>", 7: " ", 8: "", 1 << 40: ""} {
		if got := r.piece(id); got != want {
			t.Errorf("token %d is %q, want %q", id, got, want)
		}
	}
}
