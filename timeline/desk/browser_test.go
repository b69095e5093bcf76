package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"sidetone/rules"
	"sidetone/timeline/logbook"
	"sidetone/timeline/report"
)

// These tests hold the page against a server of their own that keeps facts as the
// agreement in api.go says, so that a fault is the page's.

// debrief is a lesson with trim called before power, in the form of timeline/report.
const debrief = `{"version":1,"recording":{"file":"lesson.wav","duration":154,"channels":1,"sample_rate":16000,"speech_seconds":9},
"transcript":[{"start":10,"end":11.5,"channel":0,"speaker":"student","text":"Carve heat on","words":[]},
{"start":21,"end":22,"channel":0,"speaker":"student","text":"Trim set","words":[]},
{"start":24,"end":26,"channel":0,"speaker":"student","text":"Power back","words":[]}],
"calls":[{"id":"carb-heat-on","start":10,"end":11.5,"speaker":"student","stance":"done","value":null,"unit":"","confidence":0.8,"heard":"Carve heat on"},
{"id":"trim-set","start":21,"end":22,"speaker":"student","stance":"done","value":null,"unit":"","confidence":0.9,"heard":"Trim set"},
{"id":"power-back","start":24,"end":26,"speaker":"student","stance":"done","value":1700,"unit":"rpm","confidence":0.9,"heard":"Power back seventeen hundred"}],
"judged":null,"maneuvers":[{"procedure":"slow-flight-clean","title":"Slow flight, clean","start":10,"end":60,"abandoned":null,"remarks":[],
"steps":[{"id":"carb-heat-on","title":"Carb heat on","phase":"Entry","verdict":"heard","waived":"","prompted":false,"at":10,"call":0,"value":null,"confidence":0.8,"reason":"Heard at 0:10."},
{"id":"power-back","title":"Power back","phase":"Entry","verdict":"heard","waived":"","prompted":false,"at":24,"call":2,"value":1700,"confidence":0.9,"reason":"Heard at 0:24."},
{"id":"trim","title":"Trim set","phase":"Entry","verdict":"out-of-order","waived":"","prompted":false,"at":21,"call":1,"value":null,"confidence":0.9,"reason":"Trim set at 0:21 came before power back at 0:24."},
{"id":"full-power","title":"Full power","phase":"Recovery","verdict":"not-heard","waived":"","prompted":false,"at":null,"call":null,"value":null,"confidence":0,"reason":"Not heard between 0:40 and 1:00; listen there."}],
"findings":[{"step":"trim","kind":"out-of-order","severity":"important","at":21,"message":"Trim set at 0:21 came before power back at 0:24.","reference":"common practice, no source"},
{"step":"full-power","kind":"not-heard","severity":"safety","at":45,"message":"Full power: not heard between 0:40 and 1:00; listen there.","reference":"common practice, no source"}]}]}`

// keeper is the server of the test. It may be stopped and started again; the page's
// token changes when it is.
type keeper struct {
	t       testing.TB
	mu      sync.Mutex
	address string
	token   int
	keys    map[string]bool
	state   State
	server  *http.Server
	samples int             // of the waveform
	alone   json.RawMessage // what the machine says, once people said something
	facts   []logbook.Fact  // the hands
	refuse  string          // why facts are refused, "" when they are taken
}

func newKeeper(t testing.TB) *keeper {
	if !built() {
		if os.Getenv("SIDETONE_REQUIRE_TOOLS") == "1" {
			t.Fatal("the page is not built: run make page")
		}
		t.Skip("the page is not built: run make page")
	}
	k := &keeper{t: t, samples: 1540, address: "127.0.0.1:0", keys: map[string]bool{}}
	k.state = State{ID: "7", Title: "Slow flight", Aircrafts: []string{"trainer", "complex"}, Duration: 154, Sound: "/lessons/7/sound", Peaks: "/lessons/7/peaks",
		Timeline: json.RawMessage(debrief), Hands: []Hand{}, Notes: []Note{}, WorkOn: []WorkOn{}, Added: []Added{}, History: []Change{},
		Callouts: []Callout{{ID: "full-power", Title: "Full power"}}, Asked: map[string][]Asked{}, Remarks: []string{}}
	for i, w := range strings.Fields("Carve heat on Trim set Power back") {
		at := []float64{10, 10.4, 10.8, 21, 21.5, 24, 24.5}[i]
		k.state.Words = append(k.state.Words, Word{N: i, Text: w, Start: at, End: at + 0.4, Confidence: 0.9, Speaker: "student"})
	}
	k.start()
	t.Cleanup(k.stop)
	return k
}

