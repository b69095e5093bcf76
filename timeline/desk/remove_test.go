package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// inLibrary are the files the desk keeps of recordings.
func inLibrary(t *testing.T, c *client) (names []string) {
	t.Helper()
	for _, dir := range []string{"recordings", "sounds"} {
		all, err := os.ReadDir(filepath.Join(c.dir, "library", dir))
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range all {
			names = append(names, dir+"/"+e.Name())
		}
	}
	return names
}

func (c *client) removal(id string) (r Removal) {
	c.t.Helper()
	status, _, b := c.get("/lessons/" + id + "/removal")
	if err := json.Unmarshal(b, &r); status != 200 || err != nil {
		c.t.Fatalf("%d %s", status, b)
	}
	return r
}

func TestALessonIsRemovedWithTheDesksOwnCopies(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id, other := c.lesson("sound"), c.lesson("another")
	at := 1.0
	c.post(id, Fact{Kind: "note", At: &at, Text: "x"}, 201)
	if n := inLibrary(t, c); len(n) != 4 {
		t.Fatalf("kept are %v", n)
	}
	what := c.removal(id)
	if got := strings.Join(what.Goes, " "); what.Title != "slow flight" || len(what.Stays) != 0 ||
		got != "What was heard in it and 1 change people made. The desk's own copy of the recording “slow flight.mov”. The small sound the desk made of it to play." {
		t.Errorf("%+v", what)
	}
	if status, _, b := c.do(http.MethodPost, "/lessons/"+id+"/remove", nil, nil); status != http.StatusOK {
		t.Fatalf("%d %s", status, b)
	}
	if n := inLibrary(t, c); len(n) != 2 {
		t.Errorf("left are %v", n)
	}
	for _, path := range []string{"", "/state", "/sound", "/export.html", "/removal"} {
		if status, _, _ := c.get("/lessons/" + id + path); status != http.StatusNotFound {
			t.Errorf("%s: %d", path, status)
		}
	}
	c.post(id, Fact{Kind: "note", At: &at, Text: "too late"}, http.StatusNotFound)
	if s := c.state(other); s.Sound == "" {
		t.Error("the other lesson is silent")
	}
	if again := c.lesson("sound"); again == id {
		t.Error("another lesson has its number")
	}
}

func TestARecordingThatLiesElsewhereStays(t *testing.T) {
	dir := t.TempDir()
	c := start(t, dir, nil)
	path := filepath.Join(dir, "flight.wav")
	if err := os.WriteFile(path, wav(16), 0o600); err != nil {
		t.Fatal(err)
	}
	n, err := c.desk.Add(t.Context(), Offer{Paths: []string{path}})
	if err != nil {
		t.Fatal(err)
	}
	c.wait(name(n), func(s *State) bool { return s.Sound != "" })
	if what := c.removal(name(n)); len(what.Goes) != 1 || len(what.Stays) != 1 || !strings.HasSuffix(what.Stays[0], path) {
		t.Errorf("%+v", what)
	}
	if status, _, b := c.do(http.MethodPost, "/lessons/"+name(n)+"/remove", nil, nil); status != 200 {
		t.Fatalf("%d %s", status, b)
	}
	if b, err := os.ReadFile(path); err != nil || !bytes.Equal(b, wav(16)) {
		t.Errorf("the recording is gone: %v", err)
	}
}

func TestALessonIsRemovedWhileItIsListenedTo(t *testing.T) {
	c := start(t, t.TempDir(), func(o *Options) { o.Ears = patient{let: make(chan struct{})} })
	_, b := c.upload(nil, "lesson.mov", "sound")
	var made Created
	if err := json.Unmarshal(b, &made); err != nil {
		t.Fatal(err)
	}
	c.wait(made.ID, func(s *State) bool { return s.Progress != nil && s.Progress.Stage == "listening" })
	if status, _, b := c.do(http.MethodPost, "/lessons/"+made.ID+"/remove", nil, nil); status != 200 {
		t.Fatalf("%d %s", status, b)
	}
	_, b = c.upload(nil, "next.mov", "next")
	if err := json.Unmarshal(b, &made); err != nil {
		t.Fatal(err)
	}
	c.wait(made.ID, func(s *State) bool { return s.Progress != nil && s.Progress.Stage == "listening" })
}

