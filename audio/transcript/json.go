package transcript

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
)

// readJSON reads the "transcript" of a debrief as sidetone writes it, a bare array of
// utterances, or what a recogniser answers (see Verbose). Fields it does not know are passed over.
func readJSON(name string, b []byte) ([]Utterance, error) {
	dec := json.NewDecoder(bytes.NewReader(b))
	fail := func(at int64, err error) error {
		var syntax *json.SyntaxError
		var typ *json.UnmarshalTypeError
		switch {
		case errors.As(err, &syntax):
			at = syntax.Offset
		case errors.As(err, &typ):
			// Offsets in type errors count from the value being decoded.
			field := typ.Field[strings.LastIndexByte(typ.Field, '.')+1:]
			err = fmt.Errorf("%q cannot be %s", field, typ.Value)
		case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
			err, at = errors.New("the file ends in the middle"), int64(len(b))
		}
		at = min(at, int64(len(b)))
		return &SyntaxError{name, 1 + bytes.Count(b[:at], []byte("\n")), err.Error()}
	}
	tok, err := dec.Token()
	if err != nil {
		return nil, fail(0, err)
	}
	found, verbose := tok == json.Delim('['), false
	for !found && dec.More() {
		key, err := dec.Token()
		if err != nil {
			return nil, fail(dec.InputOffset(), err)
		}
		if key == "transcript" {
			open, err := dec.Token()
			if err != nil {
				return nil, fail(dec.InputOffset(), err)
			}
			if open != json.Delim('[') {
				return nil, fail(dec.InputOffset(), errors.New(`"transcript" should be a list of utterances`))
			}
			found = true
			break
		}
		verbose = verbose || key == "segments" || key == "words" || key == "text"
		var skip json.RawMessage
		if err := dec.Decode(&skip); err != nil {
			return nil, fail(dec.InputOffset(), err)
		}
	}
	if !found {
		if _, err := dec.Token(); err != nil {
			return nil, fail(dec.InputOffset(), err)
		}
		if verbose {
			return readVerbose(name, b)
		}
		return nil, fmt.Errorf(`%s: %w: the JSON has no "transcript", nor "segments" or "words" of a recogniser`, name, ErrNotTranscript)
	}
	us := []Utterance{}
	for dec.More() {
		at := dec.InputOffset()
		at += int64(len(b[at:]) - len(bytes.TrimLeft(b[at:], " \t\r\n,")))
		var in jsonUtterance
		if err := dec.Decode(&in); err != nil {
			return nil, fail(at, err)
		}
		u, err := in.utterance()
		if err != nil {
			return nil, fail(at, err)
		}
		us = append(us, u)
	}
	if _, err := dec.Token(); err != nil {
		return nil, fail(dec.InputOffset(), err)
	}
	return us, nil
}

// longest is the last second any recording can have; it keeps arithmetic on
// times far from overflow.
const longest = 1e7

type jsonUtterance struct {
	Utterance
	Words []struct {
		Text       string   `json:"text"`
		Start      float64  `json:"start"`
		End        float64  `json:"end"`
		Confidence *float64 `json:"confidence"`
		Estimated  bool     `json:"estimated"`

		Or *Alternative `json:"or"`
	} `json:"words"`
}

func (in jsonUtterance) utterance() (Utterance, error) {
	u := in.Utterance
	if u.Start < 0 || u.End < u.Start || u.End > longest {
		return u, fmt.Errorf("an utterance cannot last from %g to %g s", u.Start, u.End)
	}
	if u.Channel < 0 {
		return u, fmt.Errorf("channels count from 0, this is %d", u.Channel)
	}
	u.Words = make([]Word, 0, len(in.Words))
	for _, w := range in.Words {
		if w.Start < 0 || w.End < w.Start || w.End > longest {
			return u, fmt.Errorf("the word %q cannot last from %g to %g s", w.Text, w.Start, w.End)
		}
		confidence := 1.0
		if w.Confidence != nil {
			confidence = *w.Confidence
		}
		if confidence < 0 || confidence > 1 {
			return u, fmt.Errorf("the confidence of the word %q is %g, not between 0 and 1", w.Text, confidence)
		}
		if or := w.Or; or != nil && (or.Words < 1 || !(or.Confidence >= 0 && or.Confidence <= 1)) {
			return u, fmt.Errorf("what may have been said instead of %q stands in place of %d words, with confidence %g", w.Text, or.Words, or.Confidence)
		}
		u.Words = append(u.Words, Word{w.Text, w.Start, w.End, confidence, w.Estimated, w.Or})
	}
	if len(u.Words) == 0 {
		u.Words = Spread(u.Text, u.Start, u.End)
	}
	if u.Text == "" {
		u.Text = Join(u.Words)
	}
	return u, nil
}
