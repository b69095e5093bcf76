package report

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"sidetone/timeline"
)

// chromium starts a headless browser with a profile of its own and opens url. It
// returns the tab and what the page wrote to its console so far.
func chromium(t *testing.T, url string) (tab context.Context, console func() []string) {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		if os.Getenv("SIDETONE_REQUIRE_TOOLS") == "1" {
			t.Fatal("chromium is not installed")
		}
		t.Skip("chromium is not installed")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true))
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewExecAllocator(ctx, opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(func() {
		chromedp.Cancel(ctx) // waits, so that the profile can be removed
		cancel()
	})
	var mu sync.Mutex
	var lines []string
	messages := chromedp.Console(ctx)
	go func() {
		for m, err := range messages {
			if err != nil {
				return
			}
			mu.Lock()
			lines = append(lines, m.String())
			mu.Unlock()
		}
	}()
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(1280, 900), chromedp.Navigate(url)); err != nil {
		t.Fatal(err)
	}
	return ctx, func() []string {
		mu.Lock()
		defer mu.Unlock()
		return append([]string(nil), lines...)
	}
}

// pageFile writes the page of the lesson and gives its address.
func pageFile(t *testing.T, withSound bool) string {
	t.Helper()
	tl := lesson()
	wav, peaks := sound(tl, 1000)
	var m Media
	if withSound {
		m = Media{Audio: bytes.NewReader(wav), MIME: "audio/wav", Peaks: peaks}
	}
	path := filepath.Join(t.TempDir(), "lesson.debrief.html")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := HTML(f, tl, m, PageOptions{}); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	return "file://" + path
}

func ask[T any](t *testing.T, tab context.Context, js string) T {
	t.Helper()
	v, err := chromedp.Run(tab, chromedp.Evaluate[T](js))
	if err != nil {
		t.Fatalf("%s: %v", js, err)
	}
	return v
}

func do(t *testing.T, tab context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(tab, steps...); err != nil {
		t.Fatal(err)
	}
}

// until waits for js to become true.
func until(t *testing.T, tab context.Context, js string) {
	t.Helper()
	for end := time.Now().Add(10 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if ask[bool](t, tab, js) {
			return
		}
	}
	t.Fatalf("it never happened that %s", js)
}

