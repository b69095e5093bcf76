package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"sidetone/timeline/desk"
)

// deskProcess is a desk as a process of its own.
type deskProcess struct {
	t    *testing.T
	url  string
	kill func()
}

func openDesk(t *testing.T, library string, args ...string) *deskProcess {
	t.Helper()
	if !desk.Built() {
		t.Skip("the desk's pages are not bundled: make page")
	}
	cmd, stderr := program(t, t.TempDir(), append([]string{"desk", "--listen", "127.0.0.1:0", "--library", library}, args...)...)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	killed := false
	kill := func() {
		if !killed {
			killed = true
			_ = cmd.Process.Kill() // SIGKILL
			_ = cmd.Wait()
		}
	}
	t.Cleanup(kill)
	line, err := bufio.NewReader(out).ReadString('\n')
	at := regexp.MustCompile(`http://[0-9.]+:[0-9]+`).FindString(line)
	if err != nil || at == "" {
		t.Fatalf("%q %v: %s", line, err, stderr)
	}
	return &deskProcess{t, at, kill}
}

func (d *deskProcess) get(path string) string {
	d.t.Helper()
	res, err := http.Get(d.url + path)
	if err != nil {
		d.t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusOK {
		d.t.Fatalf("%s: %d %s %v", path, res.StatusCode, b, err)
	}
	return string(b)
}

func (d *deskProcess) state() (s desk.State) {
	d.t.Helper()
	if err := json.Unmarshal([]byte(d.get("/lessons/1/state")), &s); err != nil {
		d.t.Fatal(err)
	}
	return s
}

// note posts one, and says whether the desk answered that it is kept.
func (d *deskProcess) note(token string, n int) bool {
	at := 1.0
	b, err := json.Marshal(desk.Fact{Key: noteKey(n), Kind: "note", Author: "Robin", At: &at, Text: fmt.Sprint("note ", n)})
	if err != nil {
		d.t.Fatal(err)
	}
	r, err := http.NewRequest(http.MethodPost, d.url+"/lessons/1/facts", bytes.NewReader(b))
	if err != nil {
		d.t.Fatal(err)
	}
	r.Header.Set(desk.TokenHeader, token)
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		return false
	}
	defer res.Body.Close()
	if res.StatusCode != http.StatusCreated {
		why, _ := io.ReadAll(res.Body)
		d.t.Errorf("note %d: %d %s", n, res.StatusCode, why)
		return false
	}
	return true
}

func noteKey(n int) string { return fmt.Sprintf("00000000-0000-4000-8000-%012d", n) }

func (d *deskProcess) token() string {
	m := regexp.MustCompile(`sidetone-token" content="([^"]+)"`).FindStringSubmatch(d.get("/"))
	if m == nil {
		d.t.Fatal("the page has no token")
	}
	return m[1]
}

// Words need no models: the desk reads them as debrief does.
const twoCalls = `WEBVTT

00:10.000 --> 00:12.000
<v Sam>carb heat on

00:15.000 --> 00:17.000
<v Sam>power back seventeen hundred
`

func TestKilledInTheMiddleOfWritingTheDeskLosesNothing(t *testing.T) {
	library := filepath.Join(t.TempDir(), "library")
	path := put(t, filepath.Join(t.TempDir(), "lesson.vtt"), []byte(twoCalls))
	d := openDesk(t, library, path, "--student", "Sam")
	waitFor(t, "the lesson is read", func() bool { return string(d.state().Timeline) != "null" })
	kept := map[string]bool{}
	n := 0
	for round := range 3 {
		token := d.token()
		answered := make(chan int, 1000)
		go func() {
			defer close(answered)
			for i := n; i < n+1000 && d.note(token, i); i++ {
				answered <- i
			}
		}()
		for range 20 + round {
			i, ok := <-answered
			if !ok {
				t.Fatal("the desk does not keep notes")
			}
			kept[fmt.Sprint("note ", i)] = true
		}
		d.kill()
		for i := range answered {
			kept[fmt.Sprint("note ", i)] = true
		}
		n = 1000 * (round + 1)
		d = openDesk(t, library)
		s := d.state()
		there := map[string]bool{}
		for _, x := range s.Notes {
			there[x.Text] = true
		}
		for text := range kept {
			if !there[text] {
				t.Errorf("after kill %d: %q was answered for and is gone", round+1, text)
			}
		}
		// One may have been written without the answer being seen.
		if len(there) > len(kept)+round+1 || s.Student != "Sam" {
			t.Errorf("after kill %d: %d notes, %d answered for", round+1, len(there), len(kept))
		}
	}
}

