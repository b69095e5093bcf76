package sound

import "testing"

func TestWordsAreToldFromWhatIsNone(t *testing.T) {
	for word, want := range map[string]bool{
		"heat": true, "Heat,": true, "niner": true, "rpm": true, "1,700": true, "65kts": true,
		"plane's": true, "touch-and-go": true, "5.10.": true, "": true,
		"torbigon": false, "Trincess": false, "lifestranity": false, "carb-trincess": false,
	} {
		if got := Known(word); got != want {
			t.Errorf("%q is a word: %v, want %v", word, got, want)
		}
	}
}
