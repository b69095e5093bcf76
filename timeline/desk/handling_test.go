package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// These tests hold what an instructor stumbled over in handling the page: what is in
// view, what keys do, what a dialog does with what it cannot take.

// twoManeuvers is debrief with a second maneuver, in which flaps up came before
// positive rate.
func twoManeuvers() json.RawMessage {
	s := strings.Replace(debrief, `],
"judged"`, `,
{"id":"flaps-up","start":134.4,"end":135.2,"speaker":"student","stance":"done","value":null,"unit":"","confidence":0.9,"heard":"Flaps up"},
{"id":"positive-rate","start":137,"end":138,"speaker":"student","stance":"done","value":null,"unit":"","confidence":0.9,"heard":"Positive rate"}],
"judged"`, 1)
	return json.RawMessage(strings.TrimSuffix(s, "]}") + `,{"procedure":"slow-flight-landing","title":"Slow flight, landing configuration","start":86,"end":144,"abandoned":null,"remarks":[],
"steps":[{"id":"positive-rate","title":"Positive rate","phase":"Recovery","verdict":"heard","waived":"","prompted":false,"at":137,"call":4,"value":null,"confidence":0.9,"reason":"Heard at 2:17."},
{"id":"flaps-up","title":"Flaps up","phase":"Recovery","verdict":"out-of-order","waived":"","prompted":false,"at":134.4,"call":3,"value":null,"confidence":0.9,"reason":"Flaps up at 2:14 came before positive rate at 2:17."}],
"findings":[{"step":"flaps-up","kind":"out-of-order","severity":"safety","at":134.4,"message":"Flaps up at 2:14 came before positive rate at 2:17.","reference":"common practice, no source"}]}]}`)
}

// busyKeeper keeps a lesson of two maneuvers, with callouts to choose from.
func busyKeeper(t *testing.T) *keeper {
	k := newKeeper(t)
	k.state.Timeline = twoManeuvers()
	k.state.Student, k.state.Instructor = "A. Student", "B. Instructor"
	k.state.Callouts = []Callout{{ID: "abeam", Title: "Abeam"}, {ID: "carb-heat-cold", Title: "Carb heat cold"}, {ID: "carb-heat-on", Title: "Carb heat on"}, {ID: "power-back", Title: "Power back", Unit: "rpm"}}
	k.state.Asked = map[string][]Asked{"slow-flight-clean": {{"power-back", []string{"power-back"}}, {"carb-heat-on", []string{"carb-heat-on"}}}}
	return k
}

// at opens a page of a keeper as B. Instructor in a window of a size.
func at(t *testing.T, one context.Context, k *keeper, width, height int64, allowed ...string) context.Context {
	t.Helper()
	ctx := tab(t, one, k.url(), allowed...)
	do(t, ctx, chromedp.EmulateViewport(width, height))
	seen(t, ctx, opened)
	named(t, ctx, "B. Instructor")
	return ctx
}

func js(t *testing.T, ctx context.Context, steps ...string) {
	t.Helper()
	for _, s := range steps {
		do(t, ctx, chromedp.Evaluate[chromedp.Void](s+";0"))
	}
}

// click presses what stays in its place: lists take their height as they come into view.
func click(t *testing.T, ctx context.Context, css string) {
	t.Helper()
	js(t, ctx, `window.place = ""`)
	seen(t, ctx, fmt.Sprintf(`(() => { const b = document.querySelector(%q)?.getBoundingClientRect(), was = window.place; window.place = b ? [b.left, b.top, b.width, b.height].join() : ""; return b !== undefined && window.place === was })()`, css))
	do(t, ctx, chromedp.Click(chromedp.CSS(css)))
}

// holds fails the test for what is not so now.
func holds(t *testing.T, ctx context.Context, js string) {
	t.Helper()
	if !ask[bool](t, ctx, js) {
		t.Errorf("it is not so that %s", js)
	}
}

const (
	playing = `document.getElementById("play").getAttribute("aria-label") === "Pause"`
	paused  = `document.getElementById("play").getAttribute("aria-label") === "Play"`
)

