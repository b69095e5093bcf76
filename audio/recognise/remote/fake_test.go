package remote

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"

	"sidetone/audio"
	"sidetone/audio/flac"
	"sidetone/audio/transcript"
)

// The recogniser these tests send to hears levels: a run of samples of level k/100 is
// the word "wk", said from its first sample to its last.

// A word of these tests lasts so many samples, and silence follows: 50 and 10 ms.
const wordSamples, silentSamples = audio.Rate / 20, audio.Rate / 100

// beat is from word to word, in seconds.
const beat = 0.06

// tone is a stretch of words.
func tone(start float64, channel int, levels ...int) audio.Segment {
	s := audio.Segment{Start: start, Channel: channel}
	for _, k := range levels {
		for range wordSamples {
			s.Samples = append(s.Samples, float32(k)/100)
		}
		s.Samples = append(s.Samples, make([]float32, silentSamples)...)
	}
	return s
}

// hearLevels hears a FLAC or WAV file.
func hearLevels(t *testing.T, file []byte) (words []transcript.VerboseWord, seconds float64) {
	if bytes.HasPrefix(file, []byte(flac.Magic)) {
		var wav bytes.Buffer
		if err := flac.ToWAV(&wav, bytes.NewReader(file), 1e4); err != nil {
			t.Error(err)
			return nil, 0
		}
		file = wav.Bytes()
	}
	if len(file) < 44 {
		t.Errorf("an upload of %d bytes", len(file))
		return nil, 0
	}
	pcm := file[44:]
	level := func(i int) int {
		if 2*i >= len(pcm) {
			return 0
		}
		return int(math.Round(float64(int16(binary.LittleEndian.Uint16(pcm[2*i:]))) / (1 << 15) * 100))
	}
	n := len(pcm) / 2
	for i := 0; i < n; {
		k, from := level(i), i
		for i < n && level(i) == k {
			i++
		}
		if k != 0 {
			words = append(words, transcript.VerboseWord{Word: fmt.Sprintf("w%d", k), Start: float64(from) / audio.Rate, End: float64(i) / audio.Rate})
		}
	}
	return words, float64(n) / audio.Rate
}

// upload is what a test server was sent.
type upload struct {
	name, format, prompt, model, key string
	granularities                    []string
	bytes                            int
	seconds                          float64
	words                            []transcript.VerboseWord
}

// server is a recogniser that notes what it is sent. before may answer in its place,
// and says so.
type server struct {
	*httptest.Server
	mu      sync.Mutex
	asked   []upload // every request
	paid    []upload // those that were answered with words
	answers func(v transcript.Verbose, u upload) any
}

func serve(t *testing.T, before func(n int, w http.ResponseWriter, r *http.Request, u upload) bool) *server {
	t.Helper()
	s := &server{answers: func(v transcript.Verbose, _ upload) any { return v }}
	s.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path != "/v1/audio/transcriptions" || r.Method != http.MethodPost {
			http.NotFound(w, r)
			return
		}
		f, head, err := r.FormFile("file")
		if err != nil {
			t.Error(err)
			return
		}
		content, err := io.ReadAll(f)
		if err != nil {
			t.Error(err)
		}
		u := upload{name: head.Filename, format: r.FormValue("response_format"), prompt: r.FormValue("prompt"), model: r.FormValue("model"),
			key: r.Header.Get("Authorization"), granularities: r.MultipartForm.Value["timestamp_granularities[]"], bytes: len(content)}
		u.words, u.seconds = hearLevels(t, content)
		s.mu.Lock()
		n := len(s.asked)
		s.asked = append(s.asked, u)
		s.mu.Unlock()
		if before != nil && before(n, w, r, u) {
			return
		}
		s.mu.Lock()
		s.paid = append(s.paid, u)
		s.mu.Unlock()
		v := transcript.Verbose{Task: "transcribe", Language: "english", Duration: transcript.Seconds(u.seconds), Words: u.words}
		var texts []string
		for _, w := range u.words {
			texts = append(texts, w.Word)
		}
		v.Text = strings.Join(texts, " ")
		_ = json.NewEncoder(w).Encode(s.answers(v, u))
	}))
	t.Cleanup(s.Close)
	return s
}

func (s *server) count() (asked, paid int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.asked), len(s.paid)
}
