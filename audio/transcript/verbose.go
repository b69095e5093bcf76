package transcript

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
)

// Verbose is what speech recognisers answer and save: the verbose_json of
// /v1/audio/transcriptions in OpenAI's published API reference ("The transcription
// object (Verbose JSON)"). Times are seconds from the start of the sound. Words are
// those asked for by themselves; other programs have them within the segments, and a
// probability with each.
type Verbose struct {
	Task     string           `json:"task"`
	Language string           `json:"language"`
	Duration Seconds          `json:"duration"`
	Text     string           `json:"text"`
	Segments []VerboseSegment `json:"segments,omitempty"`
	Words    []VerboseWord    `json:"words,omitempty"`
}

// VerboseSegment is a stretch of speech in Verbose.
type VerboseSegment struct {
	ID               int           `json:"id"`
	Seek             int           `json:"seek"`
	Start            float64       `json:"start"`
	End              float64       `json:"end"`
	Text             string        `json:"text"`
	Tokens           []int         `json:"tokens"`
	Temperature      float64       `json:"temperature"`
	AvgLogprob       float64       `json:"avg_logprob"` // mean log-probability, natural
	CompressionRatio float64       `json:"compression_ratio"`
	NoSpeechProb     float64       `json:"no_speech_prob"`
	Words            []VerboseWord `json:"words,omitempty"`
}

// VerboseWord is a word in Verbose. Or is sidetone's own: others pass it over.
type VerboseWord struct {
	Word        string       `json:"word"`
	Start       float64      `json:"start"`
	End         float64      `json:"end"`
	Probability *float64     `json:"probability,omitempty"`
	Or          *Alternative `json:"or,omitempty"`
}

// Seconds is a number that some write as a string.
type Seconds float64

// UnmarshalJSON reads 8.5 and "8.5".
func (s *Seconds) UnmarshalJSON(b []byte) error {
	return json.Unmarshal(bytes.Trim(b, `"`), (*float64)(s))
}

// ErrNoTimes says that words came without any times.
var ErrNoTimes = errors.New("there are words, but no times of them")

// ErrWrongTimes says that the times of words cannot be.
var ErrWrongTimes = errors.New("its times cannot be")

// Utterances gives the words with their times. Words that have a time of their own
// take their marks and capitals from the text; where only segments have times, those
// of their words are estimated. The error wraps ErrNoTimes or ErrWrongTimes.
func (v Verbose) Utterances() ([]Utterance, error) {
	var us []Utterance
	segments := v.Segments
	if len(v.Words) > 0 {
		segments = v.shared()
	}
	for _, s := range segments {
		u, err := s.utterance()
		if err != nil {
			return nil, err
		}
		if len(u.Words) > 0 {
			us = append(us, u)
		}
	}
	if len(us) == 0 && strings.TrimSpace(v.Text) != "" && len(v.Segments) == 0 {
		return nil, ErrNoTimes
	}
	return us, nil
}

// shared gives each segment its own of the words that stand by themselves; without
// segments they are all one.
func (v Verbose) shared() []VerboseSegment {
	if len(v.Segments) == 0 {
		first, last := v.Words[0], v.Words[len(v.Words)-1]
		return []VerboseSegment{{Start: first.Start, End: last.End, Text: v.Text, Words: v.Words}}
	}
	out := slices.Clone(v.Segments)
	for i := range out {
		out[i].Words = nil
	}
	at := 0
	for _, w := range v.Words {
		mid := (w.Start + w.End) / 2
		for at+1 < len(out) && mid >= (out[at].End+out[at+1].Start)/2 {
			at++
		}
		out[at].Words = append(out[at].Words, w)
	}
	return out
}

func (s VerboseSegment) utterance() (Utterance, error) {
	u := Utterance{Start: s.Start, End: s.End}
	if err := possible(s.Text, s.Start, s.End); err != nil {
		return u, err
	}
	sure := 1.0 // a segment that says nothing of itself
	if s.AvgLogprob < 0 {
		sure = math.Exp(s.AvgLogprob)
	}
	for _, w := range s.Words {
		if err := possible(w.Word, w.Start, w.End); err != nil {
			return u, err
		}
		if text := strings.Join(strings.Fields(w.Word), " "); text != "" {
			p := sure
			if w.Probability != nil {
				p = min(max(*w.Probability, 0), 1)
			}
			or := w.Or
			if or != nil && (or.Words < 1 || !(or.Confidence >= 0 && or.Confidence <= 1)) {
				or = nil
			}
			u.Words = append(u.Words, Word{Text: text, Start: w.Start, End: w.End, Confidence: p, Or: or})
			u.Start, u.End = min(u.Start, w.Start), max(u.End, w.End)
		}
	}
	if len(u.Words) == 0 {
		u.Words = Spread(s.Text, s.Start, s.End)
		for i := range u.Words {
			u.Words[i].Confidence, u.Words[i].Estimated = sure, true
		}
	} else if text := strings.TrimSpace(s.Text); text != "" {
		marked := u.Correct(text)
		if len(marked.Words) == len(u.Words) { // else the text is not that of the words
			for i := range u.Words {
				u.Words[i].Text = marked.Words[i].Text
			}
		}
	}
	u.Text = Join(u.Words)
	return u, nil
}

func possible(text string, start, end float64) error {
	if !(start >= 0 && end >= start && end <= longest) {
		return fmt.Errorf("%w: %q cannot last from %g to %g s", ErrWrongTimes, text, start, end)
	}
	return nil
}

// NewVerbose is t as Verbose, of a sound of so many seconds. An utterance is a
// segment; its AvgLogprob is that of its words.
func NewVerbose(t *Transcript, duration float64) Verbose {
	v := Verbose{Task: "transcribe", Language: "english", Duration: Seconds(duration)}
	var texts []string
	for _, u := range t.Utterances {
		words := wordsOf(u)
		if len(words) == 0 {
			continue
		}
		s := VerboseSegment{ID: len(v.Segments), Seek: int(u.Start * 100), Start: u.Start, End: u.End, Text: Join(words), Tokens: []int{}}
		for _, w := range words {
			p := w.Confidence
			s.AvgLogprob += math.Log(max(p, 1e-6)) / float64(len(words))
			v.Words = append(v.Words, VerboseWord{w.Text, w.Start, w.End, &p, w.Or})
		}
		s.CompressionRatio = 1 // not measured
		v.Segments, texts = append(v.Segments, s), append(texts, s.Text)
	}
	v.Text = strings.Join(texts, " ")
	return v
}

// WriteVerbose writes t as Verbose. Speakers and channels are lost.
func WriteVerbose(w io.Writer, t *Transcript) error {
	end := 0.0
	for _, u := range t.Utterances {
		end = max(end, u.End)
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	return enc.Encode(NewVerbose(t, end))
}

// readVerbose reads it back.
func readVerbose(name string, b []byte) ([]Utterance, error) {
	var v Verbose
	if err := json.Unmarshal(b, &v); err != nil {
		return nil, &SyntaxError{name, 0, err.Error()}
	}
	us, err := v.Utterances()
	if err != nil {
		return nil, &SyntaxError{name, 0, err.Error()}
	}
	return us, nil
}
