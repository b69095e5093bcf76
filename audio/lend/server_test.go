package lend

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/santhosh-tekuri/jsonschema/v6"
	openai "github.com/sashabaranov/go-openai"

	"sidetone/audio"
	"sidetone/audio/audiotest"
	"sidetone/audio/flac"
	"sidetone/audio/transcript"
)

// said is what the ears of these tests hear, whatever they are given.
func said() *transcript.Transcript {
	return &transcript.Transcript{Utterances: []transcript.Utterance{
		{Start: 0.5, End: 1.4, Text: "Carb heat on.", Words: []transcript.Word{
			{Text: "Carb", Start: 0.5, End: 0.8, Confidence: 0.9}, {Text: "heat", Start: 0.8, End: 1.1, Confidence: 0.8}, {Text: "on.", Start: 1.1, End: 1.4, Confidence: 0.7}}},
		{Start: 2, End: 2.5, Text: "Trim set.", Words: []transcript.Word{{Text: "Trim", Start: 2, End: 2.2, Confidence: 1}, {Text: "set.", Start: 2.2, End: 2.5, Confidence: 1}}},
	}}
}

// lent is a server on the loopback address, and what its log says.
type lent struct {
	*httptest.Server
	mu  sync.Mutex
	log []string
}

func lend(t *testing.T, change func(*Options)) *lent {
	t.Helper()
	l := &lent{}
	opt := Options{
		Hear: func(ctx context.Context, path string, most float64) (*transcript.Transcript, float64, error) {
			tape, err := audio.Load(ctx, path)
			if err != nil {
				return nil, 0, err
			}
			if tape.Duration() > most {
				return nil, 0, ErrTooLong
			}
			return said(), 3, nil
		},
		Log: func(line string) { l.mu.Lock(); l.log = append(l.log, line); l.mu.Unlock() },
	}
	if change != nil {
		change(&opt)
	}
	l.Server = httptest.NewServer(New(opt))
	t.Cleanup(l.Close)
	return l
}

