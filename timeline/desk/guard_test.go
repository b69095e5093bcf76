package desk

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/uuid"
)

const aNote = `{"key":"6c7a4b1e-7a6c-4a0e-9d3c-0a1b2c3d4e5f","kind":"note","author":"Mallory","at":1,"text":"x"}`

// Each of these would change a lesson, or show one, were it let through.
func TestRequestsOfOtherSitesAreRefused(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	post := func(change func(*http.Request)) int {
		status, _, _ := c.do(http.MethodPost, "/lessons/"+id+"/facts", strings.NewReader(aNote), change)
		return status
	}
	get := func(change func(*http.Request)) int {
		status, _, _ := c.do(http.MethodGet, "/lessons/"+id+"/state", nil, change)
		return status
	}
	set := func(k, v string) func(*http.Request) { return func(r *http.Request) { r.Header.Set(k, v) } }
	for name, status := range map[string]int{
		"a name of another site pointed here (DNS rebinding)": get(func(r *http.Request) { r.Host = "lessons.example" }),
		"that name with our port":                             get(func(r *http.Request) { r.Host = "lessons.example:" + r.URL.Port() }),
		"our address with another port":                       get(func(r *http.Request) { r.Host = r.URL.Hostname() + ":1" }),
		"no name at all":                                      get(func(r *http.Request) { r.Host = "?" }),
		"another origin reading":                              get(set("Origin", "https://lessons.example")),
		"an origin without a name reading":                    get(set("Origin", "null")),
		"a script tag of another site":                        get(set("Sec-Fetch-Site", "cross-site")),
		"another port of this machine":                        get(set("Sec-Fetch-Site", "same-site")),
		"another origin writing":                              post(set("Origin", "https://lessons.example")),
		"our address on another port writing":                 post(set("Origin", "http://127.0.0.1:1")),
		"an origin without a name writing":                    post(set("Origin", "null")),
		"a form of another site":                              post(set("Sec-Fetch-Site", "cross-site")),
		"a page without the token":                            post(func(r *http.Request) { r.Header.Del(TokenHeader) }),
		"a page with a wrong token":                           post(set(TokenHeader, strings.Repeat("A", len(c.token)))),
		"a page with a part of the token":                     post(set(TokenHeader, c.token[:len(c.token)-1])),
	} {
		if status != http.StatusForbidden {
			t.Errorf("%s: %d", name, status)
		}
	}
	for _, method := range []string{"PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"} {
		if status, _, _ := c.do(method, "/lessons/"+id+"/facts", strings.NewReader(aNote), nil); status != http.StatusMethodNotAllowed {
			t.Errorf("%s: %d", method, status)
		}
	}
	if s := c.state(id); s.Revision != 0 {
		t.Fatal("one of them was kept")
	}
	if status := post(nil); status != http.StatusCreated {
		t.Errorf("the page itself is refused as well: %d", status)
	}
}

func TestALinkOfAnotherSiteMayOpenThePageOnly(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	link := func(dest string) int {
		status, _, _ := c.do(http.MethodGet, "/", nil, func(r *http.Request) {
			r.Header.Set("Sec-Fetch-Site", "cross-site")
			r.Header.Set("Sec-Fetch-Mode", "navigate")
			r.Header.Set("Sec-Fetch-Dest", dest)
		})
		return status
	}
	if got := link("document"); got != 200 {
		t.Errorf("a link: %d", got)
	}
	if got := link("iframe"); got != http.StatusForbidden {
		t.Errorf("a frame: %d", got)
	}
}

func TestEveryAnswerHasAStrictPolicy(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	seen := map[string]bool{}
	for _, path := range []string{"/", "/lessons/" + id, "/lessons/" + id + "/print", "/lessons/" + id + "/state", "/lessons/" + id + "/sound", "/lessons/" + id + "/export.html", "/nowhere"} {
		_, h, body := c.get(path)
		p := h.Get("Content-Security-Policy")
		for _, need := range []string{"default-src 'none'", "script-src 'self';", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'none'"} {
			if !strings.Contains(p, need) {
				t.Errorf("%s: %q is not in %q", path, need, p)
			}
		}
		if strings.Contains(p, "unsafe") || strings.Contains(p, "*") || strings.Contains(p, "http") {
			t.Errorf("%s: %q", path, p)
		}
		if h.Get("X-Content-Type-Options") != "nosniff" || h.Get("Cross-Origin-Resource-Policy") != "same-origin" || h.Get("Referrer-Policy") != "no-referrer" {
			t.Errorf("%s: %v", path, h)
		}
		if h.Get("Access-Control-Allow-Origin") != "" {
			t.Errorf("%s lets other sites read", path)
		}
		nonce := p[strings.Index(p, "'nonce-")+7:]
		nonce = nonce[:strings.IndexByte(nonce, '\'')]
		if len(nonce) < 20 || seen[nonce] {
			t.Errorf("%s: the nonce %q can be foreseen", path, nonce)
		}
		seen[nonce] = true
		if path == "/" && (!bytes.Contains(body, []byte(nonce)) || !bytes.Contains(body, []byte(c.token))) {
			t.Error("the page lacks its nonce or token")
		}
	}
}

