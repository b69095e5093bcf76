package desk

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"sidetone/timeline/logbook"
)

// These tests sit at the desk as it is, server and page together, all in one browser;
// only the ears are made up.

const demoWAV = "../../testdata/demo/lesson.wav"

// patient ears hear when they are let.
type patient struct {
	fake
	let chan struct{}
}

func (p patient) Listen(ctx context.Context, l logbook.Lesson, paths []string, tell func(Progress)) (*Heard, error) {
	tell(Progress{Stage: "listening", Done: 30, Of: 100})
	select {
	case <-p.let:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	return p.fake.Listen(ctx, l, paths, tell)
}

// sit adds a lesson with sound to a desk of its own and opens its page as B. Instructor.
func sit(t *testing.T, browser context.Context) (c *client, id string, page context.Context) {
	t.Helper()
	c = start(t, t.TempDir(), nil)
	wav, err := os.ReadFile(demoWAV)
	if err != nil {
		t.Fatal(err)
	}
	id = c.lesson(string(wav))
	page = tab(t, browser, c.srv.URL+"/lessons/"+id)
	seen(t, page, opened)
	named(t, page, "B. Instructor")
	return c, id, page
}

// press types keys that are no text, one after the other, as a person would: what a
// key opens is there before the next.
func press(t *testing.T, ctx context.Context, keys ...string) {
	t.Helper()
	for _, k := range keys {
		do(t, ctx, chromedp.KeyEvent(k))
	}
}

// shut waits until no dialog is open: one closes when the server has what was written.
func shut(t *testing.T, ctx context.Context) {
	t.Helper()
	seen(t, ctx, `document.querySelector("dialog[open]") === null`)
}

// bar is how many pixels a second of a lesson of 100 s is wide, and where it begins.
func bar(t *testing.T, ctx context.Context) (left, top, perSecond float64) {
	t.Helper()
	at := ask[[]float64](t, ctx, `(() => { const b = document.getElementById("wave").getBoundingClientRect(); return [b.left, b.top, b.width] })()`)
	return at[0], at[1] + 20, at[2] / 100
}

// drop lets files fall on the page.
func drop(t *testing.T, ctx context.Context, files ...string) {
	t.Helper()
	for _, kind := range []input.DispatchDragEventType{"dragEnter", "dragOver", "drop"} {
		do(t, ctx, chromedp.Func(func(ctx context.Context, tab *chromedp.Target) error {
			_, err := cdp.Call(ctx, tab, input.DispatchDragEvent, input.DispatchDragEventParams{Type: kind, X: 400, Y: 400,
				Data: &input.DragData{Items: []*input.DragDataItem{}, Files: files, DragOperationsMask: 1}})
			return err
		}))
		if kind == "dragOver" && ask[bool](t, ctx, `document.getElementById("drop") !== null`) {
			seen(t, ctx, `document.getElementById("drop").classList.contains("over")`)
		}
	}
}

func TestSittingAtTheDesk(t *testing.T) {
	if !built() {
		if os.Getenv("SIDETONE_REQUIRE_TOOLS") == "1" {
			t.Fatal("the page is not built: run make page")
		}
		t.Skip("the page is not built: run make page")
	}
	one := browser(t, "about:blank")
	for name, test := range map[string]func(*testing.T, context.Context){
		"a recording is dropped on the library and its page hears of the end of hearing": dropped,
		"what cannot be taken in is said, and the next is":                               refusedDrop,
		"a stretch is repeated":                                             repeated,
		"a call is added by its moment":                                     called,
		"something is set to work on next":                                  workedOn,
		"of two people each takes back their own":                           ownUndone,
		"a lesson is removed from its page, and from the list":              removedOnThePage,
		"what could not be heard says why, and no more":                     unheard,
		"a recording that is missing is told at the top, and dropped there": missedOnThePage,
		"the sheets have all notes, and safety comes first":                 printed,
		"an added call says who added it":                                   addedCallShown,
		"a person's verdict is counted on the page":                         countedShown,
		"a lesson by the keyboard alone":                                    byKeyboard,
	} {
		t.Run(name, func(t *testing.T) { test(t, one) })
	}
}

func dropped(t *testing.T, one context.Context) {
	let := make(chan struct{})
	c := start(t, t.TempDir(), func(o *Options) { o.Ears = patient{let: let} })
	ctx := tab(t, one, c.srv.URL)
	wav, err := filepath.Abs(demoWAV)
	if err != nil {
		t.Fatal(err)
	}
	drop(t, ctx, wav)
	seen(t, ctx, `document.querySelector("#lessons .result")?.textContent.includes("Being listened to") ?? false`)
	seen(t, ctx, `!document.getElementById("drop").classList.contains("over") && document.getElementById("taking-in").textContent === ""`)
	do(t, ctx, chromedp.Click(chromedp.CSS(`#lessons a`)))
	seen(t, ctx, opened)
	seen(t, ctx, `document.getElementById("card").textContent.includes("Being listened to") && !document.getElementById("progress").hidden`)
	close(let)
	seen(t, ctx, `document.querySelectorAll("#card .step").length > 5 && document.getElementById("progress").hidden`)
	seen(t, ctx, `document.querySelectorAll("#panel-words li").length > 5`)
	do(t, ctx, chromedp.Click(chromedp.CSS(`#card .step.is-heard .item`)))
	seen(t, ctx, `+document.getElementById("clock").dataset.at > 5`)
}

func refusedDrop(t *testing.T, one context.Context) {
	c := start(t, t.TempDir(), nil)
	ctx := tab(t, one, c.srv.URL, "Failed to load resource")
	dir := t.TempDir()
	var files []string
	for name, content := range map[string]string{"a empty.wav": "", "b lesson.wav": "RIFF and no more"} {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(content), 0o666); err != nil {
			t.Fatal(err)
		}
		files = append(files, path)
	}
	drop(t, ctx, files...)
	seen(t, ctx, `document.getElementById("taking-in").textContent.includes("a empty.wav was not taken in: The file is empty")`)
	seen(t, ctx, `document.querySelector("#lessons a")?.textContent === "b lesson"`)
	holds(t, ctx, `!document.getElementById("taking-in").textContent.includes("..")`)
}

