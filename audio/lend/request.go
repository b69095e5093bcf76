package lend

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"slices"
	"strconv"
	"strings"

	"sidetone/audio/flac"
)

// request is what somebody asks for. The file is a temporary one, of this user alone.
type request struct {
	path            string
	format          string
	words, segments bool
}

// mostField bounds a field that is not the file, in bytes.
const mostField = 64 << 10

var formats = []string{"json", "text", "srt", "verbose_json", "vtt"}

// read takes a request in, field by field; the sound goes straight to the disk.
func (s *Server) read(w http.ResponseWriter, r *http.Request) (*request, error) {
	r.Body = http.MaxBytesReader(w, r.Body, s.opt.MaxBytes+1<<20)
	parts, err := r.MultipartReader()
	if err != nil {
		return nil, refusal{http.StatusBadRequest, "invalid_form", "", "the request is no form with a file (multipart/form-data)"}
	}
	q := &request{format: "json"}
	fields := map[string][]string{}
	for {
		p, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return q, s.unread(err)
		}
		if p.FormName() != "file" {
			b, err := io.ReadAll(io.LimitReader(p, mostField+1))
			if err != nil {
				return q, s.unread(err)
			}
			if len(b) > mostField {
				return q, wrong(p.FormName(), "%q is longer than %d kB", p.FormName(), mostField>>10)
			}
			fields[p.FormName()] = append(fields[p.FormName()], string(b))
			continue
		}
		if q.path != "" {
			return q, wrong("file", "there are two files; one is heard at a time")
		}
		if q.path, err = s.save(p); err != nil {
			return q, err
		}
	}
	if q.path == "" {
		return q, refusal{http.StatusBadRequest, "missing_required_parameter", "file", "there is no file to hear"}
	}
	return q, q.ask(fields)
}

// unread says why the rest of a request could not be read.
func (s *Server) unread(err error) error {
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return s.tooLarge()
	}
	return refusal{http.StatusBadRequest, "invalid_form", "", "the form breaks off or is damaged"}
}

func (s *Server) tooLarge() error {
	return refusal{http.StatusRequestEntityTooLarge, "file_too_large", "file", fmt.Sprintf("the file is larger than %d MB, the most that is taken", s.opt.MaxBytes>>20)}
}

// save puts the file of a form on the disk, as something audio reads.
func (s *Server) save(p *multipart.Part) (path string, err error) {
	in := bufio.NewReader(io.LimitReader(p, s.opt.MaxBytes+1))
	count := &counter{Reader: in}
	head, _ := in.Peek(len(flac.Magic))
	f, err := os.CreateTemp("", "sidetone-*.sound")
	if err != nil {
		return "", err
	}
	defer f.Close()
	if string(head) == flac.Magic {
		err = flac.ToWAV(f, count, s.opt.MaxSeconds)
	} else {
		_, err = io.Copy(f, count)
	}
	var large *http.MaxBytesError
	switch {
	case count.n > s.opt.MaxBytes || errors.As(err, &large):
		return f.Name(), s.tooLarge()
	case errors.Is(err, flac.ErrDamaged):
		return f.Name(), wrong("file", "the file holds no sound that can be read: it is damaged")
	case errors.Is(err, flac.ErrTooLong):
		return f.Name(), refusal{http.StatusRequestEntityTooLarge, "audio_too_long", "file", fmt.Sprintf("the sound is longer than %.0f minutes, the most that is taken at once", s.opt.MaxSeconds/60)}
	case errors.Is(err, io.ErrUnexpectedEOF):
		return f.Name(), s.unread(err)
	}
	return f.Name(), err
}

// counter counts what is read.
type counter struct {
	io.Reader
	n int64
}

func (c *counter) Read(b []byte) (int, error) {
	n, err := c.Reader.Read(b)
	c.n += int64(n)
	return n, err
}

// ask takes the fields of the form. The prompt is taken and not needed: what is
// expected here is this machine's own lexicon.
func (q *request) ask(fields map[string][]string) error {
	first := func(name string) string {
		if v := fields[name]; len(v) > 0 {
			return strings.TrimSpace(v[0])
		}
		return ""
	}
	if f := first("response_format"); f != "" {
		if !slices.Contains(formats, f) {
			return wrong("response_format", "response_format %q is none of %s", f, strings.Join(formats, ", "))
		}
		q.format = f
	}
	asked := slices.Concat(fields["timestamp_granularities[]"], fields["timestamp_granularities"])
	for _, g := range asked {
		switch g {
		case "word":
			q.words = true
		case "segment":
			q.segments = true
		default:
			return wrong("timestamp_granularities[]", "timestamp_granularities %q is neither word nor segment", g)
		}
	}
	if len(asked) > 0 && q.format != "verbose_json" {
		return wrong("timestamp_granularities[]", "timestamp_granularities need the response_format verbose_json")
	}
	if len(asked) == 0 {
		q.segments = true
	}
	if t := first("temperature"); t != "" {
		if v, err := strconv.ParseFloat(t, 64); err != nil || !(v >= 0 && v <= 1) {
			return wrong("temperature", "temperature %q is no number from 0 to 1", t)
		}
	}
	if l := strings.ToLower(first("language")); l != "" && l != "en" && l != "english" && !strings.HasPrefix(l, "en-") {
		return wrong("language", "language %q is not understood here: English is", l)
	}
	if v := first("stream"); v != "" && v != "false" && v != "0" {
		return wrong("stream", "answers are not streamed here")
	}
	return nil
}