func (k *keeper) start() {
	l, err := net.Listen("tcp", k.address)
	if err != nil {
		k.t.Fatal(err)
	}
	k.address = l.Addr().String()
	k.token++
	k.server = &http.Server{Handler: k.routes()}
	go k.server.Serve(l)
}

func (k *keeper) stop() { k.server.Close() }

func (k *keeper) url() string { return "http://" + k.address + "/lessons/7" }

func (k *keeper) routes() http.Handler {
	mux := http.NewServeMux()
	token := fmt.Sprint("token ", k.token)
	listed := Listed{ID: "7", Title: "Slow flight", Student: "A. Student", Duration: 154, Maneuvers: []string{"Slow flight, clean"}, Result: "2 heard"}
	for pattern, draw := range map[string]func() (string, any){
		"GET /{$}": func() (string, any) {
			return "library.tmpl.html", LibraryPage{Token: token, Nonce: "n1", Lessons: []Listed{listed}}
		},
		"GET /lessons/7":       func() (string, any) { return "lesson.tmpl.html", LessonPage{Token: token, Nonce: "n1", Lesson: listed} },
		"GET /lessons/7/print": func() (string, any) { return "print.tmpl.html", LessonPage{Token: token, Nonce: "n1", Lesson: listed} },
	} {
		mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self' 'nonce-n1'; connect-src 'self'; media-src 'self'; img-src 'self' data:; base-uri 'none'; form-action 'none'")
			name, data := draw()
			if err := pages.ExecuteTemplate(w, name, data); err != nil {
				k.t.Error(err)
			}
		})
	}
	mux.Handle("GET /assets/", http.StripPrefix("/assets/", http.FileServerFS(assets())))
	mux.HandleFunc("GET /lessons/7/sound", func(w http.ResponseWriter, r *http.Request) { http.ServeFile(w, r, "../../testdata/demo/lesson.wav") })
	mux.HandleFunc("GET /lessons/7/peaks", func(w http.ResponseWriter, r *http.Request) {
		json.NewEncoder(w).Encode(Peaks{PerSecond: 10, Peaks: make([][2]float32, k.samples)})
	})
	mux.HandleFunc("GET /events", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/event-stream")
		for seen := -1; r.Context().Err() == nil; time.Sleep(30 * time.Millisecond) {
			k.mu.Lock()
			now := k.state.Revision
			k.mu.Unlock()
			if now != seen {
				fmt.Fprintf(w, "event: lesson\ndata: {\"id\":\"7\",\"revision\":%d}\n\n", now)
				w.(http.Flusher).Flush()
				seen = now
			}
		}
	})
	mux.HandleFunc("GET /lessons/7/state", func(w http.ResponseWriter, r *http.Request) {
		k.mu.Lock()
		defer k.mu.Unlock()
		json.NewEncoder(w).Encode(k.state)
	})
	mux.HandleFunc("POST /lessons/7/facts", func(w http.ResponseWriter, r *http.Request) {
		k.mu.Lock()
		defer k.mu.Unlock()
		var f Fact
		if r.Header.Get("X-Sidetone-Token") != token {
			w.WriteHeader(http.StatusForbidden)
			return
		}
		if err := json.NewDecoder(r.Body).Decode(&f); err != nil {
			k.t.Error(err)
		}
		if k.refuse != "" {
			refuse(w, http.StatusUnprocessableEntity, k.refuse)
			return
		}
		if !k.keys[f.Key] {
			k.keys[f.Key] = true
			k.keep(f)
		}
		w.WriteHeader(http.StatusCreated)
		json.NewEncoder(w).Encode(k.state)
	})
	return mux
}

