package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"sidetone/audio/models/modelstest"
)

// deskAt runs the desk as a process of its own and gives its address.
func deskAt(t *testing.T, words string, args ...string) (cmd *exec.Cmd, address string) {
	t.Helper()
	cmd, stderr := program(t, words, args...)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if a := regexp.MustCompile(`http://[0-9.:]+`).FindString(lines.Text()); a != "" {
			go io.Copy(io.Discard, out)
			return cmd, a
		}
	}
	cmd.Wait()
	t.Fatalf("the desk named no address: %s", stderr)
	return nil, ""
}

// The whole way: the demo lesson is added and heard, a verdict overruled, a word put
// right and the judgement follows, a note written; the program is killed and started
// again, and all of it is there; the page to hand on has it too.
func TestDeskInABrowser(t *testing.T) {
	models := modelstest.Find(t).Dir
	chromium, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("SIDETONE_REQUIRE_TOOLS") == "1" {
			t.Fatal("chromium is not installed")
		}
		t.Skip("chromium is not installed")
	}
	library, words := t.TempDir(), t.TempDir()
	base := []string{"desk", "--library", library, "--models", models, "--listen", "127.0.0.1:0"}
	cmd, address := deskAt(t, words, append(base, "../../testdata/demo/lesson.wav")...)

	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.UserDataDir(t.TempDir()), chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true))
	ctx, cancel := context.WithTimeout(context.Background(), 8*time.Minute)
	defer cancel()
	ctx, cancel = chromedp.NewExecAllocator(ctx, opts...)
	defer cancel()
	ctx, cancel = chromedp.NewContext(ctx)
	defer func() { chromedp.Cancel(ctx); cancel() }()
	do := func(steps ...chromedp.Action[chromedp.Void]) {
		t.Helper()
		if err := chromedp.Do(ctx, steps...); err != nil {
			t.Fatal(err)
		}
	}
	js := func(s string) chromedp.Action[chromedp.Void] { return chromedp.Evaluate[chromedp.Void](s + ";0") }
	seen := func(s string) {
		t.Helper()
		var err error // a page that is just being left cannot answer
		for end := time.Now().Add(2 * time.Minute); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
			var v bool
			if v, err = chromedp.Run(ctx, chromedp.Evaluate[bool](s)); v {
				return
			}
		}
		says, _ := chromedp.Run(ctx, chromedp.Evaluate[string](`["unsaved", "trouble", "note-list"].map((id) => id + ": " + document.getElementById(id)?.textContent).join("; ")`))
		t.Fatalf("it never happened that %s (%v); the page says %s", s, err, says)
	}
	messages := chromedp.Console(ctx)
	var stopped atomic.Bool // then the page may complain that nobody answers
	go func() {
		for m, err := range messages {
			if err != nil {
				return
			}
			if !stopped.Load() {
				t.Errorf("the console says %s", m)
			}
		}
	}()

	do(chromedp.EmulateViewport(1280, 900), chromedp.Navigate(address))
	seen(`/not heard/.test(document.querySelector("#lessons .result")?.textContent ?? "")`)
	do(js(`document.querySelector("#lessons a").click()`))
	seen(`document.body.dataset.revision !== undefined && !!document.querySelector('[data-step="carb-heat-cold"].is-heard')`)

	do(js(`sessionStorage.setItem("sidetone.author", "B. Instructor")`))
	do(js(`document.querySelector('[data-keep="step-trim"]').click()`))
	do(js(`document.querySelector('[data-keep="overrule-trim"]').click()`))
	do(js(`document.getElementById("overrule-reason").value = "He trimmed again later."; document.querySelector('#overrule [value="ok"]').click()`))
	seen(`document.querySelector('[data-step="trim"] .struck')?.textContent.includes("out of order")`)

	// What was taken for carb heat cold was something else: the step is not heard.
	do(js(`[...document.querySelectorAll("#panel-words li")].find((e) => /carb heat cold/i.test(e.textContent)).querySelector('[data-keep^="correct"]').click()`))
	do(js(`document.querySelectorAll(".fields input").forEach((f, i) => { f.value = ["Nice", "and", "smooth"][i] ?? "" }); document.querySelector(".editing form").requestSubmit()`))
	seen(`!!document.querySelector('[data-step="carb-heat-cold"].is-not-heard')`)

	do(js(`document.getElementById("add-note").click()`))
	do(js(`document.getElementById("note-text").value = "Good lookout."; document.querySelector('#note [value="ok"]').click()`))
	seen(`/Good lookout\.(?!.*not saved yet)/.test(document.getElementById("note-list").textContent) && document.getElementById("unsaved").hidden`)
	seen(`!document.getElementById("note").open`) // it closes a moment after what it wrote is shown

	// A note is begun, and the program is killed before it is sent.
	do(js(`document.getElementById("add-note").click()`))
	stopped.Store(true)
	cmd.Process.Kill()
	cmd.Wait()
	do(js(`document.getElementById("note-text").value = "Written while it was stopped."; document.querySelector('#note [value="ok"]').click()`))
	seen(`document.getElementById("unsaved").textContent.includes("1 change not saved yet")`)
	base[len(base)-1] = strings.TrimPrefix(address, "http://")
	deskAt(t, words, base...)
	seen(`document.getElementById("note-list").textContent.includes("Written while it was stopped.") && document.getElementById("unsaved").hidden`)
	do(js(`location.reload()`))
	seen(`document.body?.dataset.revision !== undefined && ["Good lookout.", "Written while it was stopped."].every((n) => document.getElementById("note-list").textContent.includes(n))`)
	seen(`document.querySelector('[data-step="trim"] .struck')?.textContent.includes("out of order") && !!document.querySelector('[data-step="carb-heat-cold"].is-not-heard')`)

	where, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.querySelector('a[href$="export.html"]').href`))
	if err != nil {
		t.Fatal(err)
	}
	answer, err := http.Get(where)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	page, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	file := t.TempDir() + "/lesson.html"
	if err := os.WriteFile(file, page, 0o644); err != nil {
		t.Fatal(err)
	}
	do(chromedp.Navigate("file://" + file))
	for _, said := range []string{"Good lookout.", "He trimmed again later."} {
		seen(fmt.Sprintf(`document.body.textContent.includes(%q)`, said))
	}
}
