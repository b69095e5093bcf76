package main

import (
	"context"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sidetone/audio"
	"sidetone/audio/audiotest"
	"sidetone/audio/recognise/phones"
	"sidetone/callouts/sound"
	"sidetone/cmd/internal/lesson"
)

func TestSentencesAreOfAllKindsAndTheSameForASeed(t *testing.T) {
	s, err := newSentences("../..")
	if err != nil {
		t.Fatal(err)
	}
	phrases := len(slices.Concat(s.calls...))
	if len(s.calls) < 100 || phrases < 10000 || len(s.cockpit) < 50000 || len(s.talk) < 500 || len(s.everyday) < 1000 || len(s.words) < 50000 {
		t.Fatalf("%d callouts in %d phrases, %d, %d and %d sentences, %d words", len(s.calls), phrases, len(s.cockpit), len(s.talk), len(s.everyday), len(s.words))
	}
	made := func(seed uint64) []string {
		rng := rand.New(rand.NewPCG(seed, 0))
		out := make([]string, 500)
		for i := range out {
			out[i] = s.next(rng)
		}
		return out
	}
	some := made(1)
	if !slices.Equal(some, made(1)) {
		t.Error("the same seed makes other sentences")
	}
	if slices.Equal(some, made(2)) {
		t.Error("another seed makes the same sentences")
	}
	heard := map[phones.Phone]bool{}
	for _, text := range some {
		if strings.Trim(text, "abcdefghijklmnopqrstuvwxyz' -") != "" {
			t.Errorf("%q holds what a voice might read in several ways", text)
		}
		for _, p := range soundsOf(text) {
			heard[p] = true
		}
	}
	if len(heard) != phones.Count-1 {
		t.Errorf("%d of %d sounds are said", len(heard), phones.Count-1)
	}
}

func TestEnglishIsTakenFromComments(t *testing.T) {
	known := map[string]bool{}
	for w := range strings.FieldsSeq("the cat sat on a mat dog's gone it is not here") {
		known[w] = true
	}
	got := englishIn("package p\n\n// The cat sat, on\n// a mat. Dog's gone. The xqz sat on it.\n// It is (not here)\nvar x = 1 // the cat sat\n", known)
	if want := []string{"the cat sat on a mat"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestThePhonemesHaveTheDictionarysNumbers(t *testing.T) {
	for i, name := range phones.Names[1:] {
		p, ok := sound.ParsePhones(name)
		if !ok || phones.Phone(p[0].Plain()) != phones.Phone(i+1) {
			t.Errorf("%s has number %v, in the dictionary %v", name, i+1, p)
		}
	}
	var got []string
	for _, p := range soundsOf("carb heat") {
		got = append(got, phones.Names[p])
	}
	if s := strings.Join(got, " "); s != "K AA R B HH IY T" {
		t.Errorf("carb heat is said %s", s)
	}
}

func TestClipsHoldEveryLineOnceAndOneVoice(t *testing.T) {
	audiotest.Need(t, "flite", "espeak-ng")
	dir := t.TempDir()
	var lines []line
	for i, text := range strings.Fields("mixture throttle trim flaps fuel pump") {
		v := lesson.Voice{Engine: "flite", Name: "kal16"}
		if i > 3 {
			v = lesson.Voice{Engine: "espeak-ng", Name: "en-gb+f2"}
		}
		lines = append(lines, line{v, text, 1, filepath.Join(dir, text+".wav")})
	}
	if err := speak(context.Background(), lines, 2, func(int, int) {}); err != nil {
		t.Fatal(err)
	}
	var got, want []phones.Phone
	for _, l := range lines {
		want = append(want, soundsOf(l.text)...)
	}
	clips := group(lines, 1)
	if len(clips) < 2 || len(clips) > len(lines) {
		t.Fatalf("%d clips of %d lines", len(clips), len(lines))
	}
	for _, c := range clips {
		samples, sounds, err := c.make()
		if err != nil {
			t.Fatal(err)
		}
		again, _, err := c.make()
		if err != nil || !slices.Equal(samples, again) {
			t.Errorf("a clip made again is another (%v)", err)
		}
		if n := len(samples); n < audio.Rate/3 || n > longestClip*audio.Rate {
			t.Errorf("a clip of %d samples", n)
		}
		got = append(got, sounds...)
	}
	slices.Sort(got)
	slices.Sort(want)
	if !slices.Equal(got, want) {
		t.Errorf("the clips hold the sounds %v, the lines %v", got, want)
	}
}

func TestExamplesAreReadAsTheyWereWritten(t *testing.T) {
	dir := t.TempDir()
	rng := rand.New(rand.NewPCG(1, 1))
	clips := make([]clip, 70)
	for i := range clips {
		sounds := make([]phones.Phone, 1+rng.IntN(9))
		for k := range sounds {
			sounds[k] = phones.Phone(1 + rng.IntN(39))
		}
		samples := make([]float32, 16*(1+rng.IntN(20)))
		for k := range samples {
			samples[k] = rng.Float32()
		}
		if i == 5 {
			samples, sounds = nil, nil // nothing was left of it
		}
		clips[i] = clip{string(rune('a' + i%3)), nil, func() ([]float32, []phones.Phone, error) { return samples, sounds, nil }}
	}
	encoded := 0
	same := func(x []float32) ([]float32, error) { encoded++; return x, nil }
	if _, err := gather(context.Background(), dir, clips[:clipsInFile], same, 1, func(int, int) {}); err != nil {
		t.Fatal(err)
	}
	got, err := gather(context.Background(), dir, clips, same, 1, func(int, int) {})
	if err != nil {
		t.Fatal(err)
	}
	if encoded != len(clips)-1 {
		t.Errorf("%d clips are encoded, want %d: a run goes on where it was stopped", encoded, len(clips)-1)
	}
	clips = slices.Delete(clips, 5, 6)
	if len(got) != len(clips) {
		t.Fatalf("%d examples, want %d", len(got), len(clips))
	}
	for i, e := range got {
		samples, sounds, _ := clips[i].make()
		if e.voice != clips[i].voice || !slices.Equal(e.Sounds, sounds) || len(e.Frames) != len(samples) {
			t.Errorf("example %d is of %s, %v, %d numbers; want %s, %v, %d", i, e.voice, e.Sounds, len(e.Frames), clips[i].voice, sounds, len(samples))
		}
	}
}

func TestHeldVoicesAreNotLearntFrom(t *testing.T) {
	var all []example
	for i := range 300 {
		all = append(all, example{voice: []string{"flite:rms", "flite:awb", "flite:slt"}[i%3]})
	}
	p, err := split(slices.Clone(all), nil, []string{"flite:rms"}, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range p.learn {
		if e.voice == "flite:rms" {
			t.Fatal("a held voice is learnt from")
		}
	}
	if len(p.learn) != 180 || len(p.ears) != 2 || len(p.ears[0].examples) != 20 || len(p.ears[1].examples) != 100 {
		t.Errorf("%d to learn from, ears %v", len(p.learn), p.ears)
	}
	if _, err := split(all, nil, []string{"flite:nobody"}, 1); err == nil {
		t.Error("a voice that is not there can be held back")
	}
}

func TestFestivalIsGivenItsLines(t *testing.T) {
	got := string(festivalScript("kal_diphone", []line{{text: "dog's gone", drawl: 0.9, file: "x.wav"}}))
	for _, want := range []string{"(voice_kal_diphone)", `"dog's gone"`, `"x.part"`, "Duration_Stretch 0.90"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is not in %s", want, got)
		}
	}
}
