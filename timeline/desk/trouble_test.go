package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"sidetone/timeline/logbook"
)

// deaf ears refuse a file as the program's own do, by its path.
type deaf struct{ fake }

func (deaf) Listen(_ context.Context, _ logbook.Lesson, paths []string, _ func(Progress)) (*Heard, error) {
	return nil, fmt.Errorf("%s: this is text, whatever its name says: not a readable recording", paths[0])
}

func TestTroubleNamesTheFileAsTheUserKnowsIt(t *testing.T) {
	c := start(t, t.TempDir(), func(o *Options) { o.Ears = deaf{} })
	for _, file := range []string{"steps of may.csv", "no ending", "x.a-long-ending"} {
		_, b := c.upload(nil, file, "of "+file)
		var made Created
		if err := json.Unmarshal(b, &made); err != nil {
			t.Fatal(err)
		}
		c.wait(made.ID, func(s *State) bool { return s.Trouble != "" })
		if s := c.state(made.ID); s.Trouble != file+": this is text, whatever its name says: not a readable recording" {
			t.Errorf("%s: %q", file, s.Trouble)
		}
	}
	if _, _, page := c.get("/"); strings.Contains(string(page), c.dir) {
		t.Error("the list shows the library's own folder")
	}
}

func unheard(t *testing.T, one context.Context) {
	c := start(t, t.TempDir(), func(o *Options) { o.Ears = deaf{} })
	long := strings.Repeat("verylongname", 15) + ".csv"
	_, b := c.upload(nil, long, "text")
	var made Created
	if err := json.Unmarshal(b, &made); err != nil {
		t.Fatal(err)
	}
	c.wait(made.ID, func(s *State) bool { return s.Trouble != "" })
	ctx := tab(t, one, c.srv.URL+"/")
	seen(t, ctx, `document.querySelector("#lessons .result").textContent.includes("not a readable recording")`)
	const narrow = `(() => { const e = document.querySelector(".scroll"); return e.scrollWidth <= e.clientWidth && document.documentElement.scrollWidth <= innerWidth })()`
	if !ask[bool](t, ctx, narrow) {
		t.Error("a long name widens the list")
	}
	do(t, ctx, chromedp.Navigate(c.srv.URL+"/lessons/"+made.ID))
	seen(t, ctx, opened)
	text := ask[string](t, ctx, `document.querySelector("main").innerText`)
	if strings.Contains(text, "No maneuver was found") || strings.Count(text, "not a readable recording") != 1 || !strings.Contains(text, "could not be heard") {
		t.Errorf("the page says %s", text)
	}
	if wide := ask[int](t, ctx, `document.documentElement.scrollWidth - innerWidth`); wide > 0 {
		t.Errorf("the page is %d px wider than the window", wide)
	}
	do(t, ctx, chromedp.Click(chromedp.CSS(`#card button`)))
	seen(t, ctx, `document.getElementById("remove").open`)
	do(t, ctx, chromedp.Click(chromedp.CSS(`#remove button[value="ok"]`)))
	seen(t, ctx, `document.querySelector("#lessons .empty") !== null`)
}
