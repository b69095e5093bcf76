package english

import (
	"slices"
	"testing"
)

func TestVerbsHaveTheirForms(t *testing.T) {
	for _, c := range []struct {
		word, base string
		form       Form
	}{
		{"bring", "bring", Base}, {"brings", "bring", Third}, {"brought", "bring", Past | Participle}, {"bringing", "bring", Ing},
		{"trim", "trim", Base}, {"trimmed", "trim", Past | Participle}, {"trimming", "trim", Ing},
		{"put", "put", Base | Past | Participle}, {"putting", "put", Ing},
		{"went", "go", Past}, {"gone", "go", Participle}, {"goes", "go", Third},
		{"reduced", "reduce", Past | Participle}, {"reducing", "reduce", Ing},
		{"levelled", "level", Past | Participle}, {"leveling", "level", Ing},
		{"tries", "try", Third}, {"stayed", "stay", Past | Participle}, {"relaxing", "relax", Ing},
		{"begun", "begin", Participle}, {"forgotten", "forget", Participle}, {"forgetting", "forget", Ing}, {"recovered", "recover", Past | Participle},
	} {
		if got := FormOf(c.word); got != c.form || BaseOf(c.word) != c.base {
			t.Errorf("%s: form %b of %q, want %b of %q", c.word, got, BaseOf(c.word), c.form, c.base)
		}
		if !IsFormOf(c.word, c.base) {
			t.Errorf("%s is a form of %s", c.word, c.base)
		}
	}
	for _, w := range []string{"heading", "morning", "hundred", "carb", "flaps"} {
		if f := FormOf(w); f != 0 {
			t.Errorf("%s: form %b, want none", w, f)
		}
	}
	if FormOf("configured")&Participle == 0 || FormOf("unlatching")&Ing == 0 {
		t.Error("verbs that are not listed are not known by their endings")
	}
}

func TestShortenedWordsAreWrittenOut(t *testing.T) {
	for _, c := range []struct {
		word string
		want []string
	}{
		{"don't", []string{"do", "not"}}, {"dont", []string{"do", "not"}}, {"can't", []string{"can", "not"}}, {"won't", []string{"will", "not"}},
		{"we'll", []string{"we", "will"}}, {"i'm", []string{"i", "am"}}, {"let's", []string{"let", "us"}}, {"gonna", []string{"going", "to"}},
		{"heat's", []string{"heat", "is"}}, {"flaps", []string{"flaps"}},
		// What another word is spelt like is that word.
		{"here", []string{"here"}}, {"were", []string{"were"}}, {"well", []string{"well"}}, {"ill", []string{"ill"}}, {"its", []string{"its"}},
	} {
		if got := Full(c.word); !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.word, got, c.want)
		}
	}
}

func TestWordsAreInTheirClasses(t *testing.T) {
	for _, c := range []struct {
		word string
		kind Kind
		is   bool
	}{
		{"we", Subject, true}, {"the", Determiner, true}, {"gently", Adverb, true}, {"bringing", Light, true}, {"isn't", Negative, true}, {"isn't", Be, true},
		{"up", Particle, true}, {"without", Preposition, true}, {"pilots", Everybody, true},
		{"flaps", Subject | Determiner | Adverb | Light | Preposition, false}, {"heat", Light | Aux, false}, {"and", Particle, false},
	} {
		if got := Is(c.word, c.kind); got != c.is {
			t.Errorf("%s in class %b: %v, want %v", c.word, c.kind, got, c.is)
		}
	}
}