func TestPageInABrowser(t *testing.T) {
	tab, console := chromium(t, pageFile(t, true))
	const audio = `document.querySelector("audio")`
	until(t, tab, audio+`.readyState >= 1`)
	if d := ask[float64](t, tab, audio+`.duration`); d != 180 {
		t.Errorf("the sound lasts %g s, want 180", d)
	}
	do(t, tab, chromedp.Evaluate[chromedp.Void](`window.jumps = []; `+audio+`.addEventListener("seeking", (e) => jumps.push(e.target.currentTime))`))
	// near checks where the sound last jumped to: it may have played on since.
	near := func(what string, want float64) {
		t.Helper()
		until(t, tab, `!`+audio+`.seeking && jumps.length > 0`)
		if at := ask[float64](t, tab, `jumps.at(-1)`); at < want-0.05 || at > want+0.1 {
			t.Errorf("%s: the sound jumped to %.2f s, want %.2f", what, at, want)
		}
		do(t, tab, chromedp.Evaluate[chromedp.Void](`jumps = []`))
	}

	// The step "Full power" was called at 94.2 s.
	do(t, tab, chromedp.Click(chromedp.CSS(`.step button[data-at="94.20"]`)))
	until(t, tab, `!`+audio+`.paused && `+audio+`.currentTime > 93.2`)
	near("after a click on a step", 93.2)
	until(t, tab, audio+`.currentTime > 93.4`) // it really plays
	do(t, tab, chromedp.Evaluate[chromedp.Void](`document.activeElement.blur()`), chromedp.KeyEvent(" "))
	until(t, tab, audio+`.paused`)

	before := ask[float64](t, tab, audio+`.currentTime`)
	do(t, tab, chromedp.KeyEvent(kb.ArrowLeft))
	near("five seconds back", before-5)
	do(t, tab, chromedp.KeyEvent(kb.ArrowRight), chromedp.KeyEvent(kb.ArrowRight))
	near("ten seconds on", before+5)

	// n goes down the findings as they are listed, the most serious first.
	for _, want := range []float64{95.6, 108.9} {
		do(t, tab, chromedp.KeyEvent("n"))
		near("the next finding", want-1)
		if at := ask[string](t, tab, `document.activeElement.dataset.at || ""`); at != short(want) {
			t.Errorf("the finding in focus is at %q, want %.2f", at, want)
		}
	}
	do(t, tab, chromedp.KeyEvent("p"))
	near("the finding before", 94.6)

	// A click in the middle of the overview goes to the middle of the lesson.
	do(t, tab, chromedp.Evaluate[chromedp.Void](`document.querySelector(".whole").scrollIntoView()`))
	do(t, tab, chromedp.Click(chromedp.CSS(`.whole .sound .track`)))
	near("a click on the waveform", 90)
	until(t, tab, `!`+audio+`.paused`)

	do(t, tab, chromedp.KeyEvent("?"))
	until(t, tab, `document.querySelector("dialog").open`)
	do(t, tab, chromedp.KeyEvent("?"))
	until(t, tab, `!document.querySelector("dialog").open`)

	// Keys typed into the notes are words.
	do(t, tab, chromedp.SendKeys(chromedp.CSS("textarea"), "next time: n p ?"))
	if s := ask[string](t, tab, `document.querySelector(".typed").textContent`); s != "next time: n p ?" {
		t.Errorf("the notes in print say %q", s)
	}
	for _, c := range []string{"documentElement", "body"} {
		if wide := ask[int](t, tab, `document.`+c+`.scrollWidth - innerWidth`); wide > 0 {
			t.Errorf("the page is %d px wider than the window", wide)
		}
	}
	do(t, tab, chromedp.Evaluate[chromedp.Void](`document.querySelector("textarea").value = ""`))
	if lines := console(); len(lines) > 0 {
		t.Errorf("the console says %q", lines)
	}
}

func TestPageWithoutSoundInABrowser(t *testing.T) {
	tab, console := chromium(t, pageFile(t, false))
	if n := ask[int](t, tab, `document.querySelectorAll("audio, button[data-at]").length`); n != 0 {
		t.Errorf("%d things to listen to without sound", n)
	}
	do(t, tab, chromedp.KeyEvent("n"), chromedp.KeyEvent(" "), chromedp.KeyEvent("n"))
	if at := ask[string](t, tab, `document.activeElement.dataset.at || ""`); at != "108.90" {
		t.Errorf("the second finding in focus is at %q", at)
	}
	if lines := console(); len(lines) > 0 {
		t.Errorf("the console says %q", lines)
	}
}

// The sheet an instructor hands over: the lesson on one page, its maneuver of
// twenty steps, seven findings and written notes on the next, on either paper.
func TestPagePrintsOneSheetPerManeuver(t *testing.T) {
	tab, _ := chromium(t, pageFile(t, true))
	do(t, tab, chromedp.SendKeys(chromedp.CSS("textarea"), "Good lookout.\nSay carb heat with full power."))
	for name, paper := range map[string]chromedp.PaperSize{"A4": chromedp.PaperA4, "Letter": chromedp.PaperLetter} {
		pdf, err := chromedp.Run(tab, chromedp.PrintToPDF(chromedp.PDFPaper(paper), chromedp.PDFPreferCSSPageSize()))
		if err != nil {
			t.Fatal(err)
		}
		if n := len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(pdf, -1)); n != 2 {
			t.Errorf("%s: %d pages, want 2", name, n)
		}
	}
	do(t, tab, chromedp.Evaluate[chromedp.Void](`document.querySelector("textarea").value = ""`))
}