func (k *keeper) keep(f Fact) {
	s := &k.state
	s.Revision++
	n, now := FactNumber(s.Revision), time.Now().UTC().Format(time.RFC3339)
	switch f.Kind {
	case "verdict":
		s.Hands = append(s.Hands, Hand{n, f.Maneuver, f.Step, f.Hand, f.Verdict, f.Reason, f.Author, now})
		s.Hands = slices.DeleteFunc(s.Hands, func(h Hand) bool {
			return h.Fact != n && h.Author == f.Author && h.Maneuver == f.Maneuver && h.Step == f.Step
		})
		procedure, _, _ := strings.Cut(f.Maneuver, "/")
		k.facts = append(k.facts, logbook.Fact{Kind: logbook.KindVerdict, Author: f.Author, Maneuver: &logbook.Maneuver{Procedure: procedure, Start: -1},
			Step: f.Step, Hand: logbook.Hand(f.Hand), Verdict: rules.Verdict(f.Verdict), Reason: f.Reason})
		k.settle()
	case "note":
		s.Notes = append(s.Notes, Note{n, f.At, f.Maneuver, f.Step, f.Text, f.Author, now})
	case "cover":
		for to, put := range map[*string]*string{&s.Title: f.Cover.Title, &s.Student: f.Cover.Student, &s.Aircraft: f.Cover.Aircraft} {
			if put != nil {
				*to = *put
			}
		}
	case "word":
		was := s.Words[*f.Word].Text
		s.Words[*f.Word].Was, s.Words[*f.Word].Text, s.Words[*f.Word].By = &was, f.Text, f.Author
	}
	s.History = append(s.History, Change{n, f.Kind, f.Author, now, f.Kind + " " + f.Step + f.Text, f.Kind, false})
}

// settle puts people's verdicts in place of the machine's, as the desk does.
func (k *keeper) settle() {
	j, err := judge()
	if err != nil {
		k.t.Fatal(err)
	}
	if k.alone == nil {
		k.alone = k.state.Timeline
	}
	alone, err := report.ReadJSON(k.alone)
	if err != nil {
		k.t.Fatal(err)
	}
	for _, f := range k.facts {
		for _, m := range alone.Maneuvers {
			if m.Procedure == f.Maneuver.Procedure {
				f.Maneuver.Start = m.Start
			}
		}
	}
	settled := logbook.Settle(j, alone, alone, k.facts, "")
	if settled == alone {
		k.state.Timeline = k.alone
		return
	}
	var b bytes.Buffer
	if err := report.JSON(&b, settled); err != nil {
		k.t.Fatal(err)
	}
	k.state.Timeline = b.Bytes()
}

// otherwise lets the machine say something else.
func (k *keeper) otherwise(old, is string) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.alone == nil {
		k.alone = k.state.Timeline
	}
	if !strings.Contains(string(k.alone), old) {
		k.t.Fatalf("the machine does not say %s", old)
	}
	k.alone = json.RawMessage(strings.Replace(string(k.alone), old, is, 1))
	k.state.Revision++
	k.settle()
}

func (k *keeper) look(f func(s State) bool) bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	return f(k.state)
}

// browser opens the page in a headless browser and fails the test for what the
// page writes to its console, but for what contains one of allowed.
func browser(t testing.TB, url string, allowed ...string) context.Context {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("SIDETONE_REQUIRE_TOOLS") == "1" {
			t.Fatal("chromium is not installed")
		}
		t.Skip("chromium is not installed")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.UserDataDir(t.TempDir()), chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("autoplay-policy", "no-user-gesture-required"))
	ctx, cancel := context.WithTimeout(context.Background(), 3*time.Minute)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewExecAllocator(ctx, opts...)
	t.Cleanup(cancel)
	return tab(t, ctx, url, allowed...)
}

// tab opens another tab of the browser of ctx.
func tab(t testing.TB, ctx context.Context, url string, allowed ...string) context.Context {
	t.Helper()
	ctx, cancel := chromedp.NewContext(ctx)
	t.Cleanup(func() {
		chromedp.Cancel(ctx)
		cancel()
	})
	messages := chromedp.Console(ctx)
	go func() {
	next:
		for m, err := range messages {
			if err != nil {
				return
			}
			for _, a := range allowed {
				if strings.Contains(m.String(), a) {
					continue next
				}
			}
			t.Errorf("the console says %s", m)
		}
	}()
	do(t, ctx, chromedp.EmulateViewport(1280, 900), chromedp.Navigate(url))
	return ctx
}