func TestWhatLessonsSayIsNoMarkup(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	evil := `<img src=x onerror=alert(1)>`
	if status, b := c.upload(map[string]string{"title": evil, "student": `"><script>alert(1)</script>`}, "a.wav", "x"); status != 201 {
		t.Fatalf("%d %s", status, b)
	}
	for _, path := range []string{"/", "/lessons/1", "/lessons/1/print"} {
		if _, _, b := c.get(path); bytes.Contains(b, []byte("<img src=x")) || bytes.Contains(b, []byte("<script>alert")) {
			t.Errorf("%s shows it as markup", path)
		}
	}
}

func TestNoPathOpensAFileOutsideTheLibrary(t *testing.T) {
	dir := t.TempDir()
	secret := filepath.Join(dir, "secret.wav")
	if err := os.WriteFile(secret, append(wav(16), "TOP SECRET"...), 0o600); err != nil {
		t.Fatal(err)
	}
	c := start(t, dir, nil)
	id := c.lesson("sound")
	for _, path := range []string{
		"/assets/../../secret.wav", "/assets/..%2f..%2fsecret.wav", "/assets/%2e%2e/%2e%2e/secret.wav", "/assets/..%5c..%5csecret.wav", "/assets/" + secret, "/assets//" + secret,
		"/assets/", "/assets/.", "/assets/%00", "/assets", "/secret.wav", "/../secret.wav", "/library/lessons.db", "/lessons.db",
		"/lessons/..%2f..%2fsecret.wav/sound", "/lessons/" + id + "%2f..%2f..%2fsecret.wav/sound", "/lessons/" + id + "/../../secret.wav", "/lessons/" + id + "/sound/../../../secret.wav",
		"/lessons/" + secret + "/sound", "/lessons/0/sound", "/lessons/-1/sound", "/lessons/+1/sound", "/lessons/01/sound", "/lessons/1e0/sound", "/lessons/99999999999999999999/sound",
		"/lessons/1%20OR%201=1/state", "/lessons/" + id + "/export.exe", "/lessons/" + id + "/export.", "/lessons/999/state",
	} {
		status, _, b := c.get(path)
		if status < 300 || bytes.Contains(b, []byte("SECRET")) || bytes.Contains(b, []byte("SQLite")) {
			t.Errorf("%s: %d %.80s", path, status, b)
		}
	}
	// What the query or a header says does not choose a file either.
	_, _, b := c.do(http.MethodGet, "/lessons/"+id+"/sound?path="+secret+"&file="+secret, nil, func(r *http.Request) { r.Header.Set("X-Original-URL", secret) })
	if bytes.Contains(b, []byte("SECRET")) {
		t.Error("the query chooses a file")
	}
	// Nor does a path that was not named on the command line.
	for _, p := range []string{secret, "/etc/passwd", "../secret.wav", ""} {
		body, _ := json.Marshal(NewLesson{Path: p})
		if status, _, _ := c.do(http.MethodPost, "/lessons", bytes.NewReader(body), func(r *http.Request) { r.Header.Set("Content-Type", "application/json") }); status != http.StatusForbidden {
			t.Errorf("the path %q is taken: %d", p, status)
		}
	}
	c.desk.Offer(Offer{Paths: []string{secret}})
	body, _ := json.Marshal(NewLesson{Path: secret})
	if status, _, b := c.do(http.MethodPost, "/lessons", bytes.NewReader(body), func(r *http.Request) { r.Header.Set("Content-Type", "application/json") }); status != http.StatusCreated {
		t.Errorf("one that was named is refused: %d %s", status, b)
	}
}

