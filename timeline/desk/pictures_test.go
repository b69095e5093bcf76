package desk

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// Pictures of a desk that is open at SIDETONE_DESK, into the folder SIDETONE_PICTURES,
// as .ci/desk-pictures asks for: at the size of a laptop, of a tablet and of a
// laptop at 200 %, light and dark. Its first lesson must have been listened to.
func TestPictures(t *testing.T) {
	into, at := os.Getenv("SIDETONE_PICTURES"), os.Getenv("SIDETONE_DESK")
	if into == "" || at == "" {
		t.Skip("make desk-pictures takes them")
	}
	drawn := `[...document.querySelectorAll("*")].some((e) => e.shadowRoot && [...e.shadowRoot.querySelectorAll("canvas")].some((c) => {
		const d = c.getContext("2d").getImageData(0, 0, c.width, c.height).data; return d.some((v) => v > 0) }))`
	for _, p := range []struct {
		name, path    string
		width, height int64
		scheme        string
	}{
		{"desk", "/lessons/1", 1280, 900, "light"},
		{"desk-dark", "/lessons/1", 1280, 900, "dark"},
		{"desk-tablet", "/lessons/1", 820, 1180, "light"},
		{"desk-tablet-dark", "/lessons/1", 820, 1180, "dark"},
		{"desk-twice", "/lessons/1", 640, 400, "light"},
		{"desk-twice-dark", "/lessons/1", 640, 400, "dark"},
		{"desk-library", "/", 1280, 500, "light"},
	} {
		ctx := browser(t, "about:blank")
		scheme := chromedp.Func(func(ctx context.Context, tab *chromedp.Target) error {
			_, err := cdp.Call(ctx, tab, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
				Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: p.scheme}}})
			return err
		})
		do(t, ctx, chromedp.EmulateViewport(p.width, p.height), scheme, chromedp.Navigate(at+p.path))
		if p.path != "/" {
			seen(t, ctx, drawn)
		}
		picture, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(into, p.name+".png"), picture, 0o666); err != nil {
			t.Fatal(err)
		}
	}
}
