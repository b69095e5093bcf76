package onnx

import (
	"math"
	"strconv"
	"strings"

	"sidetone/audio/transcript"
)

// wordMark stands in the vocabulary for the space before a word.
const wordMark = "▁"

// piece is the text of a token: byte tokens ("<0x2E>") decoded, the word mark
// of the vocabulary turned into a space.
func (r *Recogniser) piece(id int64) string {
	if id < 0 || int(id) >= len(r.vocabulary) || id <= endToken {
		return ""
	}
	p := r.vocabulary[id]
	if strings.HasPrefix(p, "<0x") && strings.HasSuffix(p, ">") {
		if b, err := strconv.ParseUint(p[3:len(p)-1], 16, 8); err == nil {
			return string([]byte{byte(b)})
		}
	}
	return strings.ReplaceAll(p, wordMark, " ")
}

// words puts tokens together into words. A word's confidence is the
// probability of its tokens, the geometric mean over them.
func (r *Recogniser) words(tokens []token) []transcript.Word {
	var words []transcript.Word
	sum, n := 0.0, 0
	flush := func() {
		if len(words) > 0 && n > 0 {
			words[len(words)-1].Confidence = math.Exp(sum / float64(n))
		}
		sum, n = 0, 0
	}
	for _, t := range tokens {
		p := r.piece(t.id)
		if strings.HasPrefix(p, " ") || len(words) == 0 {
			flush()
			words = append(words, transcript.Word{})
		}
		words[len(words)-1].Text += strings.TrimSpace(p)
		sum, n = sum+t.logProb, n+1
	}
	flush()
	// A lone mark is a word of no sound.
	kept := words[:0]
	for _, w := range words {
		if w.Text = strings.ToValidUTF8(w.Text, ""); w.Text != "" {
			kept = append(kept, w)
		}
	}
	return kept
}
