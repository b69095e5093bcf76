package desk

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
)

// SHOT="path.png|url|w|h|dark|js"
func TestScratchShot(t *testing.T) {
	if os.Getenv("SHOT") == "" {
		t.Skip()
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath("/usr/bin/chromium"), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()), chromedp.Flag("disable-quic", true), chromedp.Flag("hide-scrollbars", true))
	ctx, c := chromedp.NewExecAllocator(context.Background(), opts...)
	defer c()
	ctx, c2 := chromedp.NewContext(ctx)
	defer c2()
	go func() {
		for m, err := range chromedp.Console(ctx) {
			if err != nil {
				return
			}
			fmt.Println("CONSOLE", m.String())
		}
	}()
	for _, line := range strings.Split(os.Getenv("SHOT"), "\n") {
		f := strings.SplitN(line, "|", 6)
		var w, h int64
		fmt.Sscan(f[2], &w)
		fmt.Sscan(f[3], &h)
		scheme := "light"
		if f[4] == "dark" {
			scheme = "dark"
		}
		if err := chromedp.Do(ctx, chromedp.EmulateViewport(w, h), chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
			return err
		}), chromedp.Navigate(f[1]), chromedp.Sleep(1500*time.Millisecond)); err != nil {
			t.Fatal(err)
		}
		if f[5] != "" {
			v, err := chromedp.Run(ctx, chromedp.Evaluate[any](f[5]))
			fmt.Println("JS", v, err)
			time.Sleep(700 * time.Millisecond)
		}
		b, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
		if err != nil {
			t.Fatal(err)
		}
		os.WriteFile(f[0], b, 0o644)
	}
}