func TestUploadsStayInTheirFolder(t *testing.T) {
	dir := t.TempDir()
	c := start(t, dir, nil)
	before, _ := os.ReadDir(dir)
	for i, name := range []string{"../../evil.wav", `..\..\evil.wav`, "/etc/cron.d/evil", "lessons.db", "a.wav/../../../x.sh", strings.Repeat("n", 400), ".", ".."} {
		if status, b := c.upload(nil, name, fmt.Sprint("content ", i)); status != http.StatusCreated {
			t.Errorf("%q: %d %s", name, status, b)
		}
	}
	after, _ := os.ReadDir(dir)
	if len(after) != len(before) {
		t.Errorf("something was written beside the library: %v", after)
	}
	files, err := os.ReadDir(filepath.Join(dir, "library", "recordings"))
	if err != nil || len(files) != 8 {
		t.Errorf("%d files, %v", len(files), err)
	}
	for _, f := range files {
		if n := strings.TrimSuffix(f.Name(), filepath.Ext(f.Name())); len(n) != 64 || strings.Trim(n, "0123456789abcdef") != "" {
			t.Errorf("a request named the file %q", f.Name())
		}
	}
}

func TestWhatIsSentIsBounded(t *testing.T) {
	c := start(t, t.TempDir(), func(o *Options) { o.Largest = 10_000 })
	id := c.lesson("sound")
	if status, b := c.upload(nil, "big.wav", strings.Repeat("x", 20_000)); status != http.StatusRequestEntityTooLarge {
		t.Errorf("a large recording: %d %s", status, b)
	}
	if status, _ := c.upload(map[string]string{"student": strings.Repeat("x", 2000)}, "a.wav", "x"); status != http.StatusBadRequest {
		t.Errorf("a long field: %d", status)
	}
	if status, _ := c.upload(map[string]string{"command": "x"}, "a.wav", "x"); status != http.StatusBadRequest {
		t.Errorf("a field there is none of: %d", status)
	}
	if status, _ := c.upload(map[string]string{"date": "yesterday"}, "a.wav", "x"); status != http.StatusBadRequest {
		t.Errorf("a date that is none: %d", status)
	}
	if status, _ := c.upload(nil, "a.wav", ""); status != http.StatusBadRequest {
		t.Errorf("an empty file: %d", status)
	}
	for name, body := range map[string]string{
		"too long":           `{"key":"` + uuid.NewString() + `","kind":"note","author":"R","at":1,"text":"` + strings.Repeat("x", 70_000) + `"}`,
		"cut off":            `{"key":`,
		"two":                aNote + aNote,
		"with unknown parts": strings.Replace(aNote, `"at"`, `"admin":true,"at"`, 1),
		"nothing":            ``,
	} {
		status, _, b := c.do(http.MethodPost, "/lessons/"+id+"/facts", strings.NewReader(body), nil)
		var said Trouble
		if status < 400 || status > 499 || json.Unmarshal(b, &said) != nil || said.Error == "" {
			t.Errorf("a fact %s: %d %s", name, status, b)
		}
	}
	left, _ := filepath.Glob(filepath.Join(c.dir, "library", "recordings", "new-*"))
	if len(left) > 0 || c.state(id).Revision != 0 {
		t.Errorf("left behind: %v, revision %d", left, c.state(id).Revision)
	}
}

