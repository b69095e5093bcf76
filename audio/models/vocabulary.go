package models

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"os"
	"regexp"
	"strings"
)

// tokenizerSource is the script the vocabulary is taken out of; it is not kept.
const tokenizerSource = "llama-tokenizer.js"

var vocabularyLine = regexp.MustCompile(`llama_vocab_base64\s*=\s*"([A-Za-z0-9+/=]+)"`)

// extractVocabulary takes the token list out of the tokenizer's script: a
// base64 string of tokens, one a line.
func extractVocabulary(script []byte) ([]byte, error) {
	m := vocabularyLine.FindSubmatch(script)
	if m == nil {
		return nil, fmt.Errorf("%s holds no vocabulary", tokenizerSource)
	}
	raw, err := base64.StdEncoding.DecodeString(string(m[1]))
	if err != nil {
		return nil, fmt.Errorf("%s: vocabulary: %w", tokenizerSource, err)
	}
	if n := bytes.Count(raw, []byte("\n")); n < 31000 {
		return nil, fmt.Errorf("%s: vocabulary of only %d tokens", tokenizerSource, n)
	}
	return raw, nil
}

// ReadVocabulary returns the tokens of a vocabulary file, index is the token's id.
func ReadVocabulary(path string) ([]string, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return parseVocabulary(path, b)
}

func parseVocabulary(path string, b []byte) ([]string, error) {
	tokens := strings.Split(strings.TrimSuffix(string(b), "\n"), "\n")
	if len(tokens) < 3 {
		return nil, fmt.Errorf("%s: not a vocabulary: %d tokens", path, len(tokens))
	}
	return tokens, nil
}