func inOneBrowser(t *testing.T, tests map[string]func(*testing.T, context.Context)) {
	if !built() {
		if os.Getenv("SIDETONE_REQUIRE_TOOLS") == "1" {
			t.Fatal("the page is not built: run make page")
		}
		t.Skip("the page is not built: run make page")
	}
	one := browser(t, "about:blank")
	for name, test := range tests {
		t.Run(name, func(t *testing.T) { test(t, one) })
	}
}

func TestTheStripAndTheSound(t *testing.T) {
	inOneBrowser(t, map[string]func(*testing.T, context.Context){
		"the maneuver chosen is what is shown": zoomed,
		"a stretch is set by its ends":         setStretch,
		"the words go along with the sound":    followed,
	})
}

func zoomed(t *testing.T, one context.Context) {
	ctx := at(t, one, busyKeeper(t), 1280, 800)
	// Lanes, waveform and the frame in the overview, each by its own numbers.
	const shown = `(() => {
		const tracks = document.getElementById("tracks").dataset, over = document.getElementById("overview");
		const wave = document.querySelector("#wave > div").shadowRoot.querySelector(".scroll");
		const link = getComputedStyle(document.documentElement).getPropertyValue("--link").trim().slice(1).match(/../g).map((v) => parseInt(v, 16));
		const copy = new OffscreenCanvas(over.width, over.height).getContext("2d", { willReadFrequently: true });
		copy.drawImage(over, 0, 0);
		const row = copy.getImageData(0, 1, over.width, 1).data;
		let first = -1, last = -1;
		for (let x = 0; x < over.width; x++) if (link.every((v, i) => Math.abs(row[4 * x + i] - v) < 9)) { if (first < 0) first = x; last = x }
		return [+tracks.from, +tracks.to, 154 * wave.scrollLeft / wave.scrollWidth, 154 * (wave.scrollLeft + wave.clientWidth) / wave.scrollWidth, 154 * first / over.width, 154 * (last + 1) / over.width] })()`
	for _, m := range []struct{ from, to float64 }{{86, 144}, {10, 60}} {
		press(t, ctx, "m")
		seen(t, ctx, fmt.Sprintf(`document.querySelector(".card .span").textContent.startsWith(%q)`, fmt.Sprintf("%d:%02d", int(m.from)/60, int(m.from)%60)))
		click(t, ctx, `[data-zoom="maneuver"]`)
		var got []float64
		until(t, fmt.Sprintf("%v is shown", m), func() bool {
			got = ask[[]float64](t, ctx, shown)
			for i := 0; i < len(got); i += 2 {
				if from, to := m.from-got[i], got[i+1]-m.to; from < 1 || from > 6 || to < 1 || to > 6 {
					return false
				}
			}
			return true
		})
	}
}

func setStretch(t *testing.T, one context.Context) {
	ctx := at(t, one, busyKeeper(t), 1280, 800)
	const pressed = `document.getElementById("loop").getAttribute("aria-pressed") === "true"`
	seek := func(to float64) {
		t.Helper()
		js(t, ctx, fmt.Sprintf(`(() => { const s = document.getElementById("seek"); s.value = %v; s.dispatchEvent(new Event("input")) })()`, to))
		seen(t, ctx, fmt.Sprintf(`Math.abs(document.getElementById("clock").dataset.at - %v) < 0.1`, to))
	}
	seek(30)
	press(t, ctx, "[")
	seen(t, ctx, `document.getElementById("notice").textContent.includes("Press ]")`)
	holds(t, ctx, `document.getElementById("loop").getAttribute("aria-pressed") === "false"`)
	press(t, ctx, kb.Escape)
	seen(t, ctx, `document.getElementById("stretch").hidden`)
	press(t, ctx, "[")
	seen(t, ctx, `!document.getElementById("stretch").hidden`)
	seek(33)
	press(t, ctx, "]")
	seen(t, ctx, pressed)
	seen(t, ctx, playing)
	holds(t, ctx, `Math.abs(document.getElementById("clock").dataset.at - 30.5) < 1`)
	// It is shaded from the top of the waveform to the foot of the lanes.
	holds(t, ctx, `(() => { const box = (id) => document.getElementById(id).getBoundingClientRect(), s = box("stretch"), w = box("wave");
		return s.top <= w.top && s.bottom >= box("lanes").bottom && Math.abs(s.left - w.left - 30 / 154 * w.width) < 2 && Math.abs(s.right - w.left - 33 / 154 * w.width) < 2 })()`)

	// A finding that holds one call against another repeats both.
	press(t, ctx, "l", "n", "n")
	seen(t, ctx, `document.querySelector(".step.selected")?.dataset.step === "flaps-up"`)
	press(t, ctx, "l")
	seen(t, ctx, pressed)
	box := ask[[]float64](t, ctx, `(() => { const s = document.getElementById("stretch").getBoundingClientRect(), w = document.getElementById("wave").getBoundingClientRect();
		return [154 * (s.left - w.left) / w.width, 154 * (s.right - w.left) / w.width] })()`)
	if math.Abs(box[0]-133.4) > 0.5 || math.Abs(box[1]-139) > 0.5 {
		t.Errorf("flaps up at 134.4 against positive rate up to 138 repeats %v", box)
	}
}