func tone(t testing.TB) []byte {
	t.Helper()
	x := make([]float32, 3*audio.Rate)
	for i := range x {
		x[i] = float32(i%50) / 100
	}
	var b bytes.Buffer
	if err := audio.WriteWAV(&b, audio.Rate, x); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// form makes a request with a file, if any, and fields.
func form(t testing.TB, url string, file []byte, fields ...string) *http.Request {
	t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for i := 0; i < len(fields); i += 2 {
		if err := m.WriteField(fields[i], fields[i+1]); err != nil {
			t.Fatal(err)
		}
	}
	if file != nil {
		f, err := m.CreateFormFile("file", "x.wav")
		if err == nil {
			_, err = f.Write(file)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	m.Close()
	r, err := http.NewRequest(http.MethodPost, url+"/v1/audio/transcriptions", &b)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", m.FormDataContentType())
	return r
}

func send(t testing.TB, r *http.Request) (int, http.Header, string) {
	t.Helper()
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, resp.Header, string(b)
}

// The schema of a verbose_json answer after OpenAI's published OpenAPI document
// (CreateTranscriptionResponseVerboseJson, TranscriptionSegment, TranscriptionWord):
// which fields there must be, and their types. The task is what the service itself
// sends with them.
const published = `{
 "type": "object",
 "required": ["task", "language", "duration", "text"],
 "properties": {
  "task": {"const": "transcribe"}, "language": {"type": "string"}, "duration": {"type": "number"}, "text": {"type": "string"},
  "words": {"type": "array", "items": {"type": "object", "required": ["word", "start", "end"],
   "properties": {"word": {"type": "string"}, "start": {"type": "number"}, "end": {"type": "number"}}}},
  "segments": {"type": "array", "items": {"type": "object",
   "required": ["id", "seek", "start", "end", "text", "tokens", "temperature", "avg_logprob", "compression_ratio", "no_speech_prob"],
   "properties": {"id": {"type": "integer"}, "seek": {"type": "integer"}, "start": {"type": "number"}, "end": {"type": "number"}, "text": {"type": "string"},
    "tokens": {"type": "array", "items": {"type": "integer"}}, "temperature": {"type": "number"}, "avg_logprob": {"type": "number"},
    "compression_ratio": {"type": "number"}, "no_speech_prob": {"type": "number"}}}}
 }
}`

func fits(t *testing.T, answer string) map[string]any {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(published))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("published.json", doc); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile("published.json")
	if err != nil {
		t.Fatal(err)
	}
	v, err := jsonschema.UnmarshalJSON(strings.NewReader(answer))
	if err != nil {
		t.Fatalf("%v\n%s", err, answer)
	}
	if err := schema.Validate(v); err != nil {
		t.Errorf("%v\n%s", err, answer)
	}
	return v.(map[string]any)
}

func TestAnswersAreInTheFormAskedFor(t *testing.T) {
	l := lend(t, nil)
	for name, c := range map[string]struct {
		fields []string
		kind   string
		want   string // the whole answer, "" for verbose_json
		has    []string
	}{
		"json":                       {nil, "application/json", `{"text":"Carb heat on. Trim set."}` + "\n", nil},
		"text":                       {[]string{"response_format", "text"}, "text/plain; charset=utf-8", "Carb heat on. Trim set.\n", nil},
		"srt":                        {[]string{"response_format", "srt"}, "text/plain; charset=utf-8", "1\n00:00:00,500 --> 00:00:01,400\nCarb heat on.\n\n2\n00:00:02,000 --> 00:00:02,500\nTrim set.\n", nil},
		"verbose_json":               {[]string{"response_format", "verbose_json", "model", "any", "prompt", "carb heat", "temperature", "0.2", "language", "en"}, "application/json", "", []string{"segments"}},
		"verbose_json with words":    {[]string{"response_format", "verbose_json", "timestamp_granularities[]", "word"}, "application/json", "", []string{"words"}},
		"verbose_json with all":      {[]string{"response_format", "verbose_json", "timestamp_granularities[]", "word", "timestamp_granularities[]", "segment"}, "application/json", "", []string{"words", "segments"}},
		"verbose_json with segments": {[]string{"response_format", "verbose_json", "timestamp_granularities[]", "segment"}, "application/json", "", []string{"segments"}},
	} {
		code, head, body := send(t, form(t, l.URL, tone(t), c.fields...))
		if code != http.StatusOK || head.Get("Content-Type") != c.kind || c.want != "" && body != c.want {
			t.Errorf("%s: %d %s %q", name, code, head.Get("Content-Type"), body)
		}
		if c.want != "" {
			continue
		}
		v := fits(t, body)
		for _, key := range []string{"words", "segments"} {
			if _, ok := v[key]; ok != strings.Contains(strings.Join(c.has, " "), key) {
				t.Errorf("%s: %s are there: %v", name, key, ok)
			}
		}
		us, err := transcript.Read("x", strings.NewReader(body))
		if err != nil || len(us.Utterances) == 0 || us.Utterances[0].Start != 0.5 {
			t.Errorf("%s: it reads back as %+v, %v", name, us, err)
		}
	}
	code, head, body := send(t, form(t, l.URL, tone(t), "response_format", "vtt"))
	if got, err := transcript.Read("x", strings.NewReader(body)); code != 200 || !strings.HasPrefix(head.Get("Content-Type"), "text/vtt") || err != nil || got.Utterances[1].Text != "Trim set." {
		t.Errorf("vtt: %d %q %v", code, body, err)
	}
	if r, err := http.Get(l.URL + "/v1/models"); err != nil || r.StatusCode != 200 {
		t.Errorf("models: %v %v", r, err)
	}
	for _, line := range l.log {
		if strings.Contains(line, "Carb") {
			t.Errorf("the log says what was said: %s", line)
		}
	}
}

func TestWhatIsWrongIsSaidAsTheAPISaysIt(t *testing.T) {
	var b bytes.Buffer
	if err := flac.Encode(&b, make([]int16, 20*audio.Rate)); err != nil {
		t.Fatal(err)
	}
	t.Setenv("TMPDIR", t.TempDir())
	long, cut := b.Bytes(), b.Bytes()[:b.Len()/2]
	l := lend(t, func(o *Options) { o.MaxBytes, o.MaxSeconds = 200_000, 10 })
	for name, c := range map[string]struct {
		request *http.Request
		status  int
		code    string
		param   any
	}{
		"no file":                    {form(t, l.URL, nil, "model", "x"), 400, "missing_required_parameter", "file"},
		"no form":                    {must(http.NewRequest("POST", l.URL+"/v1/audio/transcriptions", strings.NewReader("{}"))), 400, "invalid_form", nil},
		"a file that is no sound":    {form(t, l.URL, []byte("Dear diary, today we flew.")), 400, "invalid_value", "file"},
		"an empty file":              {form(t, l.URL, []byte{}), 400, "invalid_value", "file"},
		"a file that is too large":   {form(t, l.URL, make([]byte, 300_000)), 413, "file_too_large", "file"},
		"one far too large":          {form(t, l.URL, make([]byte, 1_800_000)), 413, "file_too_large", "file"},
		"a sound that is too long":   {form(t, l.URL, long), 413, "audio_too_long", "file"},
		"FLAC that is cut":           {form(t, l.URL, cut), 413, "audio_too_long", "file"},
		"an unknown format":          {form(t, l.URL, tone(t), "response_format", "morse"), 400, "invalid_value", "response_format"},
		"an unknown granularity":     {form(t, l.URL, tone(t), "response_format", "verbose_json", "timestamp_granularities[]", "letter"), 400, "invalid_value", "timestamp_granularities[]"},
		"times without verbose_json": {form(t, l.URL, tone(t), "timestamp_granularities[]", "word"), 400, "invalid_value", "timestamp_granularities[]"},
		"a temperature that is none": {form(t, l.URL, tone(t), "temperature", "hot"), 400, "invalid_value", "temperature"},
		"another language":           {form(t, l.URL, tone(t), "language", "de"), 400, "invalid_value", "language"},
		"a stream":                   {form(t, l.URL, tone(t), "stream", "true"), 400, "invalid_value", "stream"},
		"a prompt that does not end": {form(t, l.URL, tone(t), "prompt", strings.Repeat("x", 70_000)), 400, "invalid_value", "prompt"},
		"another way to ask":         {must(http.NewRequest("GET", l.URL+"/v1/audio/transcriptions", nil)), 405, "method_not_allowed", nil},
		"another address":            {must(http.NewRequest("GET", l.URL+"/v1/audio/translations", nil)), 404, "not_found", nil},
		"a page of another site":     {with(form(t, l.URL, tone(t)), "Origin", "https://pages.example"), 403, "origin_not_allowed", nil},
	} {
		status, head, body := send(t, c.request)
		var got struct {
			Error struct {
				Message, Type, Code string
				Param               any
			}
		}
		if err := json.Unmarshal([]byte(body), &got); err != nil {
			t.Errorf("%s: %q: %v", name, body, err)
			continue
		}
		if name == "FLAC that is cut" && got.Error.Code == "invalid_value" {
			status, got.Error.Code = 413, "audio_too_long" // whichever is noticed first
		}
		if status != c.status || got.Error.Code != c.code || got.Error.Param != c.param || got.Error.Message == "" || got.Error.Type != "invalid_request_error" || head.Get("Content-Type") != "application/json" {
			t.Errorf("%s: %d %s", name, status, body)
		}
		if strings.Contains(body, os.TempDir()) {
			t.Errorf("%s: it tells of files on this machine: %s", name, body)
		}
	}
	r := form(t, l.URL, tone(t))
	r.Host = "evil.example:80"
	if status, _, _ := send(t, r); status != 403 {
		t.Errorf("asked by another name: %d", status)
	}
	left, err := filepath.Glob(filepath.Join(os.TempDir(), "sidetone-*.sound"))
	if err != nil || len(left) > 0 {
		t.Errorf("left behind: %q %v", left, err)
	}
}

func must(r *http.Request, err error) *http.Request {
	if err != nil {
		panic(err)
	}
	return r
}

func with(r *http.Request, key, value string) *http.Request {
	r.Header.Set(key, value)
	return r
}

func TestTemporaryFilesGo(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("TMPDIR", dir)
	l := lend(t, nil)
	send(t, form(t, l.URL, tone(t)))
	send(t, form(t, l.URL, []byte("no sound")))
	send(t, form(t, l.URL, tone(t), "response_format", "morse"))
	if left, err := os.ReadDir(dir); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v %v", left, err)
	}
}

func TestATokenIsAskedFor(t *testing.T) {
	l := lend(t, func(o *Options) { o.Token = "hangar-7" })
	for header, want := range map[string]int{"": 401, "Bearer hangar-8": 401, "Bearer ": 401, "hangar-7": 200, "Bearer hangar-7": 200} {
		r := form(t, l.URL, tone(t))
		r.Header.Set("Authorization", header)
		r.Host = "hangar.example" // with a token any name will do
		status, head, body := send(t, r)
		if status != want || want == 401 && (head.Get("WWW-Authenticate") != "Bearer" || !strings.Contains(body, "invalid_api_key")) {
			t.Errorf("%q: %d %s", header, status, body)
		}
		if strings.Contains(body, "hangar-7") {
			t.Errorf("it tells the token: %s", body)
		}
	}
	for _, line := range l.log {
		if strings.Contains(line, "hangar-7") || strings.Contains(line, "hangar-8") {
			t.Errorf("the log tells a token: %s", line)
		}
	}
}

func TestOnlySoManyWait(t *testing.T) {
	go1 := make(chan struct{})
	inside := make(chan struct{}, 10)
	l := lend(t, func(o *Options) {
		o.Queue = 2
		o.Hear = func(ctx context.Context, _ string, _ float64) (*transcript.Transcript, float64, error) {
			inside <- struct{}{}
			select {
			case <-go1:
			case <-ctx.Done():
			}
			return said(), 3, nil
		}
	})
	file := tone(t)
	codes := make(chan int, 10)
	ask := func() {
		code, head, _ := send(t, form(t, l.URL, file))
		if code == 429 && head.Get("Retry-After") == "" {
			t.Error("it does not say when to come back")
		}
		codes <- code
	}
	for range 10 { // whichever come first: one is heard, two wait
		go ask()
	}
	for range 7 {
		if c := <-codes; c != 429 {
			t.Errorf("one that there was no room for got %d", c)
		}
	}
	close(go1)
	for range 3 {
		if c := <-codes; c != 200 {
			t.Errorf("one that was heard or waited got %d", c)
		}
	}
	if len(inside) != 3 {
		t.Errorf("%d were heard", len(inside))
	}
}

func TestTroubleOfThisMachineIsNotToldOutside(t *testing.T) {
	l := lend(t, func(o *Options) {
		o.Hear = func(context.Context, string, float64) (*transcript.Transcript, float64, error) {
			return nil, 0, errors.New("/home/cfi/models/encoder.onnx: no memory")
		}
	})
	status, _, body := send(t, form(t, l.URL, tone(t)))
	if status != 500 || strings.Contains(body, "cfi") || !strings.Contains(body, "server_error") {
		t.Errorf("%d %s", status, body)
	}
	if len(l.log) != 1 || !strings.Contains(l.log[0], "no memory") {
		t.Errorf("the log says %q", l.log)
	}
}

// The client library others use.
func TestGoOpenAIUnderstandsTheAnswers(t *testing.T) {
	l := lend(t, func(o *Options) { o.Token = "hangar-7" })
	config := openai.DefaultConfig("hangar-7")
	config.BaseURL = l.URL + "/v1"
	client := openai.NewClientWithConfig(config)
	got, err := client.CreateTranscription(t.Context(), openai.AudioRequest{Model: "any", FilePath: "x.wav", Reader: bytes.NewReader(tone(t)), Format: openai.AudioResponseFormatVerboseJSON,
		TimestampGranularities: []openai.TranscriptionTimestampGranularity{openai.TranscriptionTimestampGranularityWord, openai.TranscriptionTimestampGranularitySegment}})
	if err != nil {
		t.Fatal(err)
	}
	if got.Task != "transcribe" || got.Duration != 3 || got.Text != "Carb heat on. Trim set." || len(got.Words) != 5 || got.Words[2].Word != "on." || got.Words[2].Start != 1.1 || len(got.Segments) != 2 || got.Segments[1].End != 2.5 {
		t.Errorf("%+v", got)
	}
	if all, err := client.ListModels(t.Context()); err != nil || len(all.Models) != 1 || all.Models[0].ID != Model {
		t.Errorf("%+v, %v", all, err)
	}
	config = openai.DefaultConfig("another")
	config.BaseURL = l.URL + "/v1"
	_, err = openai.NewClientWithConfig(config).CreateTranscription(t.Context(), openai.AudioRequest{Model: "any", FilePath: "x.wav", Reader: bytes.NewReader(tone(t))})
	var api *openai.APIError
	if !errors.As(err, &api) || api.HTTPStatusCode != 401 || api.Code != "invalid_api_key" {
		t.Errorf("%v", err)
	}
}

func TestCurlUnderstandsTheAnswers(t *testing.T) {
	audiotest.Need(t, "curl")
	l := lend(t, func(o *Options) { o.Token = "hangar-7" })
	path := filepath.Join(t.TempDir(), "x.wav")
	if err := os.WriteFile(path, tone(t), 0o600); err != nil {
		t.Fatal(err)
	}
	ask := func(more ...string) string {
		return string(audiotest.Run(t, "curl", append([]string{"-sS", "--noproxy", "*", l.URL + "/v1/audio/transcriptions", "-F", "file=@" + path, "-F", "model=any"}, more...)...))
	}
	v := fits(t, ask("-H", "Authorization: Bearer hangar-7", "-F", "response_format=verbose_json", "-F", "timestamp_granularities[]=word", "-F", "timestamp_granularities[]=segment"))
	if v["text"] != "Carb heat on. Trim set." {
		t.Errorf("%v", v)
	}
	if got := ask(); !strings.Contains(got, "invalid_api_key") {
		t.Errorf("without the token: %s", got)
	}
}

func TestUploadsOfPiecesArePartedAtTheirSilences(t *testing.T) {
	sound := func(n int) []float32 {
		x := make([]float32, n)
		for i := range x {
			x[i] = 0.1 + float32(i%7)/100
		}
		return x
	}
	silence := func(seconds float64) []float32 { return make([]float32, int(seconds*audio.Rate)) }
	join := func(parts ...[]float32) (out []float32) {
		for _, p := range parts {
			out = append(out, p...)
		}
		return out
	}
	for name, c := range map[string]struct {
		in   []float32
		want []string // where each begins, and its length, in samples
	}{
		"one piece":                    {sound(50_000), []string{"0 50000"}},
		"two with a second between":    {join(sound(5000), silence(1), sound(700)), []string{"0 5000", "21000 700"}},
		"a short silence parts none":   {join(sound(5000), silence(0.5), sound(700)), []string{"0 13700"}},
		"silence before and after":     {join(silence(2), sound(5000), silence(2)), []string{"32000 5000"}},
		"a piece that ends in silence": {join(sound(5000), silence(1.2), sound(700)), []string{"0 5000", "24200 700"}},
		"nothing at all":               {silence(3), nil},
		"too long to be a piece":       {sound(15 * audio.Rate), nil},
	} {
		path := filepath.Join(t.TempDir(), "x.wav")
		var b bytes.Buffer
		if err := audio.WriteWAV(&b, audio.Rate, c.in); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		tape, err := audio.Load(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		cut, _, err := pieces(t.Context(), tape, 100)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, s := range cut {
			got = append(got, fmt.Sprintf("%.0f %d", s.Start*audio.Rate, len(s.Samples)))
		}
		if d := cmp.Diff(c.want, got); d != "" {
			t.Errorf("%s, -want +got:\n%s", name, d)
		}
	}
}