func TestWhatIsImportedIsNotBelieved(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	at := 1.0
	c.post(id, Fact{Kind: "note", At: &at, Text: "x"}, 201)
	_, _, good := c.get("/lessons/" + id + "/export.json")
	if bytes.Contains(good, []byte(c.dir)) {
		t.Error("it tells where files lie on this machine")
	}
	there := start(t, t.TempDir(), nil)
	secret := filepath.Join(there.dir, "secret.wav")
	if err := os.WriteFile(secret, wav(16), 0o600); err != nil {
		t.Fatal(err)
	}
	take := func(b []byte) int {
		status, _, _ := there.do(http.MethodPost, "/lessons/import", bytes.NewReader(b), nil)
		return status
	}
	change := func(f func(m map[string]any)) []byte {
		var m map[string]any
		if err := json.Unmarshal(good, &m); err != nil {
			t.Fatal(err)
		}
		f(m)
		b, _ := json.Marshal(m)
		return b
	}
	debrief := func(m map[string]any) map[string]any {
		return m["machine"].(map[string]any)["debrief"].(map[string]any)
	}
	step := func(m map[string]any) map[string]any {
		return debrief(m)["maneuvers"].([]any)[0].(map[string]any)["steps"].([]any)[0].(map[string]any)
	}
	fact := func(m map[string]any) map[string]any { return m["facts"].([]any)[0].(map[string]any) }
	for name, b := range map[string][]byte{
		"no JSON":                        []byte("RIFF"),
		"a debrief alone":                change(func(m map[string]any) { delete(m, "form") }),
		"of a later version":             change(func(m map[string]any) { m["version"] = 2 }),
		"an identity that is none":       change(func(m map[string]any) { m["uid"] = "../../x" }),
		"a digest that is a path":        change(func(m map[string]any) { m["files"].([]any)[0].(map[string]any)["digest"] = "../../secret" }),
		"a step on a call there is not":  change(func(m map[string]any) { step(m)["call"] = 10_000 }),
		"a call in words there are none": change(func(m map[string]any) { m["machine"].(map[string]any)["utterances"] = []int{99} }),
		"a verdict there is not":         change(func(m map[string]any) { step(m)["verdict"] = "splendid" }),
		"no machine":                     change(func(m map[string]any) { delete(m, "machine") }),
		"a fact without an author":       change(func(m map[string]any) { fact(m)["author"] = "" }),
		"a fact that undoes itself":      change(func(m map[string]any) { fact(m)["kind"], fact(m)["undo"] = "undo", 1 }),
		"an aircraft there is not":       change(func(m map[string]any) { m["aircraft"] = "/etc/passwd" }),
		"a date that is none":            change(func(m map[string]any) { m["date"] = "x" }),
	} {
		if status := take(b); status != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d", name, status)
		}
	}
	var all []Listed
	if _, _, b := there.get("/lessons"); json.Unmarshal(b, &all) != nil || len(all) != 0 {
		t.Fatalf("one was kept: %+v", all)
	}
	// A path in it is not opened.
	if status := take(change(func(m map[string]any) { m["files"].([]any)[0].(map[string]any)["path"] = secret })); status != 201 {
		t.Errorf("a good one: %d", status)
	}
	if status, _, _ := there.get("/lessons/1/sound"); status != http.StatusNotFound {
		t.Errorf("the path in it was opened: %d", status)
	}
}

func TestAPasswordIsAskedForAndNotGuessed(t *testing.T) {
	c := start(t, t.TempDir(), func(o *Options) { o.Password = "correct horse" })
	with := func(p string) func(*http.Request) { return func(r *http.Request) { r.SetBasicAuth("anybody", p) } }
	status, h, _ := c.get("/")
	if status != http.StatusUnauthorized || !strings.HasPrefix(h.Get("WWW-Authenticate"), "Basic") {
		t.Errorf("without: %d", status)
	}
	for _, path := range []string{"/", "/lessons", "/events", "/assets/lesson.js", "/lessons/1/sound", "/lessons/1/state"} {
		if status, _, _ := c.get(path); status != http.StatusUnauthorized {
			t.Errorf("%s without a password: %d", path, status)
		}
	}
	if status, _, _ := c.do(http.MethodPost, "/lessons/1/facts", strings.NewReader(aNote), nil); status != http.StatusUnauthorized {
		t.Errorf("with the token alone: %d", status)
	}
	if status, _, _ := c.do(http.MethodGet, "/", nil, with("correct horse")); status != 200 {
		t.Errorf("with it: %d", status)
	}
	last := 0
	for i := range triesFree + 1 {
		last, _, _ = c.do(http.MethodGet, "/", nil, with(fmt.Sprint("guess ", i)))
	}
	if last != http.StatusTooManyRequests {
		t.Errorf("after many guesses: %d", last)
	}
	if status, _, _ := c.do(http.MethodGet, "/", nil, with("correct horse")); status != http.StatusTooManyRequests {
		t.Errorf("guessing goes on at once: %d", status)
	}
}

func TestOnlySoManyPagesListen(t *testing.T) {
	var h hub
	for range mostPages {
		if h.join() == nil {
			t.Fatal("refused too early")
		}
	}
	if h.join() != nil {
		t.Error("there is no end")
	}
	// One that does not read is cut off, and holds nobody up.
	for range 1000 {
		h.tell("library", struct{}{})
	}
	if h.join() == nil {
		t.Error("those that do not read keep their place")
	}
}

func TestErrorsTellNothingOfTheMachine(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	res, err := http.Get(c.srv.URL + "/lessons/1/%ff")
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	if b, _ := io.ReadAll(res.Body); bytes.Contains(b, []byte(c.dir)) || bytes.Contains(b, []byte(".go:")) {
		t.Errorf("%s", b)
	}
}