func followed(t *testing.T, one context.Context) {
	k := busyKeeper(t)
	k.state.Words = nil
	tl := map[string]any{}
	if err := json.Unmarshal(k.state.Timeline, &tl); err != nil {
		t.Fatal(err)
	}
	said := []any{}
	for i := range 140 {
		at := float64(i) + 0.1
		said = append(said, map[string]any{"start": at, "end": at + 0.8, "channel": 0, "speaker": "student", "text": "", "words": []any{}})
		k.state.Words = append(k.state.Words, Word{N: i, Text: fmt.Sprint("word", i), Start: at, End: at + 0.8, Confidence: 1, Speaker: "student"})
	}
	tl["transcript"] = said
	var err error
	if k.state.Timeline, err = json.Marshal(tl); err != nil {
		t.Fatal(err)
	}
	ctx := at(t, one, k, 1280, 800)
	press(t, ctx, "2")
	const inView = `(() => { const e = document.querySelector("#panel-words .now"); if (!e) return false;
		const a = e.getBoundingClientRect(), b = document.getElementById("panel-words").getBoundingClientRect(); return a.top >= b.top && a.bottom <= b.bottom })()`
	js(t, ctx, `(() => { const s = document.getElementById("seek"); s.value = 120; s.dispatchEvent(new Event("input")) })()`)
	press(t, ctx, " ")
	seen(t, ctx, playing+` && `+inView)
	// Who has just moved the list is left alone.
	js(t, ctx, `document.getElementById("panel-words").dispatchEvent(new WheelEvent("wheel", { deltaY: -9 }))`, `document.getElementById("panel-words").scrollTop = 0`, `window.was = document.querySelector(".now").dataset.line`)
	seen(t, ctx, `document.querySelector("#panel-words .now").dataset.line !== window.was`)
	holds(t, ctx, `document.getElementById("panel-words").scrollTop === 0`)

	do(t, ctx, chromedp.Click(chromedp.CSS("#find-words")), chromedp.KeyEvent("mumble"))
	seen(t, ctx, `document.getElementById("panel-words").textContent.includes("Nobody said “mumble”")`)
}

func TestKeysAndButtons(t *testing.T) {
	inOneBrowser(t, map[string]func(*testing.T, context.Context){
		"Space plays whatever was clicked":   spaced,
		"what is on is not written again":    onAlready,
		"what cannot be done is said to all": toldToAll,
	})
}

