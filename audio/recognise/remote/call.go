package remote

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"net"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"
	"unicode"

	"github.com/cenkalti/backoff/v5"
	openai "github.com/sashabaranov/go-openai"

	"sidetone/audio/transcript"
)

// caller makes the calls over HTTP.
type caller struct {
	opt     Options
	http    *http.Client
	client  *openai.Client
	waiting func(why string)
	// perSecond is how many seconds a try may take for each second of sound.
	perSecond float64

	mu sync.Mutex
	manner
}

// manner is how the recogniser wants to be asked, as far as it was found out.
type manner struct {
	wav      bool // it takes no FLAC
	segments bool // it knows nothing of times of words
	plain    bool // it gives text alone
}

// mostAnswer bounds what is read of an answer, in bytes.
const mostAnswer = 64 << 20

func newCaller(opt Options, waiting func(string)) *caller {
	config := openai.DefaultConfig(opt.Key)
	config.BaseURL = strings.TrimSuffix(opt.Endpoint.String(), "/")
	c := &caller{opt: opt, waiting: waiting, perSecond: 2, http: &http.Client{
		Transport: &listener{http.DefaultTransport.(*http.Transport).Clone(), opt.Key == ""},
		// Speech goes where the user said, and nowhere else.
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
	config.HTTPClient = c.http
	c.client = openai.NewClientWithConfig(config)
	return c
}

// answer is what a call brought back, as it was.
type answer struct {
	status     int
	retryAfter string
	body       []byte
	cut        error // the body broke off
}

type answerKey struct{}

// listener keeps of each answer what the client library drops: the Retry-After
// header, and the probability of each word.
type listener struct {
	*http.Transport
	noKey bool
}

func (l *listener) RoundTrip(req *http.Request) (*http.Response, error) {
	if l.noKey {
		req = req.Clone(req.Context())
		req.Header.Del("Authorization")
	}
	resp, err := l.Transport.RoundTrip(req)
	if err != nil {
		return nil, err
	}
	a, ok := req.Context().Value(answerKey{}).(*answer)
	if !ok {
		return resp, nil
	}
	defer resp.Body.Close()
	a.status, a.retryAfter = resp.StatusCode, resp.Header.Get("Retry-After")
	a.body, a.cut = io.ReadAll(io.LimitReader(resp.Body, mostAnswer))
	resp.Body = io.NopCloser(bytes.NewReader(a.body))
	return resp, nil
}

var errTooLarge = errors.New("the upload is too large for the recogniser")

// again is an error that another try may mend, after the wait the server asked for.
type again struct {
	error
	after *backoff.RetryAfterError
}

func (e again) Unwrap() []error {
	if e.after == nil {
		return []error{e.error}
	}
	return []error{e.error, e.after}
}

// transcribe has a clip recognised, trying as often as the options allow.
func (c *caller) transcribe(ctx context.Context, sound clip) (transcript.Verbose, error) {
	waits := backoff.NewExponentialBackOff() // with jitter: half of it more or less
	waits.InitialInterval, waits.Multiplier, waits.MaxInterval = c.opt.FirstWait, 2, c.opt.Patience
	tries := 0
	v, err := backoff.Retry(ctx, func() (transcript.Verbose, error) {
		tries++
		return c.ask(ctx, sound)
	}, backoff.WithBackOff(waits), backoff.WithMaxTries(uint(c.opt.Tries)), backoff.WithMaxElapsedTime(0),
		backoff.WithNotify(func(err error, wait time.Duration) {
			c.waiting(fmt.Sprintf("%v; trying again in %s", c.clean(err), inWords(wait)))
		}))
	var a again
	if errors.As(err, &a) && ctx.Err() == nil {
		if tries > 1 {
			return v, fmt.Errorf("%w, in %d tries", a.error, tries)
		}
		return v, a.error
	}
	return v, err
}

// ask asks once, or a few times until it is found out how the recogniser wants to be
// asked.
func (c *caller) ask(ctx context.Context, sound clip) (transcript.Verbose, error) {
	for {
		c.mu.Lock()
		m := c.manner
		c.mu.Unlock()
		v, err := c.once(ctx, sound, m)
		var other otherwise
		if !errors.As(err, &other) {
			return v, err
		}
		c.mu.Lock()
		c.wav, c.segments, c.plain = c.wav || other.wav, c.segments || other.segments, c.plain || other.plain
		c.mu.Unlock()
	}
}

// otherwise says that the recogniser wants to be asked in another manner.
type otherwise struct{ manner }

func (otherwise) Error() string { return "the recogniser wants to be asked otherwise" }

func (c *caller) once(ctx context.Context, sound clip, m manner) (transcript.Verbose, error) {
	none := transcript.Verbose{}
	name, file, err := sound.file(m.wav)
	if err != nil {
		return none, backoff.Permanent(err)
	}
	req := openai.AudioRequest{Model: c.opt.Model, FilePath: name, Reader: bytes.NewReader(file), Prompt: c.opt.Prompt, Language: c.opt.Language,
		Format: openai.AudioResponseFormatVerboseJSON}
	switch {
	case m.plain:
		req.Format = openai.AudioResponseFormatJSON
	case !m.segments:
		req.TimestampGranularities = []openai.TranscriptionTimestampGranularity{openai.TranscriptionTimestampGranularityWord, openai.TranscriptionTimestampGranularitySegment}
	}
	deadline := c.opt.Deadline + time.Duration(c.perSecond*sound.seconds*float64(time.Second))
	var a answer
	inTime, cancel := context.WithTimeout(context.WithValue(ctx, answerKey{}, &a), deadline)
	defer cancel()
	_, err = c.client.CreateTranscription(inTime, req)
	switch {
	case ctx.Err() != nil:
		return none, backoff.Permanent(context.Cause(ctx))
	case inTime.Err() != nil:
		return none, again{c.errorf("does not answer within %s", inWords(deadline)), nil}
	case a.status == 0:
		return none, c.unreached(err)
	case a.status >= 300:
		return none, c.refused(a, m)
	case a.cut != nil:
		return none, again{c.errorf("broke off in the middle of its answer"), nil}
	}
	// The library read the answer too, but without the probability of words.
	var v transcript.Verbose
	if err := json.Unmarshal(a.body, &v); err != nil || !hasText(a.body) {
		return none, again{c.errorf("gives an answer that cannot be read (%s)", excerpt(string(a.body))), nil}
	}
	return v, nil
}

// hasText tells an answer from other JSON: its text may be empty, but is there.
func hasText(body []byte) bool {
	var fields map[string]json.RawMessage
	if json.Unmarshal(body, &fields) != nil {
		return false
	}
	_, text := fields["text"]
	_, segments := fields["segments"]
	return text || segments
}

func (c *caller) errorf(format string, args ...any) error {
	return errors.New(c.scrub("the recogniser at " + c.opt.Endpoint.Host + " " + fmt.Sprintf(format, args...)))
}

// unreached is for calls that brought back nothing at all.
func (c *caller) unreached(err error) error {
	var dns *net.DNSError
	switch {
	case errors.As(err, &dns) && dns.IsNotFound:
		return backoff.Permanent(c.errorf("cannot be found: there is no host of that name; is the network up?"))
	case errors.Is(err, syscall.ECONNREFUSED):
		return again{c.errorf("cannot be reached: nothing listens there"), nil}
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, syscall.ECONNRESET), errors.Is(err, syscall.EPIPE):
		return again{c.errorf("hung up without an answer"), nil}
	}
	for u := errors.Unwrap(err); u != nil; u = errors.Unwrap(u) {
		err = u // what the system says, without the address again
	}
	return again{c.errorf("cannot be reached: %s", excerpt(err.Error())), nil}
}

// refused is for answers that say no.
func (c *caller) refused(a answer, m manner) error {
	said, code := complaint(a.body)
	because := ""
	if said != "" {
		because = fmt.Sprintf(": %q", excerpt(said))
	}
	low := strings.ToLower(said)
	switch a.status {
	case http.StatusBadRequest, http.StatusUnprocessableEntity, http.StatusUnsupportedMediaType:
		switch {
		case strings.Contains(low, "granularit") && !m.segments:
			m.segments = true
			return otherwise{m}
		case (strings.Contains(low, "response_format") || strings.Contains(low, "verbose_json")) && !m.plain:
			m.plain = true
			return otherwise{m}
		case !m.wav && !strings.Contains(low, "model"):
			m.wav = true
			return otherwise{m}
		}
		return backoff.Permanent(c.errorf("refuses the upload (%d)%s", a.status, because))
	case http.StatusUnauthorized, http.StatusForbidden:
		if c.opt.Key == "" {
			return backoff.Permanent(c.errorf("wants a key (%d); put it into %s or the config file", a.status, EnvKey))
		}
		return backoff.Permanent(c.errorf("refuses the key (%d)%s; put the right one into %s or the config file", a.status, because, EnvKey))
	case http.StatusNotFound:
		return backoff.Permanent(c.errorf("has no /audio/transcriptions there, or no model %q (404)%s", c.opt.Model, because))
	case http.StatusRequestEntityTooLarge:
		return backoff.Permanent(fmt.Errorf("%w (%w)", c.errorf("takes no upload so large (413)"), errTooLarge))
	case http.StatusPaymentRequired:
		return backoff.Permanent(c.errorf("wants to be paid (402)%s", because))
	}
	switch {
	case code == "insufficient_quota":
		return backoff.Permanent(c.errorf("says the quota is used up (%d)%s", a.status, because))
	case a.status == http.StatusTooManyRequests, a.status == http.StatusRequestTimeout, a.status == http.StatusTooEarly, a.status >= 500:
		err := c.errorf("is busy or in trouble (%d)%s", a.status, because)
		wait, ok := retryAfter(a.retryAfter)
		if !ok {
			return again{err, nil}
		}
		if wait > c.opt.Patience {
			return backoff.Permanent(c.errorf("asks to come back in %s (%d)%s", inWords(wait), a.status, because))
		}
		// All were told the same: they should not come back together.
		wait += rand.N(c.opt.FirstWait/2 + 1)
		return again{err, &backoff.RetryAfterError{Duration: wait}}
	case a.status < 400:
		return backoff.Permanent(c.errorf("sends elsewhere (%d), where speech is not sent: give the address it means", a.status))
	}
	return backoff.Permanent(c.errorf("refuses (%d)%s", a.status, because))
}

func inWords(d time.Duration) string {
	if d < 2*time.Minute {
		return fmt.Sprintf("%.0f s", math.Ceil(d.Seconds()))
	}
	return fmt.Sprintf("%.0f min", math.Ceil(d.Minutes()))
}

// retryAfter reads the header: seconds, or a time (RFC 9110, section 10.2.3).
func retryAfter(s string) (time.Duration, bool) {
	if n, err := strconv.ParseFloat(strings.TrimSpace(s), 64); err == nil && n >= 0 && n < 1e7 {
		return time.Duration(n * float64(time.Second)), true
	}
	if t, err := http.ParseTime(s); err == nil {
		return max(0, time.Until(t)), true
	}
	return 0, false
}

// complaint is what an answer says is wrong: {"error":{"message":"..."}}, as OpenAI
// writes it, or what others make of that.
func complaint(body []byte) (message, code string) {
	var v struct {
		Error   json.RawMessage `json:"error"`
		Message string          `json:"message"`
		Detail  json.RawMessage `json:"detail"`
	}
	if json.Unmarshal(body, &v) != nil {
		return "", ""
	}
	var e struct {
		Message string `json:"message"`
		Code    any    `json:"code"`
	}
	if json.Unmarshal(v.Error, &e) == nil && e.Message != "" {
		code, _ = e.Code.(string)
		return e.Message, code
	}
	for _, raw := range []json.RawMessage{v.Error, v.Detail} {
		var s string
		if json.Unmarshal(raw, &s) == nil && s != "" {
			return s, ""
		}
	}
	return v.Message, ""
}

// excerpt is the beginning of text from outside, on one line.
func excerpt(s string) string {
	const most = 160
	s = strings.Join(strings.Fields(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && !unicode.IsSpace(r) || r == unicode.ReplacementChar {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s[:min(len(s), 4*most)], ""))), " ")
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "..."
	}
	return s
}

// scrub takes the key out of what is said: servers repeat it when they refuse it.
func (c *caller) scrub(s string) string {
	if c.opt.Key == "" {
		return s
	}
	return strings.ReplaceAll(s, c.opt.Key, "[key]")
}

func (c *caller) clean(err error) string {
	var a again
	if errors.As(err, &a) {
		err = a.error
	}
	return c.scrub(err.Error())
}

// EnvKey names the environment variable that holds the key.
const EnvKey = "SIDETONE_KEY"
