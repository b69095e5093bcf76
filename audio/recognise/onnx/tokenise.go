package onnx

import (
	"strings"
	"sync"
)

// tokeniser writes text in the model's tokens: byte-pair merges, the piece with
// the lowest id first (ids are in order of merging, as SentencePiece writes
// them). Words are independent of each other, and remembered.
type tokeniser struct {
	ids   map[string]int64
	mu    sync.Mutex
	words map[string][]int64
}

func newTokeniser(vocabulary []string) *tokeniser {
	t := &tokeniser{ids: make(map[string]int64, len(vocabulary)), words: map[string][]int64{}}
	for i, p := range vocabulary {
		if _, ok := t.ids[p]; !ok {
			t.ids[p] = int64(i)
		}
	}
	return t
}

// encode returns the tokens of text, words separated by spaces. ok is false
// when a character has no token.
func (t *tokeniser) encode(text string) (ids []int64, ok bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, w := range strings.Fields(text) {
		known, ok := t.words[w]
		if !ok {
			if known, ok = t.word(w); !ok {
				return nil, false
			}
			t.words[w] = known
		}
		ids = append(ids, known...)
	}
	return ids, len(ids) > 0
}

func (t *tokeniser) word(w string) (ids []int64, ok bool) {
	var pieces []string
	for _, c := range wordMark + w {
		pieces = append(pieces, string(c))
	}
	for {
		at, best := -1, int64(0)
		for i := 0; i+1 < len(pieces); i++ {
			if id, in := t.ids[pieces[i]+pieces[i+1]]; in && (at < 0 || id < best) {
				at, best = i, id
			}
		}
		if at < 0 {
			break
		}
		pieces[at] += pieces[at+1]
		pieces = append(pieces[:at+1], pieces[at+2:]...)
	}
	for _, p := range pieces {
		id, in := t.ids[p]
		if !in {
			return nil, false
		}
		ids = append(ids, id)
	}
	return ids, true
}