func spaced(t *testing.T, one context.Context) {
	k := busyKeeper(t)
	k.state.WorkOn = []WorkOn{{Fact: 1, Text: "Carb heat", Author: "B. Instructor"}}
	ctx := at(t, one, k, 1280, 800)
	playAndPause := func(after string) {
		t.Helper()
		press(t, ctx, " ")
		until(t, "Space plays after "+after, func() bool { return ask[bool](t, ctx, playing) })
		press(t, ctx, " ")
		until(t, "Space pauses after "+after, func() bool { return ask[bool](t, ctx, paused) })
	}
	click(t, ctx, "#tab-notes")
	playAndPause("a click on a tab")
	js(t, ctx, `window.was = document.getElementById("tracks").dataset.to`)
	click(t, ctx, `[data-zoom="in"]`)
	seen(t, ctx, `document.getElementById("tracks").dataset.to !== window.was`)
	js(t, ctx, `window.was = document.getElementById("tracks").dataset.to - document.getElementById("tracks").dataset.from`)
	playAndPause("a click on +")
	holds(t, ctx, `Math.abs(document.getElementById("tracks").dataset.to - document.getElementById("tracks").dataset.from - window.was) < 0.1`)
	press(t, ctx, "3")
	seen(t, ctx, `document.activeElement.id === "tab-notes"`)
	playAndPause("the key 3")
	// A tick box that has the focus leaves the other keys what they are.
	js(t, ctx, `document.querySelector("#next-list input").focus()`)
	press(t, ctx, "2")
	seen(t, ctx, `document.getElementById("tab-words").getAttribute("aria-selected") === "true"`)
	// After a dialog left by Esc, Space does not open it again.
	// One that Tab led to is Space's own.
	js(t, ctx, `document.getElementById("tab-notes").click(); document.getElementById("tab-notes").focus()`)
	press(t, ctx, kb.Tab, kb.Tab)
	seen(t, ctx, `document.activeElement.matches("#next-list input")`)
	press(t, ctx, kb.ArrowRight, " ")
	until(t, "it is ticked off", func() bool {
		return k.look(func(s State) bool { return len(s.History) == 1 && s.History[0].Kind == "work-on" })
	})
	press(t, ctx, "n", "n")
	seen(t, ctx, `document.querySelector(".step.selected")?.dataset.step === "flaps-up" && `+playing)
	click(t, ctx, "#play")
	seen(t, ctx, paused)
	click(t, ctx, `[data-keep="overrule-flaps-up"]`)
	seen(t, ctx, `document.getElementById("overrule").open`)
	press(t, ctx, kb.Escape)
	seen(t, ctx, `!document.getElementById("overrule").open && document.activeElement.dataset.keep === "overrule-flaps-up"`)
	playAndPause("a dialog")
	holds(t, ctx, `!document.getElementById("overrule").open`)
	// A button reached by Tab is pressed by Space, as by Enter.
	js(t, ctx, `document.getElementById("loop").focus()`)
	press(t, ctx, kb.Tab, kb.Tab, kb.Tab)
	seen(t, ctx, `document.activeElement.id === "help"`)
	press(t, ctx, " ")
	seen(t, ctx, `document.getElementById("keys").open`)
	holds(t, ctx, `document.getElementById("key-list").textContent.includes("Tab")`)
	// Keys of one character can be turned off (WCAG 2.1.4).
	click(t, ctx, "#letters")
	press(t, ctx, kb.Escape, "4", "?")
	seen(t, ctx, `!document.getElementById("keys").open`)
	holds(t, ctx, `document.getElementById("tab-history").getAttribute("aria-selected") === "false"`)
	js(t, ctx, `document.getElementById("help").click()`)
	click(t, ctx, "#letters")
	press(t, ctx, kb.Escape)
	// Ctrl+Enter saves.
	press(t, ctx, "t")
	seen(t, ctx, `document.getElementById("note").open`)
	do(t, ctx, chromedp.KeyEvent("Short and quick"), chromedp.KeyEvent(kb.Enter, chromedp.KeyModifiers(2)))
	until(t, "the note is saved", func() bool {
		return k.look(func(s State) bool { return len(s.Notes) == 1 && s.Notes[0].Text == "Short and quick" })
	})
}