func TestTheDeskIsNotOpenedToOthersByMistake(t *testing.T) {
	short := put(t, filepath.Join(t.TempDir(), "short"), []byte("abc\n"))
	for name, c := range map[string]struct {
		args []string
		says string
	}{
		"every address":                 {[]string{"--listen", "0.0.0.0:0"}, "--beyond-this-machine"},
		"every address, in short":       {[]string{"--listen", ":0"}, "--beyond-this-machine"},
		"every address of IPv6":         {[]string{"--listen", "[::]:0"}, "--beyond-this-machine"},
		"the flag without a password":   {[]string{"--listen", "0.0.0.0:0", "--beyond-this-machine"}, "--password-file"},
		"a password without the flag":   {[]string{"--listen", "0.0.0.0:0", "--password-file", put(t, filepath.Join(t.TempDir(), "p"), []byte("long enough"))}, "--beyond-this-machine"},
		"a password that is too short":  {[]string{"--password-file", short}, "8 letters"},
		"a password file there is none": {[]string{"--password-file", short + ".x"}, "no such file"},
		"no port":                       {[]string{"--listen", "127.0.0.1"}, "a port"},
		"a recording there is none":     {[]string{"nowhere.wav"}, "no such file"},
		"a date that is none":           {[]string{"--date", "yesterday"}, "2026-05-01"},
	} {
		if !desk.Built() {
			t.Skip("the desk's pages are not bundled: make page")
		}
		var out, errs bytes.Buffer
		library := filepath.Join(t.TempDir(), "library")
		code := runIn(t.Context(), append([]string{"desk", "--library", library}, c.args...), &out, &errs)
		if code == 0 || !strings.Contains(errs.String(), c.says) {
			t.Errorf("%s: %d %q", name, code, errs.String())
		}
		if _, err := os.Stat(library); err == nil {
			t.Errorf("%s: a library was made", name)
		}
	}
}

func TestALessonIsJudgedByTheProcedureItWasAddedWith(t *testing.T) {
	library := filepath.Join(t.TempDir(), "library")
	path := put(t, filepath.Join(t.TempDir(), "lesson.vtt"), []byte(twoCalls))
	ours := put(t, filepath.Join(t.TempDir(), "ours.yaml"), []byte("id: ours\nextends: slow-flight-clean\ntitle: Slow flight as we fly it\n"))
	d := openDesk(t, library, path, "--procedure", ours)
	judged := func() string {
		var tl struct {
			Maneuvers []struct{ Procedure, Title string }
		}
		if err := json.Unmarshal(d.state().Timeline, &tl); err != nil || len(tl.Maneuvers) != 1 {
			return fmt.Sprint(tl, err)
		}
		return tl.Maneuvers[0].Procedure + ": " + tl.Maneuvers[0].Title
	}
	const want = "ours: Slow flight as we fly it"
	waitFor(t, "the lesson is judged by our procedure", func() bool { return judged() == want })
	// Another day, the file is gone: a word put right is still judged by what it said.
	d.kill()
	if err := os.Remove(ours); err != nil {
		t.Fatal(err)
	}
	d = openDesk(t, library)
	word := 0
	b, err := json.Marshal(desk.Fact{Key: noteKey(1), Kind: "word", Author: "Robin", Word: &word, Text: "carburetor"})
	if err != nil {
		t.Fatal(err)
	}
	r, err := http.NewRequest(http.MethodPost, d.url+"/lessons/1/facts", bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set(desk.TokenHeader, d.token())
	res, err := http.DefaultClient.Do(r)
	if err != nil || res.StatusCode != http.StatusCreated {
		t.Fatal(res, err)
	}
	res.Body.Close()
	if got := judged(); got != want {
		t.Errorf("judged anew: %s, want %s", got, want)
	}
}