func do(t testing.TB, ctx context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, steps...); err != nil {
		t.Fatal(err)
	}
}

func ask[T any](t testing.TB, ctx context.Context, js string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](js))
	if err != nil {
		t.Fatalf("%s: %v", js, err)
	}
	return v
}

func until(t testing.TB, what string, f func() bool) {
	t.Helper()
	for end := time.Now().Add(10 * time.Second); time.Now().Before(end); time.Sleep(25 * time.Millisecond) {
		if f() {
			return
		}
	}
	t.Fatalf("it never happened that %s", what)
}

func seen(t testing.TB, ctx context.Context, js string) {
	t.Helper()
	until(t, js, func() bool {
		v, err := chromedp.Run(ctx, chromedp.Evaluate[bool](js)) // a page that is just being left cannot answer
		return err == nil && v
	})
}

const opened = `document.body?.dataset.revision !== undefined`

// named writes who is writing in this tab, as if asked before.
func named(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	do(t, ctx, chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`for (const kept of [sessionStorage, localStorage]) kept.setItem("sidetone.author", %q)`, name)))
}

// writeAs names who is writing as a person does.
func writeAs(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	do(t, ctx, chromedp.Click(chromedp.CSS("#author")))
	seen(t, ctx, `document.getElementById("who").open`)
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.getElementById("who-name").select()`), chromedp.KeyEvent(name), chromedp.KeyEvent(kb.Enter))
	seen(t, ctx, fmt.Sprintf(`document.getElementById("author-name").textContent === %q`, name))
}

// noted writes a note at the moment that is playing.
func noted(t *testing.T, ctx context.Context, text string) {
	t.Helper()
	do(t, ctx, chromedp.KeyEvent("t"))
	seen(t, ctx, `document.getElementById("note").open`)
	do(t, ctx, chromedp.KeyEvent(text), chromedp.Click(chromedp.CSS(`#note button[value="ok"]`)))
	seen(t, ctx, fmt.Sprintf(`document.getElementById("note-list").textContent.includes(%q)`, text))
}

// Robin and Sam each have a tab of one browser open.
func TestEachTabWritesUnderTheNameItShows(t *testing.T) {
	k := newKeeper(t)
	one := browser(t, k.url())
	seen(t, one, opened)
	writeAs(t, one, "Robin")
	two := tab(t, one, k.url())
	seen(t, two, opened)
	if shown := ask[string](t, two, `document.getElementById("author-name").textContent`); shown != "Robin" {
		t.Errorf("a new tab begins with %q, not with the name used last", shown)
	}
	writeAs(t, two, "Sam")
	noted(t, one, "of the first tab")
	noted(t, two, "of the second tab")
	do(t, one, chromedp.Navigate(k.url()))
	seen(t, one, opened)
	noted(t, one, "of the first tab, loaded anew")
	want := map[string]string{"of the first tab": "Robin", "of the second tab": "Sam", "of the first tab, loaded anew": "Robin"}
	k.look(func(s State) bool {
		for _, n := range s.Notes {
			if n.Author != want[n.Text] {
				t.Errorf("the note %s is by %q, not by %q", n.Text, n.Author, want[n.Text])
			}
		}
		return true
	})
}