func onAlready(t *testing.T, one context.Context) {
	k := busyKeeper(t)
	ctx := at(t, one, k, 1280, 800)
	press(t, ctx, "n", "n")
	seen(t, ctx, `document.querySelector(".step.selected")?.dataset.step === "flaps-up"`)
	click(t, ctx, `[data-keep="agree-flaps-up"]`)
	const on = `document.querySelector('[data-keep="%s-flaps-up"]')?.getAttribute("aria-pressed") === "true"`
	seen(t, ctx, fmt.Sprintf(on, "agree"))
	holds(t, ctx, `getComputedStyle(document.querySelector('[data-keep="agree-flaps-up"]'), "::after").content.includes("✓")`)
	click(t, ctx, `[data-keep="agree-flaps-up"]`)
	seen(t, ctx, `document.getElementById("notice").textContent.includes("already")`)
	press(t, ctx, "g")
	seen(t, ctx, fmt.Sprintf(on, "again")+` && document.querySelector(".step.selected").textContent.includes("come back to this")`)
	press(t, ctx, "g", "o")
	seen(t, ctx, `document.getElementById("overrule").open`)
	js(t, ctx, `document.getElementById("overrule-reason").value = "It was said."`)
	click(t, ctx, `#overrule button[value="ok"]`)
	seen(t, ctx, fmt.Sprintf(on, "overrule"))
	// Overruled, it is nothing to talk about; no other is said to be talked about.
	seen(t, ctx, `document.querySelectorAll(".find").length === 2 && document.querySelector('.find[aria-current="true"]') === null && document.getElementById("which").textContent === ""`)
	// The same once more, as it stands.
	press(t, ctx, "o")
	seen(t, ctx, `document.getElementById("overrule").open && document.getElementById("overrule-reason").value === "It was said."`)
	click(t, ctx, `#overrule button[value="ok"]`)
	seen(t, ctx, `!document.getElementById("overrule").open`)
	if !k.look(func(s State) bool { return s.Revision == 3 }) {
		t.Error("what was on was written again")
	}
	// Where a person and the machine say the same, nothing is struck out.
	holds(t, ctx, `document.querySelector('[data-step="flaps-up"] .struck') !== null`)
	k.otherwise(`"title":"Flaps up","phase":"Recovery","verdict":"out-of-order"`, `"title":"Flaps up","phase":"Recovery","verdict":"heard"`)
	seen(t, ctx, `document.querySelector('[data-step="flaps-up"] .struck') === null`)
	// Once it is something to talk about again, it is that which is talked about.
	press(t, ctx, "g")
	seen(t, ctx, `document.querySelector('.find[aria-current="true"]')?.textContent.includes("Flaps up at 2:14") === true && document.getElementById("which").textContent === "2 of 3"`)
}

func toldToAll(t *testing.T, one context.Context) {
	k := busyKeeper(t)
	ctx := at(t, one, k, 1280, 800)
	press(t, ctx, "a")
	seen(t, ctx, `(() => { const e = document.getElementById("notice"), b = e.getBoundingClientRect(); return e.textContent.includes("Open a step") && b.height > 10 && b.bottom <= innerHeight })()`)
	press(t, ctx, kb.ArrowDown)
	seen(t, ctx, `document.querySelectorAll(".step.selected").length === 1 && document.getElementById("notice").textContent === ""`)
	press(t, ctx, " ", "a")
	until(t, "the step is agreed to", func() bool { return k.look(func(s State) bool { return len(s.Hands) == 1 }) })

	// The menu closes with Esc, and when a dialog opens.
	click(t, ctx, ".hand-on summary")
	seen(t, ctx, `document.querySelector(".hand-on").open`)
	press(t, ctx, kb.Escape)
	seen(t, ctx, `!document.querySelector(".hand-on").open`)
	click(t, ctx, ".hand-on summary")
	press(t, ctx, "t")
	seen(t, ctx, `document.getElementById("note").open && !document.querySelector(".hand-on").open`)
	press(t, ctx, kb.Escape)

	// Who flew is offered by name.
	click(t, ctx, "#author")
	seen(t, ctx, `document.getElementById("who").open`)
	click(t, ctx, `[data-keep="as-student"]`)
	seen(t, ctx, `document.getElementById("author-name").textContent === "A. Student"`)

	// How many there are is told anew when there are fewer.
	press(t, ctx, "n", "n")
	seen(t, ctx, `document.getElementById("which").textContent === "2 of 3"`)
	k.otherwise(`{"step":"trim","kind":"out-of-order","severity":"important","at":21,"message":"Trim set at 0:21 came before power back at 0:24.","reference":"common practice, no source"},`, "")
	seen(t, ctx, `document.getElementById("tab-talk").textContent.includes("(2)") && ["1 of 2", "2 of 2"].includes(document.getElementById("which").textContent)`)
}

