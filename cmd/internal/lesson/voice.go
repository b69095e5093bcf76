package lesson

import (
	"context"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"

	"sidetone/audio"
)

const rate = audio.Rate

// Speech is a line as spoken: samples at 16 kHz, and where each word begins and
// ends, in seconds.
type Speech struct {
	Samples []float32
	Begins  []float64
	Ends    []float64
}

// Voice is a synthetic voice.
type Voice struct {
	Engine string // flite, festival or espeak-ng
	Name   string // as the engine calls it
}

func (v Voice) String() string { return v.Engine + ":" + v.Name }

var (
	fliteVoices = []string{"slt", "rms", "awb", "kal", "kal16"}
	voiceName   = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_+-]*$`)
)

// ParseVoice reads "engine:name"; a name alone is one of flite's.
func ParseVoice(s string) (Voice, error) {
	v := Voice{Engine: "flite", Name: s}
	if engine, name, ok := strings.Cut(s, ":"); ok {
		v = Voice{engine, name}
	}
	switch v.Engine {
	case "flite":
		if !slices.Contains(fliteVoices, v.Name) {
			return v, fmt.Errorf("flite has no voice %q; one of %q", v.Name, fliteVoices)
		}
	case "festival", "espeak-ng":
		if !voiceName.MatchString(v.Name) {
			return v, fmt.Errorf("%q is no name of a voice", v.Name)
		}
	default:
		return v, fmt.Errorf("no engine is called %q; one of flite, festival, espeak-ng", v.Engine)
	}
	return v, nil
}

// Say speaks words with a voice, through the engine's Debian package.
func Say(v Voice, words []string) (Speech, error) {
	switch v.Engine {
	case "flite":
		return sayFlite(v.Name, words)
	case "festival":
		return sayFestival(v.Name, words)
	case "espeak-ng":
		return sayEspeak(v.Name, words)
	}
	return Speech{}, fmt.Errorf("no engine is called %q", v.Engine)
}

// Load reads a WAV file of one channel, brought to 16 kHz if it is not.
func Load(file string) ([]float32, error) {
	src, err := audio.Open(context.Background(), file)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	if n := src.Info().Channels; n != 1 {
		return nil, fmt.Errorf("%s: %d channels, one was expected", file, n)
	}
	var out []float32
	for {
		block, err := src.Read()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		if err != nil {
			return nil, err
		}
		out = append(out, block[0]...)
	}
}

// unspoken gives words the engine let run into another (a voice may say "of
// the" as one) their share of that one's time, by length. begins is below 0
// where nothing is known.
func (s *Speech) unspoken(words []string) {
	for i := 0; i < len(words); {
		j := i + 1
		for j < len(words) && s.Begins[j] < 0 {
			j++
		}
		if j > i+1 && s.Begins[i] >= 0 {
			from, to, all, done := s.Begins[i], s.Ends[i], 0, 0
			for _, w := range words[i:j] {
				all += len(letters(w)) + 1
			}
			for k := i; k < j; k++ {
				s.Begins[k] = from + (to-from)*float64(done)/float64(all)
				done += len(letters(words[k])) + 1
				s.Ends[k] = from + (to-from)*float64(done)/float64(all)
			}
		}
		i = j
	}
	for i := range words { // before the first that is known
		if s.Begins[i] < 0 {
			s.Begins[i], s.Ends[i] = 0, 0
			if n := slices.IndexFunc(s.Begins, func(b float64) bool { return b > 0 }); n >= 0 {
				s.Begins[i], s.Ends[i] = s.Begins[n], s.Begins[n]
			}
		}
	}
}