// turns counts how often the sound jumps back, and keeps how far it came.
const turns = `window.turns = 0; window.furthest = 0; (() => { let last = 0; setInterval(() => {
	const at = +document.getElementById("clock").dataset.at; if (at < last - 0.3) window.turns++; last = at; window.furthest = Math.max(window.furthest, at) }, 10) })(); 0`

func repeated(t *testing.T, one context.Context) {
	_, _, ctx := sit(t, one)
	left, top, wide := bar(t, ctx)
	// Dragged over the strip, from second 30 to 31.
	do(t, ctx, chromedp.MouseEvent("mousePressed", left+30*wide, top, chromedp.ButtonLeft),
		chromedp.MouseEvent("mouseMoved", left+30.6*wide, top, chromedp.ButtonLeft),
		chromedp.MouseEvent("mouseMoved", left+31*wide, top, chromedp.ButtonLeft),
		chromedp.MouseEvent("mouseReleased", left+31*wide, top, chromedp.ButtonLeft))
	seen(t, ctx, `document.getElementById("loop").getAttribute("aria-pressed") === "true"`)
	do(t, ctx, chromedp.Evaluate[chromedp.Void](turns))
	seen(t, ctx, `window.turns >= 2`)
	if far := ask[float64](t, ctx, `window.furthest`); far < 30.5 || far > 31.6 {
		t.Errorf("the stretch from 30 to 31 s played to %.2f s", far)
	}
	press(t, ctx, "l")
	seen(t, ctx, `document.getElementById("loop").getAttribute("aria-pressed") === "false"`)
	seen(t, ctx, `+document.getElementById("clock").dataset.at > 32`)

	// Of two steps opened one after the other, each repeats its own call.
	times := []float64{}
	for _, step := range []string{"power-back", "trim"} {
		found := ask[string](t, ctx, fmt.Sprintf(`[...document.querySelectorAll("#card .step.is-heard")].find((e) => e.dataset.step.includes(%q))?.dataset.step ?? ""`, step))
		if found == "" {
			t.Fatalf("no step %s was heard", step)
		}
		do(t, ctx, chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.querySelector('[data-keep="step-%s"]').click()`, found)))
		press(t, ctx, "l")
		seen(t, ctx, `document.getElementById("loop").getAttribute("aria-pressed") === "true"`)
		times = append(times, ask[float64](t, ctx, `+document.getElementById("clock").dataset.at`))
		press(t, ctx, "l")
		seen(t, ctx, `document.getElementById("loop").getAttribute("aria-pressed") === "false"`)
	}
	if math.Abs(times[0]-times[1]) < 3 {
		t.Errorf("two steps 5 s apart repeat from %.1f and %.1f s", times[0], times[1])
	}
}

func called(t *testing.T, one context.Context) {
	c, id, ctx := sit(t, one)
	const step = `document.querySelector('[data-step="carb-heat-on"]')`
	seen(t, ctx, step+`.classList.contains("is-not-heard")`)
	do(t, ctx, chromedp.Click(chromedp.CSS("#add-call")))
	seen(t, ctx, `!document.getElementById("adding-hint").hidden`)
	left, top, wide := bar(t, ctx)
	do(t, ctx, chromedp.MouseClickXY(left+26*wide, top))
	seen(t, ctx, `document.getElementById("call").open && document.getElementById("call-at").value.startsWith("0:2")`)
	do(t, ctx, chromedp.Click(chromedp.CSS("#call-callout")), chromedp.KeyEvent("Carb heat on"), chromedp.Click(chromedp.CSS(`#call button[value="ok"]`)))
	seen(t, ctx, step+`.classList.contains("is-heard")`)
	shut(t, ctx)
	s := c.state(id)
	if len(s.Added) != 1 || s.Added[0].Callout != "carb-heat-on" || math.Abs(s.Added[0].At-26) > 0.3 || s.Added[0].Author != "B. Instructor" {
		t.Errorf("added is %+v, want carb-heat-on at 26 s", s.Added)
	}

	// Taken back, and the judgement follows; the history keeps both.
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.activeElement.blur()`))
	press(t, ctx, "u")
	seen(t, ctx, step+`.classList.contains("is-not-heard")`)
	do(t, ctx, chromedp.Click(chromedp.CSS("#tab-history")))
	seen(t, ctx, `document.querySelectorAll(".history li").length === 2 && document.querySelector(".history li.undone").textContent.includes("added the call")`)
	if s := c.state(id); len(s.Added) != 0 || s.Revision != 2 {
		t.Errorf("after the undo %+v are added, %d facts", s.Added, s.Revision)
	}
}

func ownUndone(t *testing.T, one context.Context) {
	c, id, ctx := sit(t, one)
	writeAs(t, ctx, "Robin")
	noted(t, ctx, "Robin's own")
	at := 30.0
	c.post(id, Fact{Kind: "note", Author: "Sam", At: &at, Text: "Sam's"}, 201)
	seen(t, ctx, `document.getElementById("note-list").textContent.includes("Sam's")`)
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.activeElement.blur()`))
	press(t, ctx, "u")
	seen(t, ctx, `/^Taken back: Note at .*Robin's own/.test(document.getElementById("notice").textContent)`)
	press(t, ctx, "u")
	seen(t, ctx, `document.getElementById("notice").textContent.startsWith("Robin has nothing left to take back")`)
	if s := c.state(id); len(s.Notes) != 1 || s.Notes[0].Author != "Sam" || s.Revision != 3 {
		t.Errorf("left are %+v after %d changes", s.Notes, s.Revision)
	}
	// By its entry in the history Sam's may be taken back, and brought back.
	do(t, ctx, chromedp.Click(chromedp.CSS("#tab-history")), chromedp.Click(chromedp.CSS(`[data-keep="undo-2"]`)))
	seen(t, ctx, `document.getElementById("notice").textContent === "Taken back: Note at 0:30: “Sam's”"`)
	do(t, ctx, chromedp.Click(chromedp.CSS(`[data-keep="undo-4"]`)))
	seen(t, ctx, `document.getElementById("notice").textContent === "Brought back: Note at 0:30: “Sam's”"`)
}