func TestDialogsAndWhatIsNotSaved(t *testing.T) {
	inOneBrowser(t, map[string]func(*testing.T, context.Context){
		"what a dialog cannot take stays in it": refusedInDialog,
		"what is not saved says so":             notSaved,
	})
}

func refusedInDialog(t *testing.T, one context.Context) {
	k := busyKeeper(t)
	ctx := at(t, one, k, 1280, 800, "Failed to load resource")
	press(t, ctx, " ")
	seen(t, ctx, playing)
	press(t, ctx, "c", kb.Enter)
	seen(t, ctx, `document.getElementById("call").open`)
	seen(t, ctx, paused)
	// The card's own callouts come first, in its order, then the others.
	if got := ask[string](t, ctx, `[...document.querySelectorAll("#callouts option")].map((o) => o.value).join()`); got != "Power back,Carb heat on,Abeam,Carb heat cold" {
		t.Errorf("offered are %s", got)
	}
	fill := func(callout, at, value string) {
		t.Helper()
		js(t, ctx, fmt.Sprintf(`for (const [n, v] of [["callout", %q], ["at", %q], ["value", %q], ["speaker", "student"]]) document.querySelector("#call form").elements.namedItem(n).value = v`, callout, at, value))
		click(t, ctx, `#call button[value="ok"]`)
	}
	for _, c := range []struct{ callout, at, value, field, says string }{
		{"carb heat off", "1:02", "17", "callout", "Carb heat cold"},
		{"Carb heat on", "9:99", "", "at", "not a time"},
		{"Carb heat on", "3:00", "", "at", "ends at 2:34"},
		{"Carb heat on", "1:02", "17", "value", "no figure"},
		{"Power back", "1:02", "slow", "value", "not a figure"},
	} {
		fill(c.callout, c.at, c.value)
		seen(t, ctx, fmt.Sprintf(`(() => { const e = document.activeElement, says = document.getElementById(e.getAttribute("aria-describedby"));
			return e.name === %q && e.getAttribute("aria-invalid") === "true" && e.closest("p").nextElementSibling === says && says.textContent.includes(%q) })()`, c.field, c.says))
		holds(t, ctx, fmt.Sprintf(`document.getElementById("call").open && document.getElementById("call-at").value === %q && document.getElementById("call-value").value === %q && document.getElementById("call-speaker").value === "student"`, c.at, c.value))
	}
	// One of those that were meant, perhaps, is chosen by a press.
	fill("carb heat off", "1:02", "")
	seen(t, ctx, `document.querySelector("#call .wrong button") !== null`)
	click(t, ctx, "#call .wrong button")
	seen(t, ctx, `document.getElementById("call-callout").value === "Carb heat on" && document.querySelector("#call .wrong") === null`)
	// What the server refuses is said in the dialog too.
	k.mu.Lock()
	k.refuse = "That moment is in another lesson."
	k.mu.Unlock()
	click(t, ctx, `#call button[value="ok"]`)
	seen(t, ctx, `document.querySelector("#call .wrong")?.textContent.includes("another lesson") === true && document.getElementById("call").open`)
	k.mu.Lock()
	k.refuse = ""
	k.mu.Unlock()
	click(t, ctx, `#call button[value="ok"]`)
	seen(t, ctx, `!document.getElementById("call").open`)
	if !k.look(func(s State) bool { return s.Revision == 1 && s.History[0].Kind == "call" }) {
		t.Error("the call was not sent once")
	}
}

