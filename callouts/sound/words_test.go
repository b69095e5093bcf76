package sound

import (
	"slices"
	"testing"
)

func TestTheDictionaryListsItsWords(t *testing.T) {
	words := slices.Collect(Words())
	for _, w := range []string{"a", "throttle", "zulu"} {
		if !slices.Contains(words, w) {
			t.Errorf("%q is not among %d words", w, len(words))
		}
	}
	for _, w := range words {
		if _, ok := lookUp(w); !ok {
			t.Errorf("%q is listed but not found", w)
		}
	}
	if !slices.IsSorted(words) {
		t.Error("they are not sorted")
	}
}
