package desk

import (
	"context"
	"testing"
)

// printed looks at the sheets of a lesson with a note before its only maneuver, one in it
// and one after it, and with full power overruled, which is a matter of safety.
func printed(t *testing.T, one context.Context) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	for text, at := range map[string]float64{"before the maneuver": 2, "in the maneuver": 30, "long after it": 95} {
		c.post(id, Fact{Kind: "note", At: &at, Text: text}, 201)
	}
	c.post(id, overruled("Robin", "full-power", "late", "we sank"), 201)
	ctx := tab(t, one, c.srv.URL+"/lessons/"+id+"/print")
	seen(t, ctx, `document.querySelector(".sheet") !== null`)
	for js, want := range map[string]string{
		`document.querySelector(".sheet .of-all").innerText.match(/before the maneuver|in the maneuver|long after it/g).sort().join()`:            "before the maneuver,long after it",
		`document.querySelector(".sheet .sheet-notes:not(.of-all)").innerText.match(/before the maneuver|in the maneuver|long after it/g).join()`: "in the maneuver",
		`[...document.querySelectorAll(".sheet-find")].map((e) => e.querySelector(".level").innerText).join()`:                                    "SAFETY,Important,Important",
	} {
		if got := ask[string](t, ctx, js); got != want {
			t.Errorf("%s is %q, want %q", js, got, want)
		}
	}
}