func notSaved(t *testing.T, one context.Context) {
	k := busyKeeper(t)
	ctx := at(t, one, k, 1280, 800, "Failed to load resource", "ERR_")
	press(t, ctx, "n", "n")
	seen(t, ctx, `document.querySelector(".step.selected")?.dataset.step === "flaps-up"`)
	k.stop()
	press(t, ctx, "a")
	seen(t, ctx, `document.querySelector(".step.selected .by-hand")?.textContent.includes("B. Instructor, not saved yet") ?? false`)
	seen(t, ctx, `document.getElementById("said-aloud").textContent.endsWith("not saved yet")`)
	// Nothing earlier is taken back in its place.
	press(t, ctx, "u")
	seen(t, ctx, `document.getElementById("notice").textContent.includes("not saved yet: it can be taken back once it is")`)
	press(t, ctx, "t")
	seen(t, ctx, `document.getElementById("note").open`)
	do(t, ctx, chromedp.KeyEvent("Look out"), chromedp.KeyEvent(kb.Enter, chromedp.KeyModifiers(2)))
	seen(t, ctx, `document.getElementById("note-list").textContent.includes("not saved yet")`)
	// The warning stays in view wherever the page is scrolled to.
	for _, y := range []string{"0", "document.body.scrollHeight"} {
		js(t, ctx, `scrollTo(0, `+y+`)`)
		seen(t, ctx, `(() => { const e = document.getElementById("unsaved"), b = e.getBoundingClientRect(); return e.textContent.startsWith("2 changes not saved yet") && b.top > 0 && b.bottom <= innerHeight && document.elementFromPoint(b.left + 30, b.top + 9) === e })()`)
	}
	k.start()
	until(t, "both are saved", func() bool { return k.look(func(s State) bool { return len(s.Hands) == 1 && len(s.Notes) == 1 }) })
	seen(t, ctx, `document.getElementById("unsaved").hidden && !document.querySelector("main").innerText.includes("not saved yet") && document.getElementById("said-aloud").textContent.includes("saved now")`)
}

func TestTheRoomThereIs(t *testing.T) {
	inOneBrowser(t, map[string]func(*testing.T, context.Context){
		"on a laptop": laptop,
		"on a tablet": tablet,
		"at 200 %":    twice,
	})
}

