package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"sidetone/audio/models/modelstest"
	"sidetone/audio/recognise/kept"
	"sidetone/audio/recognise/remote"
	"sidetone/audio/transcript"
	"sidetone/timeline"
)

// buffer is a bytes.Buffer for several goroutines.
type buffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (b *buffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.Write(p)
}

func (b *buffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.String()
}

// lending runs lend-ears until the test ends, and gives its address and what it says.
func lending(t *testing.T, models string) (endpoint string, says *buffer) {
	t.Helper()
	says = &buffer{}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan int)
	go func() {
		ended <- runIn(ctx, []string{"lend-ears", "--listen", "127.0.0.1:0", "--models", models}, &buffer{}, says)
	}()
	t.Cleanup(func() {
		cancel()
		if code := <-ended; code != exitDone || !strings.HasSuffix(says.String(), "Stopped.\n") {
			t.Errorf("lend-ears ended with %d: %s", code, says)
		}
	})
	address := regexp.MustCompile(`http://127\.0\.0\.1:\d+/v1`)
	for range 1200 {
		if a := address.FindString(says.String()); a != "" {
			return a, says
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("lend-ears says %s", says)
	return "", nil
}

// The tolerance of words that went over the wire: 16 bits and HTTP should change
// nothing, so that every word must be the same, within a hundredth of a second.
const wireSlack = 0.01

// The embedded recogniser, and the same over real HTTP with lend-ears at the other
// end.
func TestEarsThatAreLentHearWhatOnesOwnHear(t *testing.T) {
	set := modelstest.Find(t)
	t.Setenv(kept.EnvDir, t.TempDir())
	t.Setenv(envConfig, filepath.Join(t.TempDir(), "none.yaml"))
	endpoint, log := lending(t, set.Dir)
	lesson := demoPart(t, t.TempDir(), 8, 20)
	read := func(args ...string) (timeline.Timeline, string) {
		t.Helper()
		code, stdout, stderr := sidetone(t, append([]string{"debrief", lesson, "--models", set.Dir, "--no-html", "--json", "-"}, args...)...)
		if code != exitDone {
			t.Fatalf("exit status %d: %s", code, stderr)
		}
		var tl timeline.Timeline
		if err := json.Unmarshal([]byte(stdout), &tl); err != nil {
			t.Fatal(err)
		}
		return tl, stderr
	}
	own, stderr := read()
	if own.Recording.SentTo != "" || strings.Contains(stderr, "Sending") {
		t.Errorf("something was sent: %q %s", own.Recording.SentTo, stderr)
	}
	away := []string{"--recogniser", "remote", "--endpoint", endpoint, "--model", "sidetone"}
	lent, stderr := read(away...)
	if host := strings.TrimSuffix(strings.TrimPrefix(endpoint, "http://"), "/v1"); lent.Recording.SentTo != host || !strings.Contains(stderr, "Sending speech to "+host+", model sidetone:") {
		t.Errorf("sent to %q: %s", lent.Recording.SentTo, stderr)
	}
	for _, line := range strings.Split(stderr, "\n") {
		if len([]rune(line)) > 80 {
			t.Errorf("a line of %d letters: %s", len([]rune(line)), line)
		}
	}
	if len(own.Transcript) == 0 || len(lent.Transcript) != len(own.Transcript) || len(lent.Calls) != len(own.Calls) {
		t.Fatalf("%d utterances and %d calls came back, its own are %d and %d", len(lent.Transcript), len(lent.Calls), len(own.Transcript), len(own.Calls))
	}
	for i, u := range own.Transcript {
		v := lent.Transcript[i]
		if u.Text != v.Text || len(u.Words) != len(v.Words) {
			t.Errorf("at %.1f it is %q, its own ears heard %q", u.Start, v.Text, u.Text)
			continue
		}
		for k, w := range u.Words {
			x := v.Words[k]
			if math.Abs(w.Start-x.Start) > wireSlack || math.Abs(w.End-x.End) > wireSlack || math.Abs(w.Confidence-x.Confidence) > 0.01 || x.Estimated || (w.Or == nil) != (x.Or == nil) || w.Or != nil && w.Or.Text != x.Or.Text {
				t.Errorf("%+v came back as %+v", w, x)
			}
		}
	}
	asked := strings.Count(log.String(), "POST")
	if _, stderr := read(away...); strings.Contains(stderr, "Sending") || strings.Count(log.String(), "POST") != asked {
		t.Errorf("all was known, and yet: %s", stderr)
	}
}

func TestSpeechIsSentOnlyWhereTheUserSaysSo(t *testing.T) {
	const file = "recogniser: remote\nremote:\n  endpoint: https://ears.example/v1\n  model: big\n  key: sk-filed\n"
	for name, c := range map[string]struct {
		config string
		flags  sendingFlags
		model  string
		env    string
		want   string // host, model and key, "" for the embedded recogniser
		says   string // the error
	}{
		"nothing said":                          {},
		"a recogniser is named here":            {flags: sendingFlags{"remote", "https://ears.example/v1"}, model: "big", env: "sk-env", want: "ears.example big sk-env"},
		"an address alone sends nothing":        {flags: sendingFlags{"", "https://ears.example/v1"}, model: "big", says: "add --recogniser remote"},
		"an address, and yet embedded":          {flags: sendingFlags{"embedded", "https://ears.example/v1"}, says: "is for --recogniser remote"},
		"no address":                            {flags: sendingFlags{"remote", ""}, model: "big", says: "needs --endpoint"},
		"no model":                              {flags: sendingFlags{"remote", "https://ears.example/v1"}, says: "needs --model"},
		"neither one nor the other":             {flags: sendingFlags{"cloud", ""}, says: "one of embedded, remote"},
		"an address that is none":               {flags: sendingFlags{"remote", "ears"}, model: "big", says: "looks like https://host/v1"},
		"a file that makes it the silent usual": {config: file, says: `would send the speech of every lesson to ears.example. If you mean that, write "send-audio-to: ears.example" beside it`},
		"one that means another host":           {config: file + "send-audio-to: nose.example\n", says: "send-audio-to: ears.example"},
		"one that says it twice":                {config: file + "send-audio-to: ears.example\n", want: "ears.example big sk-filed"},
		"and yet embedded this time":            {config: file + "send-audio-to: ears.example\n", flags: sendingFlags{"embedded", ""}},
		"a silent one, but named here":          {config: file, flags: sendingFlags{"remote", ""}, want: "ears.example big sk-filed"},
		"the key of one is not for another":     {config: file, flags: sendingFlags{"remote", "https://nose.example/v1"}, model: "big", want: "nose.example big "},
		"nor by another address without saying": {config: file + "send-audio-to: ears.example\n", flags: sendingFlags{"", "https://nose.example/v1"}, says: "add --recogniser remote"},
		"the environment goes before the file":  {config: file, flags: sendingFlags{"remote", ""}, env: "sk-env", want: "ears.example big sk-env"},
		"a file with another word":              {config: "recogniser: both\n", says: "neither embedded nor remote"},
		"a file with a mistyped key":            {config: "remote:\n  kee: sk-filed\n", says: "config.yaml:2: unknown field \"kee\""},
		"a file that is no YAML":                {config: "remote: [sk-filed\n", says: "config.yaml"},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "config.yaml")
			if c.config != "" {
				put(t, path, []byte(c.config))
			}
			t.Setenv(envConfig, path)
			t.Setenv(remote.EnvKey, c.env)
			e, err := c.flags.chosen(c.model)
			got := ""
			if e != nil {
				got = fmt.Sprintf("%s %s %s", e.at.Host, e.model, e.key)
			}
			if c.says == "" && err != nil || c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says)) || got != c.want {
				t.Errorf("it is %q, %v", got, err)
			}
			if err != nil && strings.Contains(oneLine(err), "sk-") {
				t.Errorf("it tells the key: %v", err)
			}
		})
	}
}