func TestLessonInABrowser(t *testing.T) {
	k := newKeeper(t)
	ctx := browser(t, k.url())
	seen(t, ctx, opened)

	// A step plays from a second before its call, and order broken shows as a line that crosses.
	do(t, ctx, chromedp.Click(chromedp.CSS(`[data-keep="step-carb-heat-on"]`)))
	seen(t, ctx, `(() => { const at = +document.getElementById("clock").dataset.at; return at > 9 && at < 12 })()`)
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.activeElement.blur()`), chromedp.KeyEvent(" "))
	seen(t, ctx, `document.getElementById("play").getAttribute("aria-label") === "Play"`)
	if n := ask[int](t, ctx, `document.querySelectorAll(".rail .line.broken").length`); n != 1 {
		t.Errorf("%d lines are drawn as broken order, want 1", n)
	}

	// Keyboard only: the first thing to talk about, overruled with a reason; who is
	// writing is asked on the way.
	do(t, ctx, chromedp.KeyEvent("n"))
	seen(t, ctx, `document.querySelector('.step.selected')?.dataset.step === "full-power"`)
	do(t, ctx, chromedp.KeyEvent("o"))
	seen(t, ctx, `document.getElementById("overrule").open`)
	do(t, ctx, chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent("I heard it clearly."), chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent(kb.Enter))
	seen(t, ctx, `document.getElementById("who").open`)
	do(t, ctx, chromedp.KeyEvent("B. Instructor"), chromedp.KeyEvent(kb.Enter))
	until(t, "the server has the verdict", func() bool {
		return k.look(func(s State) bool {
			return len(s.Hands) == 1 && s.Hands[0].Maneuver == "slow-flight-clean/1" && s.Hands[0].Step == "full-power" && s.Hands[0].Verdict == "heard" &&
				s.Hands[0].Reason == "I heard it clearly." && s.Hands[0].Author == "B. Instructor"
		})
	})
	shut(t, ctx)
	// Both are shown: what the machine said, and what the instructor says.
	seen(t, ctx, `(() => { const e = document.querySelector('[data-step="full-power"]'); return !!e?.querySelector(".struck")?.textContent.includes("not heard") && e.textContent.includes("B. Instructor") })()`)

	// A word put right.
	do(t, ctx, chromedp.Click(chromedp.CSS(`#tab-words`)))
	seen(t, ctx, `document.getElementById("tab-words").getAttribute("aria-selected") === "true"`)
	// The list is laid out a frame after it is shown.
	seen(t, ctx, `(() => { const e = document.querySelector('[data-keep="correct-0"]'), b = e.getBoundingClientRect(); return document.elementFromPoint(b.left + 9, b.top + 9) === e })()`)
	// Lines take their height as they come into view: a click by place may miss.
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.querySelector('[data-keep="correct-0"]').click()`))
	seen(t, ctx, `document.querySelector(".fields input") !== null`)
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.querySelector(".fields input").select()`), chromedp.KeyEvent("Carb"), chromedp.KeyEvent(kb.Enter))
	until(t, "the server has the word", func() bool { return k.look(func(s State) bool { return s.Words[0].Text == "Carb" }) })
	seen(t, ctx, `document.querySelector("#panel-words li").textContent.includes("the machine heard “Carve”")`)

	if wide := ask[int](t, ctx, `document.documentElement.scrollWidth - innerWidth`); wide > 0 {
		t.Errorf("the page is %d px wider than the window", wide)
	}
}

// What is written while the program is stopped is kept in the browser, told, and
// saved when it runs again, under the token the new program asks for.
func TestNothingIsLostWhenTheServerStops(t *testing.T) {
	k := newKeeper(t)
	ctx := browser(t, k.url(), "Failed to load resource", "ERR_")
	seen(t, ctx, opened)
	named(t, ctx, "B. Instructor")
	k.stop()
	do(t, ctx, chromedp.KeyEvent("t"))
	seen(t, ctx, `document.getElementById("note").open`)
	do(t, ctx, chromedp.KeyEvent("Good lookout"), chromedp.Click(chromedp.CSS(`#note button[value="ok"]`)))
	seen(t, ctx, `document.getElementById("unsaved").textContent.startsWith("1 change not saved yet")`)
	k.start()
	until(t, "the note is saved", func() bool {
		return k.look(func(s State) bool { return len(s.Notes) == 1 && s.Notes[0].Text == "Good lookout" })
	})
	seen(t, ctx, `document.getElementById("unsaved").hidden`)
	do(t, ctx, chromedp.Navigate(k.url()))
	seen(t, ctx, `document.getElementById("note-list")?.textContent.includes("Good lookout")`)
}

