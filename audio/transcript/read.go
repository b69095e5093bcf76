package transcript

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"unicode"
)

// Format names a file format for words.
type Format string

// The formats Read knows. They are told apart by content, never by file name.
const (
	WebVTT Format = "WebVTT"
	SubRip Format = "SRT"
	JSON   Format = "JSON"
	Plain  Format = "lines with times"
)

// ErrNotTranscript says that a file is none of the formats Read knows.
var ErrNotTranscript = errors.New("not a transcript")

// maxBytes bounds what is read into memory. The words of a two-hour lesson
// take about 2 MB in the wordiest format.
const maxBytes = 64 << 20

// SyntaxError says what is wrong in a file of words, and where. Line counts
// from 1; 0 means the file as a whole.
type SyntaxError struct {
	File string
	Line int
	Msg  string
}

func (e *SyntaxError) Error() string {
	if e.Line == 0 {
		return e.File + ": " + e.Msg
	}
	return fmt.Sprintf("%s:%d: %s", e.File, e.Line, e.Msg)
}

// ReadFile reads a file of words: see Read.
func ReadFile(path string) (*Transcript, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	if st, err := f.Stat(); err == nil && st.IsDir() {
		return nil, fmt.Errorf("%s: is a folder, not a file of words", path)
	}
	return Read(path, f)
}

// Read reads words from r: WebVTT, SRT, lines that begin with their time, or JSON as
// sidetone or a recogniser writes it (see Verbose); name is used in errors. Errors about the content
// are *SyntaxError, or wrap ErrNotTranscript when the format is unknown.
//
// A word without a time of its own gets a share of its cue in proportion to its
// length, and a word without a confidence gets 1.
func Read(name string, r io.Reader) (*Transcript, error) {
	b, err := io.ReadAll(io.LimitReader(r, maxBytes+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if len(b) > maxBytes {
		return nil, fmt.Errorf("%s: larger than %d MB, %w", name, maxBytes>>20, ErrNotTranscript)
	}
	var us []Utterance
	switch format := Detect(b); format {
	case WebVTT:
		us, err = readVTT(name, normalise(b))
	case SubRip:
		us, err = readSRT(name, normalise(b))
	case JSON:
		us, err = readJSON(name, bytes.TrimPrefix(b, bom))
	case Plain:
		us, err = readPlain(name, normalise(b))
	default:
		err = unknown(name, b)
	}
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(us, func(a, b Utterance) int {
		switch {
		case a.Start < b.Start:
			return -1
		case a.Start > b.Start:
			return 1
		}
		return 0
	})
	shareLines(us)
	return &Transcript{Utterances: us}, nil
}

// shareLines keeps the words of lines in their order where lines of one voice run
// into each other, as captions that roll up do, or begin together: a line without
// times of its own for its words ends where the next begins.
func shareLines(us []Utterance) {
	estimated := func(u Utterance) bool {
		return !slices.ContainsFunc(u.Words, func(w Word) bool { return !w.Estimated }) && len(u.Words) > 0
	}
	for i := range us {
		u := &us[i]
		if !estimated(*u) {
			continue
		}
		same := 1 // lines that begin with this one
		for i+same < len(us) && us[i+same].Start == u.Start && us[i+same].Channel == u.Channel && us[i+same].Speaker == u.Speaker && estimated(us[i+same]) {
			same++
		}
		if i+same < len(us) {
			if next := us[i+same]; next.Start > u.Start && next.Start < u.End && next.Channel == u.Channel && next.Speaker == u.Speaker {
				u.End = next.Start
			}
		}
		end := u.End
		if same > 1 {
			all, own := 0, 0
			for k, v := range us[i : i+same] {
				for _, w := range v.Words {
					all += weight(w.Text)
					if k == 0 {
						own += weight(w.Text)
					}
				}
			}
			u.End = part(u.Start, end, own, all)
			us[i+1].Start, us[i+1].End = u.End, max(us[i+1].End, end)
			for k := 2; k < same; k++ {
				us[i+k].Start = u.End
			}
		}
		for k, w := range Spread(u.Text, u.Start, u.End) {
			u.Words[k].Start, u.Words[k].End = w.Start, w.End
		}
	}
}

var bom = []byte("\xef\xbb\xbf")

// Detect tells the format of a file of words from its beginning (a kilobyte is
// plenty); it returns "" for anything else.
func Detect(head []byte) Format {
	head = bytes.TrimPrefix(head, bom)
	// The signature must be the first thing in the file (W3C WebVTT, section 4.1).
	if rest, ok := bytes.CutPrefix(head, []byte("WEBVTT")); ok &&
		(len(rest) == 0 || bytes.ContainsRune([]byte(" \t\r\n"), rune(rest[0]))) {
		return WebVTT
	}
	head = bytes.TrimLeftFunc(head, unicode.IsSpace)
	if len(head) == 0 {
		return ""
	}
	first := head
	if i := bytes.IndexAny(head, "\r\n"); i >= 0 {
		first = head[:i]
	}
	if _, _, _, ok := timedLine(string(first)); ok {
		return Plain
	}
	if head[0] == '{' || head[0] == '[' {
		return JSON
	}
	for range 2 { // a cue number, then its times; some writers leave the number out
		line := head
		if i := bytes.IndexAny(head, "\r\n"); i >= 0 {
			line, head = head[:i], bytes.TrimLeft(head[i:], "\r\n")
		}
		line = bytes.TrimSpace(line)
		if bytes.Contains(line, []byte("-->")) && bytes.Contains(line, []byte(",")) {
			return SubRip
		}
		if !isNumber(string(line)) {
			break
		}
	}
	return ""
}

// unknown explains why a file could not be read at all.
func unknown(name string, b []byte) error {
	body := bytes.TrimSpace(bytes.TrimPrefix(b, bom))
	switch {
	case len(body) == 0:
		return fmt.Errorf("%s: the file is empty, %w", name, ErrNotTranscript)
	case bytes.HasPrefix(b, []byte("\xff\xfe")) || bytes.HasPrefix(b, []byte("\xfe\xff")):
		return fmt.Errorf("%s: the text is UTF-16; save it as UTF-8, %w", name, ErrNotTranscript)
	case bytes.Contains(body, []byte("-->")):
		return fmt.Errorf("%s: %w: it has times but no first line WEBVTT (for WebVTT) "+
			"nor comma times (for SRT)", name, ErrNotTranscript)
	}
	return fmt.Errorf("%s: %w: it is neither WebVTT (first line WEBVTT), SRT (numbered cues with times), JSON, "+
		"nor lines that begin with their time (0:18 Carb heat on.)", name, ErrNotTranscript)
}

// normalise does what W3C WebVTT section 6.1 asks before parsing: UTF-8 with
// replacement, no byte order mark, no NUL, and LF as the only line end.
func normalise(b []byte) string {
	s := strings.ToValidUTF8(string(bytes.TrimPrefix(b, bom)), "\uFFFD")
	return strings.NewReplacer("\x00", "\uFFFD", "\r\n", "\n", "\r", "\n").Replace(s)
}

func isNumber(s string) bool {
	return s != "" && strings.Trim(s, "0123456789") == ""
}
