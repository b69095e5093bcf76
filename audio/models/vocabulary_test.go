package models

import (
	"bytes"
	"encoding/base64"
	"strings"
	"testing"
)

// FuzzVocabulary reads the list of tokens, and the script it is taken from,
// whatever they hold: a list with a token for each line, or an error.
func FuzzVocabulary(f *testing.F) {
	f.Add([]byte("<unk>\n<s>\n</s>\n a\n"))
	f.Add([]byte("\n\n\n"))
	f.Add([]byte(`llama_vocab_base64 = "` + base64.StdEncoding.EncodeToString([]byte(strings.Repeat("x\n", 31000))) + `"`))
	f.Add([]byte(`llama_vocab_base64 = "====" llama_vocab_base64="YQ=="`))
	f.Fuzz(func(t *testing.T, b []byte) {
		if tokens, err := parseVocabulary("vocabulary.txt", b); err == nil {
			if len(tokens) < 3 || strings.Join(tokens, "\n") != strings.TrimSuffix(string(b), "\n") {
				t.Errorf("%d tokens of %d bytes", len(tokens), len(b))
			}
		} else if !strings.Contains(err.Error(), "vocabulary.txt") {
			t.Errorf("the error does not name the file: %v", err)
		}
		if raw, err := extractVocabulary(b); err == nil && bytes.Count(raw, []byte("\n")) < 31000 {
			t.Errorf("a vocabulary of %d bytes was taken", len(raw))
		}
	})
}