// A note half written when the tab dies is there again.
func TestWhatWasBegunIsNotLost(t *testing.T) {
	k := newKeeper(t)
	ctx := browser(t, k.url())
	seen(t, ctx, opened)
	named(t, ctx, "B. Instructor")
	do(t, ctx, chromedp.KeyEvent("t"))
	seen(t, ctx, `document.getElementById("note").open`)
	do(t, ctx, chromedp.KeyEvent("Look out before"), chromedp.Navigate(k.url()))
	seen(t, ctx, opened)
	do(t, ctx, chromedp.KeyEvent("t"))
	seen(t, ctx, `document.getElementById("note-text").value === "Look out before" && !document.querySelector("#note .begun").hidden`)
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.getElementById("note-text").setSelectionRange(99, 99)`), chromedp.KeyEvent(" you turn"), chromedp.Click(chromedp.CSS(`#note button[value="ok"]`)))
	until(t, "the whole note is saved", func() bool {
		return k.look(func(s State) bool { return len(s.Notes) == 1 && s.Notes[0].Text == "Look out before you turn" })
	})
	seen(t, ctx, `document.getElementById("note-list").textContent.includes("before you turn") && !document.getElementById("note").open`)
	do(t, ctx, chromedp.KeyEvent("t"))
	seen(t, ctx, `document.getElementById("note").open && document.getElementById("note-text").value === "" && document.querySelector("#note .begun").hidden`)
}

// Marks too near to one another to be told apart are one, with their number; a click
// looks closer, until they are apart again.
func TestCrowdedMarksAreOne(t *testing.T) {
	k := newKeeper(t)
	k.state.Timeline = json.RawMessage(strings.Replace(debrief, `"severity":"safety","at":45`, `"severity":"safety","at":22.5`, 1))
	ctx := browser(t, k.url())
	seen(t, ctx, opened)
	place := ask[[]float64](t, ctx, `(() => { const w = document.getElementById("wave").getBoundingClientRect(), l = document.querySelector(".lane-name.of-finding").getBoundingClientRect();
		return [w.left + 21.75 / 154 * w.width, l.top + l.height / 2, w.left + w.width / 2] })()`)
	do(t, ctx, chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, place[0], place[1]))
	seen(t, ctx, `document.getElementById("tip").textContent.startsWith("2 marks from 0:21 to 0:22")`)
	do(t, ctx, chromedp.MouseClickXY(place[0], place[1]))
	seen(t, ctx, `document.body.classList.contains("zoomed")`)
	// The first of them is where the stretch begins, and opens by itself.
	do(t, ctx, chromedp.KeyEvent("-"), chromedp.KeyEvent("+"))
	seen(t, ctx, `document.body.classList.contains("zoomed")`)
	if playing := ask[string](t, ctx, `document.querySelector(".step.selected")?.dataset.step ?? ""`); playing != "" {
		t.Errorf("a click on both opened %q", playing)
	}
}

func TestTheCoverIsPutRightOnThePage(t *testing.T) {
	k := newKeeper(t)
	ctx := browser(t, k.url())
	seen(t, ctx, opened)
	named(t, ctx, "B. Instructor")
	do(t, ctx, chromedp.Click(chromedp.CSS(`#put-right`)))
	seen(t, ctx, `document.getElementById("cover").open && document.getElementById("cover-name").value === "Slow flight"`)
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.getElementById("cover-student").value = "C. Other"`),
		chromedp.Evaluate[chromedp.Void](`document.getElementById("cover-aircraft").value = "complex"`), chromedp.Click(chromedp.CSS(`#cover button[value="ok"]`)))
	seen(t, ctx, `document.getElementById("cover-line").textContent === "student C. Other · complex · 2:34 long"`)
	if !k.look(func(s State) bool {
		return s.Student == "C. Other" && s.Aircraft == "complex" && s.Title == "Slow flight" && s.Revision == 1
	}) {
		t.Error("the server was told otherwise")
	}
}

