// Package lend lets other machines use this one's recogniser: it answers the HTTP
// API many speech recognisers offer, POST /v1/audio/transcriptions as in OpenAI's
// published reference, so that their programs, and sidetone's own remote recogniser,
// can ask it. Nothing of what is sent is kept.
package lend

import (
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"net"
	"net/http"
	"net/url"
	"os"
	"strconv"
	"strings"
	"time"

	"sidetone/audio"
	"sidetone/audio/transcript"
)

// Model is the name the recogniser goes by; requests may name any.
const Model = "sidetone"

// Options of a server. What is 0 is as the defaults say.
type Options struct {
	// Hear gives the words of the recording in a file, of at most so many seconds,
	// and its length: see Ears.
	Hear func(ctx context.Context, path string, most float64) (*transcript.Transcript, float64, error)
	// Token must come with each request, as a bearer token; "" asks for none.
	Token string

	MaxBytes   int64   // of an upload. DefaultMaxBytes
	MaxSeconds float64 // of the sound in it. DefaultMaxSeconds
	AtOnce     int     // recordings heard at the same time. 1
	Queue      int     // more that may wait. DefaultQueue

	// Log is told a line about each request, without anything of what was said. Nil
	// for none.
	Log func(line string)
}

// The defaults of Options. The size is that of OpenAI's own limit.
const (
	DefaultMaxBytes   = 25 << 20
	DefaultMaxSeconds = 3600
	DefaultQueue      = 8
)

// Server answers requests. It is safe for use by several goroutines.
type Server struct {
	opt   Options
	mux   *http.ServeMux
	room  chan struct{} // one for each request that is taken in
	turns chan struct{} // one for each recording that is heard
}

// New makes a server.
func New(opt Options) *Server {
	if opt.MaxBytes == 0 {
		opt.MaxBytes = DefaultMaxBytes
	}
	if opt.MaxSeconds == 0 {
		opt.MaxSeconds = DefaultMaxSeconds
	}
	if opt.AtOnce == 0 {
		opt.AtOnce = 1
	}
	if opt.Queue == 0 {
		opt.Queue = DefaultQueue
	}
	if opt.Log == nil {
		opt.Log = func(string) {}
	}
	s := &Server{opt: opt, mux: http.NewServeMux(), room: make(chan struct{}, opt.AtOnce+opt.Queue), turns: make(chan struct{}, opt.AtOnce)}
	s.mux.HandleFunc("/v1/audio/transcriptions", s.only(http.MethodPost, s.transcribe))
	s.mux.HandleFunc("/v1/models", s.only(http.MethodGet, models))
	s.mux.HandleFunc("/", handler(func(http.ResponseWriter, *http.Request) error {
		return refusal{http.StatusNotFound, "not_found", "", "nothing is here; speech is recognised at POST /v1/audio/transcriptions"}
	}).serve(s))
	return s
}

type handler func(http.ResponseWriter, *http.Request) error

func (h handler) serve(s *Server) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) { s.answer(w, r, h) }
}

// ServeHTTP implements http.Handler.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.mux.ServeHTTP(w, r) }

// Serve answers on l until ctx ends; recordings being heard then are given up.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	server := &http.Server{Handler: s, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 10 * time.Minute, IdleTimeout: 2 * time.Minute,
		MaxHeaderBytes: 64 << 10, BaseContext: func(net.Listener) context.Context { return ctx }}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(l) }()
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
		_ = server.Close()
		return context.Cause(ctx)
	}
}

// refusal is an error as the API tells it: {"error":{"message":...}}.
type refusal struct {
	status  int
	code    string
	param   string
	message string
}

func (r refusal) Error() string { return r.message }

func wrong(param, format string, args ...any) refusal {
	return refusal{http.StatusBadRequest, "invalid_value", param, fmt.Sprintf(format, args...)}
}

// only lets one method through, and only those who may ask.
func (s *Server) only(method string, h handler) http.HandlerFunc {
	return handler(func(w http.ResponseWriter, r *http.Request) error {
		if r.Method != method && !(method == http.MethodGet && r.Method == http.MethodHead) {
			w.Header().Set("Allow", method)
			return refusal{http.StatusMethodNotAllowed, "method_not_allowed", "", fmt.Sprintf("%s is answered here, not %s", method, r.Method)}
		}
		if err := s.may(w, r); err != nil {
			return err
		}
		return h(w, r)
	}).serve(s)
}

// may tells whether a request is allowed. A page in somebody's browser is not: it
// could ask this machine without its user knowing.
func (s *Server) may(w http.ResponseWriter, r *http.Request) error {
	if o := r.Header.Get("Origin"); o != "" {
		if u, err := url.Parse(o); err != nil || u.Host != r.Host {
			return refusal{http.StatusForbidden, "origin_not_allowed", "", "pages of other sites are not answered"}
		}
	}
	if s.opt.Token == "" {
		host, _, err := net.SplitHostPort(r.Host)
		if err != nil {
			host = strings.Trim(r.Host, "[]")
		}
		if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) { // a name made to point here
			return refusal{http.StatusForbidden, "host_not_allowed", "", "this machine is asked by the name of another; without a token it answers as localhost only"}
		}
		return nil
	}
	token, _ := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
	got, want := sha256.Sum256([]byte(token)), sha256.Sum256([]byte(s.opt.Token))
	if subtle.ConstantTimeCompare(got[:], want[:]) != 1 {
		w.Header().Set("WWW-Authenticate", "Bearer")
		return refusal{http.StatusUnauthorized, "invalid_api_key", "", "the token is missing or wrong: send the header Authorization: Bearer TOKEN"}
	}
	return nil
}

