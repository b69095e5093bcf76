package main

import (
	"fmt"
	"io"
	"os"
	"sync"
	"time"

	"golang.org/x/term"

	"sidetone/audio/hear"
	"sidetone/rules"
)

// progress keeps one line on the terminal up to date; it is quiet when piped.
type progress struct {
	w     io.Writer
	last  time.Time
	shown bool
	mu    sync.Mutex
}

func newProgress(w io.Writer) *progress {
	if f, ok := w.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		return &progress{w: w}
	}
	return &progress{}
}

func (p *progress) show(now hear.Progress) {
	if p.w == nil || time.Since(p.last) < 100*time.Millisecond {
		return
	}
	p.last, p.shown = time.Now(), true
	line := now.Stage
	if now.Position > 0 {
		line = fmt.Sprintf("%s  %s", line, rules.Clock(now.Position))
		if now.Duration > 0 {
			line += fmt.Sprintf(" of %s (%.0f %%)", rules.Clock(now.Duration), 100*min(1, now.Position/now.Duration))
		}
		line += fmt.Sprintf("  speech %s", rules.Clock(now.Speech))
		if s := now.Elapsed.Seconds(); s > 1 {
			line += fmt.Sprintf("  %.0f times as fast as flown", now.Position/s)
		}
	}
	fmt.Fprintf(p.w, "\r\x1b[K%.79s", line)
}

// say shows a line at once; it may be called by several goroutines, but not beside
// show.
func (p *progress) say(line string) {
	if p.w == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.shown = true
	fmt.Fprintf(p.w, "\r\x1b[K%.79s", line)
}

func (p *progress) clear() {
	if p.shown {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
}