func TestTwoTabsLoseNothing(t *testing.T) {
	k := newKeeper(t)
	one := browser(t, k.url())
	seen(t, one, opened)
	named(t, one, "B. Instructor")
	two := tab(t, one, k.url())
	seen(t, two, opened)
	for i, ctx := range []context.Context{one, two, one, two} {
		do(t, ctx, chromedp.KeyEvent("t"))
		seen(t, ctx, `document.getElementById("note").open`)
		do(t, ctx, chromedp.KeyEvent(fmt.Sprint("note ", i)), chromedp.Click(chromedp.CSS(`#note button[value="ok"]`)))
	}
	for _, ctx := range []context.Context{one, two} {
		seen(t, ctx, `[0, 1, 2, 3].every((i) => document.getElementById("note-list").textContent.includes("note " + i))`)
	}
	if !k.look(func(s State) bool { return s.Revision == 4 }) {
		t.Error("other than 4 facts were kept")
	}
}

// A lesson of two hours with 3,000 calls: from asking for the page to the card and the
// strip on the screen, by the browser's own clock.
func BenchmarkLongLessonOpens(b *testing.B) {
	k := newKeeper(b)
	type part = map[string]any
	var calls, said, maneuvers []any
	k.state.Words, k.state.Duration = nil, 7200
	for i := range 3000 {
		at := float64(i) * 2.4
		calls = append(calls, part{"id": "full-power", "start": at, "end": at + 1, "speaker": "student", "stance": "done", "value": nil, "unit": "", "confidence": 0.9, "heard": "full power and away we go now"})
		said = append(said, part{"start": at, "end": at + 2, "channel": 0, "speaker": "student", "text": "", "words": []any{}})
		for j, w := range strings.Fields("full power and away we go now") {
			t := at + float64(j)*0.25
			k.state.Words = append(k.state.Words, Word{N: len(k.state.Words), Text: w, Start: t, End: t + 0.2, Confidence: 0.9, Speaker: "student"})
		}
	}
	for i := range 20 {
		var steps []any
		for j := range 20 {
			steps = append(steps, part{"id": fmt.Sprint("step-", j), "title": "Full power", "phase": "Recovery", "verdict": "heard", "waived": "", "prompted": false, "at": float64(i*360 + j*5), "call": i*150 + j*2, "value": nil, "confidence": 0.9, "reason": ""})
		}
		maneuvers = append(maneuvers, part{"procedure": fmt.Sprint("drill-", i), "title": "Go-around", "start": i * 360, "end": i*360 + 120, "abandoned": nil, "remarks": []any{}, "steps": steps, "findings": []any{}})
	}
	var err error
	if k.state.Timeline, err = json.Marshal(part{"version": 1, "recording": part{"file": "long.wav", "duration": 7200, "channels": 1}, "transcript": said, "calls": calls, "maneuvers": maneuvers}); err != nil {
		b.Fatal(err)
	}
	k.samples = 7200 * 20
	ctx := browser(b, k.url())
	var shown, painted float64
	for b.Loop() {
		do(b, ctx, chromedp.Navigate(k.url()))
		seen(b, ctx, opened)
		shown += ask[float64](b, ctx, `performance.getEntriesByName("sidetone-shown")[0].startTime`)
		painted += ask[float64](b, ctx, `performance.getEntriesByName("first-contentful-paint")[0].startTime`)
	}
	frames := scrolled(b, ctx)
	b.ReportMetric(frames[len(frames)/2], "ms-a-frame")
	b.ReportMetric(frames[len(frames)*95/100], "ms-a-frame-95%")
	b.ReportMetric(shown/float64(b.N), "ms-to-card")
	b.ReportMetric(painted/float64(b.N), "ms-to-paint")
}

// scrolled goes along the strip, zoomed in to ten minutes of two hours, as a wheel
// does, and gives how long each frame took in ms, shortest first.
func scrolled(b *testing.B, ctx context.Context) []float64 {
	do(b, ctx, chromedp.Evaluate[chromedp.Void](`(async () => {
		for (let i = 0; i < 6; i++) document.querySelector('[data-zoom="in"]').click();
		const box = document.getElementById("tracks").getBoundingClientRect();
		const lanes = document.getElementById("lanes"), first = lanes.toDataURL();
		const frames = [];
		let before = performance.now();
		for (let i = 0; i < 180; i++) {
			lanes.dispatchEvent(new WheelEvent("wheel", { deltaX: 60, bubbles: true, cancelable: true, clientX: box.left + 100, clientY: box.top + 50 }));
			const now = await new Promise((done) => requestAnimationFrame(done));
			frames.push(now - before);
			before = now;
		}
		window.framesSeen = lanes.toDataURL() === first ? [] : frames.slice(5);
	})()`))
	seen(b, ctx, `Array.isArray(window.framesSeen)`)
	frames := ask[[]float64](b, ctx, `window.framesSeen`)
	if len(frames) == 0 {
		b.Fatal("the strip did not move")
	}
	slices.Sort(frames)
	return frames
}