func laptop(t *testing.T, one context.Context) {
	k := busyKeeper(t)
	k.state.WorkOn = []WorkOn{{Fact: 2, Text: "Carb heat", Author: "B. Instructor"}}
	k.state.Notes = []Note{{Fact: 1, At: new(float64), Text: "Taxi", Author: "B. Instructor", Written: "2026-05-01T10:00:00Z"}}
	k.state.Timeline = json.RawMessage(strings.Replace(string(k.state.Timeline), `"speech_seconds":9`, `"speech_seconds":9,"levels":[{"channel":0,"name":"the recording","listened":true,"snr":8.4,"clipped":0}]`, 1))
	ctx := at(t, one, k, 1280, 800)
	holds(t, ctx, `document.getElementById("quality").textContent.includes("8 decibels above the noise")`)
	// Choosing a tab moves none of them.
	const tabs = `[...document.querySelectorAll("[role=tab]")].map((e) => { const b = e.getBoundingClientRect(); return [b.left, b.width, b.top].map(Math.round) }).join()`
	was := ask[string](t, ctx, tabs)
	for _, name := range []string{"words", "history", "notes", "talk"} {
		click(t, ctx, "#tab-"+name)
		if is := ask[string](t, ctx, tabs); is != was {
			t.Errorf("choosing %s moves the tabs: %s, then %s", name, was, is)
		}
	}
	if tops := ask[int](t, ctx, `new Set([...document.querySelectorAll("[role=tab]")].map((e) => e.getBoundingClientRect().top)).size`); tops != 1 {
		t.Errorf("the tabs stand in %d lines", tops)
	}
	// Targets of at least 24 by 24 px (WCAG 2.5.8); the words of a line are text.
	click(t, ctx, ".hand-on summary")
	js(t, ctx, `document.getElementById("tab-notes").click()`)
	if small := ask[string](t, ctx, `[...document.querySelectorAll("button, a, summary, select, input, #next-list label")].filter((e) => e.checkVisibility() && !e.matches(".skip, [type=checkbox]")).filter((e) => { const b = e.getBoundingClientRect(); return b.width < 24 || b.height < 24 }).map((e) => e.id || e.textContent).join()`); small != "" {
		t.Errorf("smaller than 24 px: %s", small)
	}
	// A mark at the very edge is whole, with its target.
	edge := ask[[]float64](t, ctx, `(() => { const w = document.getElementById("wave").getBoundingClientRect(), l = document.querySelector(".lane-name.of-note").getBoundingClientRect(); return [w.left + 16, l.top + l.height / 2] })()`)
	do(t, ctx, chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, edge[0], edge[1]))
	seen(t, ctx, `document.getElementById("tip").textContent.includes("Taxi")`)
	// Scrolled to a fault: the strip is low, both ends of its line are in view.
	press(t, ctx, "n", "n", "n")
	seen(t, ctx, `document.querySelector(".step.selected")?.dataset.step === "trim"`)
	const room = `const strip = document.querySelector(".strip").getBoundingClientRect().bottom, foot = document.getElementById("foot").getBoundingClientRect().top;`
	seen(t, ctx, `(() => { `+room+` return strip <= 160 && foot - strip > 560 })()`)
	holds(t, ctx, `(() => { `+room+` return ['[data-step="trim"]', '[data-said="trim"]'].every((q) => { const b = document.querySelector(q).getBoundingClientRect(); return b.top >= strip && b.bottom <= foot }) })()`)
	// All of the strip is there to choose a moment on.
	press(t, ctx, "c")
	seen(t, ctx, `document.querySelector(".strip").getBoundingClientRect().top === 0`)
	press(t, ctx, kb.Escape)
}

func tablet(t *testing.T, one context.Context) {
	ctx := at(t, one, busyKeeper(t), 820, 1180)
	holds(t, ctx, `document.getElementById("foot").offsetHeight <= 90`)
	for _, y := range []string{"0", "document.body.scrollHeight"} {
		js(t, ctx, `scrollTo(0, `+y+`)`)
		holds(t, ctx, `[...document.querySelectorAll("[role=tab]")].every((e) => { const b = e.getBoundingClientRect(); return b.bottom <= innerHeight && e.contains(document.elementFromPoint(b.left + b.width / 2, b.top + b.height / 2)) })`)
	}
	holds(t, ctx, `!document.getElementById("panel-talk").checkVisibility()`)
	click(t, ctx, "#tab-words")
	seen(t, ctx, `document.getElementById("panel-words").checkVisibility() && document.getElementById("tab-words").getAttribute("aria-expanded") === "true"`)
	click(t, ctx, "#tab-words")
	seen(t, ctx, `!document.getElementById("panel-words").checkVisibility()`)
	press(t, ctx, "1")
	seen(t, ctx, `document.getElementById("panel-talk").checkVisibility()`)
	press(t, ctx, kb.Escape)
	seen(t, ctx, `!document.getElementById("panel-talk").checkVisibility()`)
}

func twice(t *testing.T, one context.Context) {
	k := busyKeeper(t)
	ctx := at(t, one, k, 640, 400)
	holds(t, ctx, `document.getElementById("foot").offsetHeight <= 60`)
	holds(t, ctx, `[...document.querySelectorAll(".bar button, .bar select, #seek")].every((e) => { const b = e.getBoundingClientRect(); return e.checkVisibility() && b.left >= 0 && b.right <= innerWidth && b.height >= 24 && b.width >= 24 })`)
	holds(t, ctx, `document.documentElement.scrollWidth <= innerWidth`)
	do(t, ctx, chromedp.Navigate("http://"+k.address+"/"))
	seen(t, ctx, `document.querySelector(".result") !== null`)
	holds(t, ctx, `document.querySelector(".result").getBoundingClientRect().width > 500 && document.documentElement.scrollWidth <= innerWidth`)
}