// answer runs a handler and tells its error.
func (s *Server) answer(w http.ResponseWriter, r *http.Request, h handler) {
	began, body := time.Now(), r.Body
	seen := &status{ResponseWriter: w}
	err := h(seen, r)
	if err != nil && seen.code == 0 {
		var no refusal
		if !errors.As(err, &no) {
			no = refusal{http.StatusInternalServerError, "server_error", "", "hearing failed on this machine; its own log says why"}
		}
		// Whoever is still sending would not hear the answer.
		_, _ = io.Copy(io.Discard, io.LimitReader(body, s.opt.MaxBytes))
		no.write(seen)
	}
	line := fmt.Sprintf("%s %s from %s: %d in %.1f s", r.Method, r.URL.Path, r.RemoteAddr, seen.code, time.Since(began).Seconds())
	if r.Context().Err() != nil {
		line += ", the asker had gone"
	}
	if err != nil {
		line += ": " + err.Error()
	}
	s.opt.Log(oneLine(line + seen.note))
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

func (n refusal) write(w http.ResponseWriter) {
	kind := "invalid_request_error"
	if n.status >= 500 {
		kind = "server_error"
	}
	var param any
	if n.param != "" {
		param = n.param
	}
	writeJSON(w, n.status, map[string]any{"error": map[string]any{"message": n.message, "type": kind, "param": param, "code": n.code}})
}

func writeJSON(w http.ResponseWriter, code int, v any) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(code)
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	_ = enc.Encode(v)
}

// status remembers what was answered.
type status struct {
	http.ResponseWriter
	code int
	note string
}

func (s *status) WriteHeader(code int) {
	if s.code == 0 {
		s.code = code
	}
	s.ResponseWriter.WriteHeader(code)
}

func (s *status) Unwrap() http.ResponseWriter { return s.ResponseWriter }

func models(w http.ResponseWriter, _ *http.Request) error {
	writeJSON(w, http.StatusOK, map[string]any{"object": "list",
		"data": []any{map[string]any{"id": Model, "object": "model", "created": 0, "owned_by": Model}}})
	return nil
}

// transcribe answers POST /v1/audio/transcriptions.
func (s *Server) transcribe(w http.ResponseWriter, r *http.Request) error {
	select {
	case s.room <- struct{}{}:
		defer func() { <-s.room }()
	default:
		w.Header().Set("Retry-After", strconv.Itoa(min(60, 5*s.opt.Queue)))
		return refusal{http.StatusTooManyRequests, "queue_full", "", fmt.Sprintf("%d recordings wait already; come back later", s.opt.Queue)}
	}
	req, err := s.read(w, r)
	if req != nil {
		defer req.remove()
	}
	if err != nil {
		return err
	}
	_ = http.NewResponseController(w).SetReadDeadline(time.Time{}) // all is read; hearing may take long
	select {
	case s.turns <- struct{}{}:
		defer func() { <-s.turns }()
	case <-r.Context().Done():
		return r.Context().Err()
	}
	began := time.Now()
	words, seconds, err := s.opt.Hear(r.Context(), req.path, s.opt.MaxSeconds)
	switch {
	case r.Context().Err() != nil:
		return r.Context().Err()
	case errors.Is(err, ErrTooLong):
		return refusal{http.StatusRequestEntityTooLarge, "audio_too_long", "file", fmt.Sprintf("the sound is longer than %.0f minutes, the most that is taken at once", s.opt.MaxSeconds/60)}
	case errors.Is(err, audio.ErrNoFFmpeg):
		return refusal{http.StatusUnsupportedMediaType, "unsupported_format", "file", "this machine reads WAV and FLAC only: ffmpeg is not installed on it"}
	case errors.Is(err, audio.ErrNotAudio):
		return wrong("file", "the file holds no sound that can be read")
	case err != nil:
		return err
	}
	if st, ok := w.(*status); ok {
		st.note = fmt.Sprintf(", %.1f s of sound heard in %.1f s", seconds, time.Since(began).Seconds())
	}
	return req.write(w, words, seconds)
}

// write answers in the form that was asked for.
func (q *request) write(w http.ResponseWriter, words *transcript.Transcript, seconds float64) error {
	v := transcript.NewVerbose(words, math.Round(seconds*1000)/1000)
	switch q.format {
	case "json":
		writeJSON(w, http.StatusOK, map[string]string{"text": v.Text})
		return nil
	case "verbose_json":
		if !q.words {
			v.Words = nil
		}
		if !q.segments {
			v.Segments = nil
		}
		writeJSON(w, http.StatusOK, v)
		return nil
	}
	var b strings.Builder
	kind := "text/plain; charset=utf-8"
	var err error
	switch q.format {
	case "text":
		b.WriteString(v.Text + "\n")
	case "srt":
		err = transcript.WriteSRT(&b, words)
	case "vtt":
		kind, err = "text/vtt; charset=utf-8", transcript.WriteVTT(&b, words)
	}
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Length", strconv.Itoa(b.Len()))
	w.WriteHeader(http.StatusOK)
	_, _ = io.WriteString(w, b.String())
	return nil
}

func (q *request) remove() {
	if q.path != "" {
		_ = os.Remove(q.path)
	}
}