// axe-core holds the pages against WCAG 2.2 A and AA.
func TestAxeFindsNothing(t *testing.T) {
	axe, err := os.ReadFile("web/node_modules/axe-core/axe.min.js")
	if err != nil {
		if os.Getenv("SIDETONE_REQUIRE_TOOLS") == "1" {
			t.Fatal(err)
		}
		t.Skip("axe-core is not installed: run make page")
	}
	k := newKeeper(t)
	ctx := browser(t, k.url(), "Applying inline style") // axe's own
	check := func(what string) {
		t.Helper()
		do(t, ctx, chromedp.Evaluate[chromedp.Void](string(axe)+";0"))
		do(t, ctx, chromedp.Evaluate[chromedp.Void](`window.axeSays = null; axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}).then((r) => { window.axeSays = r.violations.map((v) => v.id + ": " + v.help + " at " + v.nodes.map((n) => n.target + " " + n.failureSummary).join("; ")).join("\n") }); 0`))
		seen(t, ctx, `window.axeSays !== null`)
		if says := ask[string](t, ctx, `window.axeSays`); says != "" {
			t.Errorf("%s: %s", what, says)
		}
	}
	seen(t, ctx, opened)
	do(t, ctx, chromedp.Click(chromedp.CSS(`[data-keep="step-trim"]`)))
	check("a lesson with a step open")
	for _, panel := range []string{"words", "notes", "history"} {
		do(t, ctx, chromedp.Click(chromedp.CSS(`#tab-`+panel)))
		check("the lesson's " + panel)
	}
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.activeElement.blur()`), chromedp.KeyEvent("?"))
	seen(t, ctx, `document.getElementById("keys").open`)
	check("the sheet of keys")
	do(t, ctx, chromedp.KeyEvent(kb.Escape))
	shut(t, ctx)
	do(t, ctx, chromedp.KeyEvent("c"))
	seen(t, ctx, `!document.getElementById("adding-hint").hidden`)
	do(t, ctx, chromedp.KeyEvent(kb.Enter))
	seen(t, ctx, `document.getElementById("call").open`)
	do(t, ctx, chromedp.KeyEvent("gear"), chromedp.KeyEvent(kb.Enter))
	seen(t, ctx, `document.querySelector("#call .wrong") !== null`)
	check("a form that was refused")
	do(t, ctx, chromedp.KeyEvent(kb.Escape), chromedp.EmulateViewport(820, 1180), chromedp.Click(chromedp.CSS("#tab-talk")))
	seen(t, ctx, `document.body.classList.contains("side-open")`)
	check("the lists over the card on a tablet")
	k.mu.Lock()
	sound := k.state.Sound
	k.state.Sound, k.state.Missing = "", &Missing{Name: "lesson.wav", LastSeen: "/recordings/lesson.wav"}
	k.mu.Unlock()
	do(t, ctx, chromedp.Navigate(k.url()))
	seen(t, ctx, `document.getElementById("no-sound")?.hidden === false`)
	check("a lesson whose recording is missing")
	js(t, ctx, `document.getElementById("remove").showModal()`)
	check("the question before removing")
	k.mu.Lock()
	k.state.Sound, k.state.Missing = sound, nil
	k.mu.Unlock()
	do(t, ctx, chromedp.Navigate("http://"+k.address+"/"))
	check("the library")
	do(t, ctx, chromedp.Navigate(k.url()+"/print"))
	seen(t, ctx, `!!document.querySelector(".sheet")`)
	check("the page to print")
}