func TestAConfigFileWithASecretIsForOnesOwnEyes(t *testing.T) {
	path := put(t, filepath.Join(t.TempDir(), "config.yaml"), []byte("lend:\n  token: hangar-seven\n"))
	t.Setenv(envConfig, path)
	if c, err := readConfig(); err != nil || c.Lend.Token != "hangar-seven" {
		t.Errorf("%+v, %v", c, err)
	}
	if err := os.Chmod(path, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := readConfig(); err == nil || !strings.Contains(err.Error(), "chmod 600") || strings.Contains(err.Error(), "hangar-seven") {
		t.Errorf("%v", err)
	}
}

func TestEarsAreNotLentToEverybody(t *testing.T) {
	t.Setenv(envConfig, filepath.Join(t.TempDir(), "none.yaml"))
	for name, c := range map[string]struct {
		args  []string
		token string
		says  string
	}{
		"others without a token":      {[]string{"--listen", "0.0.0.0:0"}, "", "set a token"},
		"others with a short one":     {[]string{"--listen", ":8765"}, "abc", "too easy to guess"},
		"an address that is none":     {[]string{"--listen", "8765"}, "", "127.0.0.1:8765"},
		"no cores":                    {[]string{"--threads", "0"}, "", "--threads 0"},
		"an argument that is no flag": {[]string{"lesson.wav"}, "", "lesson.wav"},
	} {
		t.Setenv(envToken, c.token)
		code, _, stderr := sidetone(t, append([]string{"lend-ears"}, c.args...)...)
		if code != exitUsage || !strings.Contains(stderr, c.says) || c.token != "" && strings.Contains(stderr, c.token) {
			t.Errorf("%s: exit status %d: %s", name, code, stderr)
		}
	}
}

// A server that fails for good, in the middle of a lesson: one line, and the same
// command goes on.
func TestADebriefThatFailsElsewhereGoesOnFromThere(t *testing.T) {
	set := modelstest.Find(t)
	t.Setenv(kept.EnvDir, t.TempDir())
	t.Setenv(envConfig, filepath.Join(t.TempDir(), "none.yaml"))
	t.Setenv(remote.EnvKey, "sk-secret")
	lesson := demoPart(t, t.TempDir(), 8, 40)
	broke, uploads := true, 0
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		uploads++
		if uploads > 1 && broke {
			w.WriteHeader(http.StatusPaymentRequired)
			fmt.Fprintf(w, `{"error":{"message":"no credit left for key %s"}}`, strings.TrimPrefix(r.Header.Get("Authorization"), "Bearer "))
			return
		}
		_ = json.NewEncoder(w).Encode(transcript.Verbose{Text: "carb heat on", Words: []transcript.VerboseWord{
			{Word: "carb", Start: 0.1, End: 0.3}, {Word: "heat", Start: 0.3, End: 0.5}, {Word: "on", Start: 0.5, End: 0.6}}})
	}))
	defer s.Close()
	args := []string{"debrief", lesson, "--models", set.Dir, "--no-html", "--recogniser", "remote", "--endpoint", s.URL + "/v1", "--model", "m"}
	code, stdout, stderr := sidetone(t, args...)
	lines := strings.Split(strings.TrimSpace(stderr), "\n")
	last := lines[len(lines)-1]
	if code != exitFailure || stdout != "" || !strings.Contains(last, "wants to be paid (402)") || !strings.Contains(last, "Recognised and kept are 1 of") || strings.Contains(stderr, "sk-secret") {
		t.Errorf("exit status %d: %s", code, stderr)
	}
	broke = false
	code, stdout, stderr = sidetone(t, args...)
	if code != exitDone || !strings.Contains(strings.Join(strings.Fields(stderr), " "), "1 stretch is known from an earlier run and not sent again") || strings.Contains(stdout+stderr, "sk-secret") {
		t.Errorf("exit status %d: %s", code, stderr)
	}
	if text := strings.Join(strings.Fields(stdout), " "); !strings.Contains(text, "The speech in it was sent to "+strings.TrimPrefix(s.URL, "http://")) {
		t.Errorf("it does not say where the speech went: %s", stdout)
	}
}