func workedOn(t *testing.T, one context.Context) {
	c, id, ctx := sit(t, one)
	do(t, ctx, chromedp.Click(chromedp.CSS(`[data-keep="step-carb-heat-on"]`)), chromedp.Click(chromedp.CSS(`[data-keep="work-carb-heat-on"]`)))
	seen(t, ctx, `document.getElementById("work").open && document.getElementById("work-text").value.includes("not heard")`)
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.getElementById("work-text").select()`), chromedp.KeyEvent("Carb heat before power"), chromedp.Click(chromedp.CSS(`#work button[value="ok"]`)))
	seen(t, ctx, `!document.getElementById("work").open && document.getElementById("next-list").textContent.includes("Carb heat before power")`)
	do(t, ctx, chromedp.Click(chromedp.CSS("#tab-notes")))
	do(t, ctx, chromedp.Click(chromedp.CSS("#next-list input")))
	until(t, "the item is ticked off", func() bool {
		w := c.state(id).WorkOn
		return len(w) == 1 && w[0].Done && w[0].Text == "Carb heat before power" && w[0].Step == "carb-heat-on" && w[0].Author == "B. Instructor"
	})
	seen(t, ctx, `document.querySelector("#next-list li.done input")?.checked ?? false`)
}

func byKeyboard(t *testing.T, one context.Context) {
	c := start(t, t.TempDir(), nil)
	wav, err := os.ReadFile(demoWAV)
	if err != nil {
		t.Fatal(err)
	}
	id := c.lesson(string(wav))
	ctx := tab(t, one, c.srv.URL)
	// tabTo presses Tab until what is in focus is what js says.
	tabTo := func(js string) {
		t.Helper()
		for range 60 {
			if ask[bool](t, ctx, `((e) => `+js+`)(document.activeElement)`) {
				return
			}
			press(t, ctx, kb.Tab)
		}
		t.Fatalf("60 times Tab do not lead to %s", js)
	}
	open := func(dialog string) {
		t.Helper()
		seen(t, ctx, fmt.Sprintf(`document.getElementById(%q).open`, dialog))
	}
	tabTo(`e.matches("#lessons a")`)
	press(t, ctx, kb.Enter)
	seen(t, ctx, opened)

	// Step by step through the card; who is writing is asked at the first hand.
	press(t, ctx, kb.ArrowDown)
	seen(t, ctx, `document.querySelector("#card .step").classList.contains("selected") && document.activeElement.matches(".item")`)
	press(t, ctx, "a")
	open("who")
	press(t, ctx, "B. Instructor", kb.Enter)
	until(t, "the verdict is accepted", func() bool { h := c.state(id).Hands; return len(h) == 1 && h[0].Hand == "accept" })
	seen(t, ctx, `document.activeElement.matches(".item")`)
	press(t, ctx, kb.ArrowDown)
	seen(t, ctx, `document.querySelectorAll("#card .step")[1].classList.contains("selected")`)
	press(t, ctx, "g")
	until(t, "a step is to be listened to again", func() bool { h := c.state(id).Hands; return len(h) == 2 && h[1].Hand == "listen-again" })
	press(t, ctx, "n")
	seen(t, ctx, `document.querySelector(".step.selected")?.dataset.step !== document.querySelectorAll("#card .step")[1].dataset.step`)
	press(t, ctx, "o")
	open("overrule")
	tabTo(`e.id === "overrule-reason"`)
	press(t, ctx, "I heard it.")
	tabTo(`e.matches('#overrule [value="ok"]')`)
	press(t, ctx, kb.Enter)
	until(t, "a verdict is overruled", func() bool {
		h := c.state(id).Hands
		return len(h) == 3 && h[2].Hand == "overrule" && h[2].Reason == "I heard it."
	})
	shut(t, ctx)

	// A note, something to work on, a call at the moment that is playing.
	for _, w := range []struct{ key, dialog, text string }{{"t", "note", "Good lookout"}, {"w", "work", "Carb heat"}} {
		press(t, ctx, w.key)
		open(w.dialog)
		press(t, ctx, w.text)
		tabTo(`e.matches('#` + w.dialog + ` [value="ok"]')`)
		press(t, ctx, kb.Enter)
		seen(t, ctx, fmt.Sprintf(`document.getElementById("panel-notes").textContent.includes(%q)`, w.text))
		shut(t, ctx)
	}
	press(t, ctx, "c")
	seen(t, ctx, `!document.getElementById("adding-hint").hidden`)
	press(t, ctx, kb.Escape)
	seen(t, ctx, `document.getElementById("adding-hint").hidden`)
	press(t, ctx, "c")
	seen(t, ctx, `!document.getElementById("adding-hint").hidden`)
	// Enter means the moment, wherever the focus was left.
	press(t, ctx, kb.Enter)
	open("call")
	press(t, ctx, "Carb heat on")
	tabTo(`e.matches('#call [value="ok"]')`)
	press(t, ctx, kb.Enter)
	until(t, "the call is added", func() bool { return len(c.state(id).Added) == 1 })
	shut(t, ctx)

	// A word put right.
	press(t, ctx, "2")
	seen(t, ctx, `document.activeElement.id === "tab-words"`)
	tabTo(`e.matches('[data-keep^="correct-"]') && e.closest("li").textContent.includes("carve")`)
	press(t, ctx, kb.Enter)
	seen(t, ctx, `document.activeElement.matches(".fields input")`)
	press(t, ctx, kb.Delete)
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.activeElement.select()`)) // as Tab into a field does
	press(t, ctx, "carb", kb.Enter)
	until(t, "the word is put right", func() bool {
		for _, w := range c.state(id).Words {
			if w.Was != nil && *w.Was == "carve" && w.Text == "carb" {
				return true
			}
		}
		return false
	})
	seen(t, ctx, `document.activeElement.matches('[data-keep^="correct-"]')`)

	// Undone by key, and by its button in the history.
	before := c.state(id).Revision
	press(t, ctx, "u")
	until(t, "the last change is undone", func() bool { s := c.state(id); return s.Revision == before+1 && s.History[before-1].Undone })
	press(t, ctx, "4")
	seen(t, ctx, `document.activeElement.id === "tab-history"`)
	tabTo(`e.matches('[data-keep^="undo-"]') && e.getAttribute("aria-label").includes("Good lookout")`)
	press(t, ctx, kb.Enter)
	until(t, "the note is undone", func() bool { return len(c.state(id).Notes) == 0 })

	// Listening: a stretch marked, repeated, slower; the sheet of keys.
	seek := `+document.getElementById("clock").dataset.at`
	press(t, ctx, kb.ArrowRight)
	seen(t, ctx, seek+` >= 5`)
	press(t, ctx, "[", "l")
	seen(t, ctx, `document.getElementById("loop").getAttribute("aria-pressed") === "true"`)
	press(t, ctx, "<")
	seen(t, ctx, `document.getElementById("speed").value === "0.8"`)
	press(t, ctx, "l", "?")
	open("keys")
	if keys := ask[string](t, ctx, `document.getElementById("key-list").textContent`); !strings.Contains(keys, "take back your own last change") {
		t.Errorf("the sheet of keys says %q", keys)
	}
	press(t, ctx, kb.Escape)
	seen(t, ctx, `!document.getElementById("keys").open`)
}