// Each of these would remove a lesson, were it let through.
func TestNobodyElseRemovesALesson(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	set := func(k, v string) func(*http.Request) { return func(r *http.Request) { r.Header.Set(k, v) } }
	for name, attack := range map[string]struct {
		method string
		change func(*http.Request)
		want   int
	}{
		"a link or an image that is only fetched":   {http.MethodGet, nil, http.StatusNotFound},
		"a form of another site":                    {http.MethodPost, set("Sec-Fetch-Site", "cross-site"), http.StatusForbidden},
		"another origin":                            {http.MethodPost, set("Origin", "https://lessons.example"), http.StatusForbidden},
		"an origin without a name":                  {http.MethodPost, set("Origin", "null"), http.StatusForbidden},
		"a name of another site that is pointed at": {http.MethodPost, func(r *http.Request) { r.Host = "lessons.example" }, http.StatusForbidden},
		"a page without the token":                  {http.MethodPost, func(r *http.Request) { r.Header.Del(TokenHeader) }, http.StatusForbidden},
		"a page with a part of the token":           {http.MethodPost, set(TokenHeader, c.token[1:]), http.StatusForbidden},
		"the method that says so":                   {http.MethodDelete, nil, http.StatusMethodNotAllowed},
	} {
		for _, does := range []string{"/remove", "/recording"} {
			if status, _, _ := c.do(attack.method, "/lessons/"+id+does, nil, attack.change); status != attack.want {
				t.Errorf("%s, %s: %d, want %d", does, name, status, attack.want)
			}
		}
	}
	for _, path := range []string{"/lessons/*/remove", "/lessons/1%20OR%201=1/remove", "/lessons/01/remove", "/lessons/-1/remove", "/lessons/99/remove"} {
		if status, _, _ := c.do(http.MethodPost, path, nil, nil); status != http.StatusNotFound {
			t.Errorf("%s: %d", path, status)
		}
	}
	if s := c.state(id); s.Sound == "" {
		t.Error("one of them removed it, or its sound")
	}
}

func removedOnThePage(t *testing.T, one context.Context) {
	c, id, ctx := sit(t, one)
	c.lesson("another")
	fromMenu := func() {
		t.Helper()
		do(t, ctx, chromedp.Click(chromedp.CSS(".hand-on summary")), chromedp.Click(chromedp.CSS("#remove-lesson")))
		seen(t, ctx, `document.getElementById("remove").open && !document.querySelector(".hand-on").open`)
	}
	fromMenu()
	seen(t, ctx, `document.getElementById("remove").textContent.includes("“slow flight”") && document.getElementById("remove-goes").textContent.includes("own copy")`)
	do(t, ctx, chromedp.Click(chromedp.CSS(`#remove button[value=""]`)))
	seen(t, ctx, `!document.getElementById("remove").open && document.activeElement.matches(".hand-on summary")`)
	if s := c.state(id); s.Sound == "" {
		t.Error("it was removed though it was to be kept")
	}
	fromMenu()
	do(t, ctx, chromedp.Click(chromedp.CSS(`#remove button[value="ok"]`)))
	seen(t, ctx, `document.querySelectorAll("#lessons tbody tr").length === 1`)
	do(t, ctx, chromedp.Click(chromedp.CSS("[data-remove]")))
	seen(t, ctx, `document.getElementById("remove").open`)
	do(t, ctx, chromedp.Click(chromedp.CSS(`#remove button[value="ok"]`)))
	seen(t, ctx, `document.querySelector("#lessons .empty") !== null`)
	if n := inLibrary(t, c); len(n) != 0 {
		t.Errorf("left are %v", n)
	}
}