// A long lesson brings only the stretches around its maneuvers along: times stay
// those of the lesson.
func TestPageOfACutLessonInABrowser(t *testing.T) {
	tl := lesson()
	whole, peaks := sound(tl, 1000)
	const header, rate = 44, 8000
	spans := []timeline.Span{{From: 30, To: 50}, {From: 90, To: 120}}
	cut := append([]byte(nil), whole[:header]...)
	for _, s := range spans {
		cut = append(cut, whole[header+int(s.From)*rate:header+int(s.To)*rate]...)
	}
	for at, size := range map[int]int{4: len(cut) - 8, 40: len(cut) - header} {
		for i := range 4 {
			cut[at+i] = byte(size >> (8 * i))
		}
	}
	path := filepath.Join(t.TempDir(), "lesson.debrief.html")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := HTML(f, tl, Media{Audio: bytes.NewReader(cut), MIME: "audio/wav", Peaks: peaks, Spans: spans}, PageOptions{}); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	tab, console := chromium(t, "file://"+path)
	const audio = `document.querySelector("audio")`
	until(t, tab, audio+`.readyState >= 1`)
	if d := ask[float64](t, tab, audio+`.duration`); d != 50 {
		t.Errorf("the sound lasts %g s, want 50", d)
	}
	if s := ask[string](t, tab, `document.querySelector("#clock").textContent`); s != "0:30 / 3:00" {
		t.Errorf("the clock shows %q", s)
	}
	// "Full power" at 94.2 s is 4.2 s into the second stretch, which follows 20 s of the first.
	do(t, tab, chromedp.Evaluate[chromedp.Void](`window.jumps = []; `+audio+`.addEventListener("seeking", (e) => jumps.push(e.target.currentTime))`))
	do(t, tab, chromedp.Click(chromedp.CSS(`.step button[data-at="94.20"]`)))
	until(t, tab, `jumps.length > 0 && !`+audio+`.paused`)
	if at := ask[float64](t, tab, `jumps.at(-1)`); at < 23.15 || at > 23.3 {
		t.Errorf("a click on a step at 94.2 s jumps to %.2f s of the sound, want 23.2", at)
	}
	until(t, tab, audio+`.currentTime > 23.4`)
	do(t, tab, chromedp.Evaluate[chromedp.Void](audio+`.pause()`))
	if s := ask[string](t, tab, `document.querySelector("#clock").textContent`); s != "1:33 / 3:00" && s != "1:34 / 3:00" {
		t.Errorf("the clock shows %q", s)
	}
	// Playing on from the end of the first stretch the second follows.
	do(t, tab, chromedp.Evaluate[chromedp.Void](audio+`.currentTime = 19.7; `+audio+`.play()`))
	until(t, tab, audio+`.currentTime > 20.1`)
	do(t, tab, chromedp.Evaluate[chromedp.Void](audio+`.pause()`))
	until(t, tab, `document.querySelector("#clock").textContent.startsWith("1:3")`)
	// What is not in the sound is not offered: the step at 63.3 s has its time, and no button.
	if n := ask[int](t, tab, `document.querySelectorAll('button[data-at="63.30"]').length`); n != 0 {
		t.Errorf("%d buttons for a moment that is not in the sound", n)
	}
	if lines := console(); len(lines) > 0 {
		t.Errorf("the console says %q", lines)
	}
}

// A note is read in one line: when, who, what, and the day it was written behind it.
func TestNotesStandInTheirLine(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lesson.debrief.html")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	day := time.Date(2031, 5, 6, 7, 8, 0, 0, time.UTC)
	if err := HTML(f, lesson(), Media{}, PageOptions{Said: []Said{{Maneuver: -1, At: ref(99.), Author: "Robin", Written: day, Text: "Traffic: glider right of us"}},
		WorkOn: []Said{{Maneuver: -1, Author: "Robin", Text: "Power first, then trim"}}}); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	tab, _ := chromium(t, "file://"+path)
	for what, box := range map[string]string{"the note": ".said-by", "what to work on": ".people li"} {
		js := `((e) => { const b = e.getBoundingClientRect(), w = e.querySelector(".written").getBoundingClientRect(), l = parseFloat(getComputedStyle(e).lineHeight);
			return [b.height / l, w.left - b.left] })(document.querySelector(` + "`" + box + "`" + `))`
		at := ask[[]float64](t, tab, js)
		if at[0] > 1.6 || at[1] > 520 {
			t.Errorf("%s takes %.1f lines, and what stands behind it begins at %.0f px", what, at[0], at[1])
		}
	}
}
