package desk

import (
	"context"
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// lostLesson is one whose recording lay outside the library and is gone.
func lostLesson(t *testing.T, c *client) (id, path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "flight7.wav")
	sound, err := os.ReadFile(demoWAV)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, sound, 0o600); err != nil {
		t.Fatal(err)
	}
	n, err := c.desk.Add(t.Context(), Offer{Paths: []string{path}})
	if err != nil {
		t.Fatal(err)
	}
	c.wait(name(n), func(s *State) bool { return s.Sound != "" })
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	return name(n), path
}

func (c *client) bringBack(id, name, content string) (int, string) {
	c.t.Helper()
	body, kind := form(nil, name, content)
	status, _, b := c.do(http.MethodPost, "/lessons/"+id+"/recording", body, func(r *http.Request) { r.Header.Set("Content-Type", kind) })
	return status, string(b)
}

func TestALostRecordingIsToldAndBroughtBack(t *testing.T) {
	c := start(t, t.TempDir(), func(o *Options) { o.Look = 20 * time.Millisecond })
	id, path := lostLesson(t, c)
	if m := c.state(id).Missing; m == nil || m.Name != "flight7.wav" || m.LastSeen != path {
		t.Fatalf("missing is %+v", m)
	}
	inList := func() Listed {
		var all []Listed
		_, _, b := c.get("/lessons")
		if err := json.Unmarshal(b, &all); err != nil {
			t.Fatal(err)
		}
		return all[0]
	}
	listed := func() bool {
		before := inList()
		_, _, page := c.get("/")
		after := inList()
		// It is looked for all the while: what changed between the answers proves nothing.
		if before.Missing == after.Missing && after.Missing != strings.Contains(string(page), "recording missing") {
			t.Errorf("the page and the list differ: %+v", after)
		}
		return after.Missing
	}
	at := 1.0
	c.post(id, Fact{Kind: "note", At: &at, Text: "something was written, so it is looked"}, 201)
	until(t, "the list says so", listed)
	if status, says := c.bringBack(id, "flight7.wav", "another sound"); status != http.StatusUnprocessableEntity || !strings.Contains(says, "another recording than this lesson's, “flight7.wav”") {
		t.Errorf("another recording: %d %s", status, says)
	}
	if n := inLibrary(t, c); len(n) != 0 {
		t.Errorf("it was kept: %v", n)
	}
	sound, err := os.ReadFile(demoWAV)
	if err != nil {
		t.Fatal(err)
	}
	if status, says := c.bringBack(id, "renamed.wav", string(sound)); status != http.StatusOK {
		t.Fatalf("its own: %d %.200s", status, says)
	}
	if s := c.state(id); s.Missing != nil || s.Sound == "" {
		t.Errorf("brought back: %+v", s.Missing)
	}
	until(t, "the list no longer says so", func() bool { return !listed() })
}

func TestTheSameRecordingIsNotKeptTwice(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	path := filepath.Join(t.TempDir(), "flight.wav")
	if err := os.WriteFile(path, wav(16), 0o600); err != nil {
		t.Fatal(err)
	}
	n, err := c.desk.Add(t.Context(), Offer{Paths: []string{path}})
	if err != nil {
		t.Fatal(err)
	}
	_, b := c.upload(nil, "again.wav", string(wav(16)))
	var again Created
	if err := json.Unmarshal(b, &again); err != nil || again.ID != name(n) || !again.Known {
		t.Errorf("%s", b)
	}
	if kept := inLibrary(t, c); len(kept) != 0 {
		t.Errorf("a copy was kept of a recording that is where it was: %v", kept)
	}
	_, b = c.upload(nil, "new.wav", string(wav(24)))
	var fresh Created
	if err := json.Unmarshal(b, &fresh); err != nil || fresh.Known {
		t.Errorf("%s", b)
	}
	if _, b = c.upload(nil, "new.wav", string(wav(24))); !strings.Contains(string(b), `"known":true`) {
		t.Errorf("%s", b)
	}
	c.wait(fresh.ID, func(s *State) bool { return s.Sound != "" && s.Missing == nil })
}

func missedOnThePage(t *testing.T, one context.Context) {
	c := start(t, t.TempDir(), nil)
	id, path := lostLesson(t, c)
	ctx := tab(t, one, c.srv.URL+"/lessons/"+id)
	seen(t, ctx, opened)
	seen(t, ctx, `(() => { const e = document.getElementById("no-sound"); return e.textContent.includes("flight7.wav") && e.textContent.includes("last seen at `+path+`") && e.getBoundingClientRect().top < 250 })()`)
	seen(t, ctx, `[...document.querySelectorAll(".listen")].every((e) => e.disabled && e.title.includes("no sound")) && getComputedStyle(document.getElementById("play")).display === "none"`)
	do(t, ctx, chromedp.Click(chromedp.CSS(`[data-keep="step-trim"]`)))
	seen(t, ctx, `document.querySelector('[data-keep="agree-trim"]') && !document.querySelector('[data-keep="hear-trim"]')`)
	sound, err := filepath.Abs(demoWAV)
	if err != nil {
		t.Fatal(err)
	}
	drop(t, ctx, sound)
	seen(t, ctx, `document.getElementById("no-sound").hidden && getComputedStyle(document.getElementById("play")).display !== "none" && [...document.querySelectorAll(".listen")].every((e) => !e.disabled)`)
	// On the library's page it is known.
	do(t, ctx, chromedp.Navigate(c.srv.URL+"/"))
	seen(t, ctx, `document.querySelector("#lessons a") !== null`)
	drop(t, ctx, sound)
	seen(t, ctx, `document.getElementById("taking-in").textContent.includes("lesson.wav is already here") && document.querySelector("#taking-in a").getAttribute("href") === "/lessons/`+id+`"`)
}
