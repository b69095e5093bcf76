package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"time"

	"golang.org/x/term"

	"sidetone/audio"
	"sidetone/timeline"
	"sidetone/timeline/report"
)

// outputs says where the debrief goes: "" is nowhere.
type outputs struct {
	json, html, sound string

	exports []export

	page string // what is said of the page once it is written
}

// write makes the files and prints the table. Files appear whole or not at all.
func (o *outputs) write(ctx context.Context, tl *timeline.Timeline, l *lesson, stdout, stderr io.Writer) error {
	if o.html != "" {
		if err := o.writePage(ctx, tl, l); err != nil {
			return err
		}
	}
	for _, e := range o.exports {
		if err := whole(e.path, func(w io.Writer) error { return e.write(w, tl) }); err != nil {
			return err
		}
	}
	switch o.json {
	case "":
	case "-":
		if err := report.JSON(stdout, tl); err != nil {
			return err
		}
	default:
		if err := whole(o.json, func(w io.Writer) error { return report.JSON(w, tl) }); err != nil {
			return err
		}
	}
	if o.json == "-" {
		return nil
	}
	width, colour := screen(stdout)
	if err := report.Terminal(stdout, tl, report.TerminalOptions{Width: width, Colour: colour}); err != nil {
		return err
	}
	if o.html != "" {
		fmt.Fprintf(stderr, "The page to open or hand on: %s%s\n", o.html, o.page)
	}
	return nil
}

func (o *outputs) writePage(ctx context.Context, tl *timeline.Timeline, l *lesson) error {
	plan := planSound(ctx, o.sound, l, tl)
	media := report.Media{Peaks: l.peaks, Spans: plan.spans}
	if plan.note != "" {
		tl.Notes = append(tl.Notes, plan.note)
	}
	if !plan.none {
		sound, mime, err := encode(ctx, l, plan.excerpt)
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil:
			// What was heard was heard: a disk that is gone by now takes only the sound along.
			tl.Notes = append(tl.Notes, fmt.Sprintf("The page is without sound: %v.", err))
		default:
			defer os.Remove(sound.Name())
			defer sound.Close()
			media.Audio, media.MIME = sound, mime
		}
	}
	err := whole(o.html, func(w io.Writer) error {
		return report.HTML(w, tl, media, report.PageOptions{Made: time.Now(), Version: "sidetone " + version})
	})
	if err == nil {
		o.page = pageSize(o.html, plan, media.MIME)
	}
	return err
}

// encode makes the small sound for the page in a temporary file, read from its
// start. Where the system allows, the file has no name any more: it is gone
// however the program ends.
func encode(ctx context.Context, l *lesson, e audio.Excerpt) (*os.File, string, error) {
	f, err := os.CreateTemp("", "sidetone-*.sound")
	if err != nil {
		return nil, "", fmt.Errorf("the folder for temporary files cannot be written: %w", sayWhy(err))
	}
	_ = os.Remove(f.Name())
	mime, err := l.tape.Encode(ctx, e, f)
	if err == nil {
		_, err = f.Seek(0, io.SeekStart)
	}
	if err != nil {
		f.Close()
		os.Remove(f.Name())
		if full(err) {
			err = fmt.Errorf("in %s, for temporary files, %w", os.TempDir(), sayWhy(err))
		}
		return nil, "", err
	}
	return f, mime, nil
}

// screen is the width to draw for, and whether colours may be added.
func screen(w io.Writer) (width int, colour bool) {
	f, ok := w.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return 80, false
	}
	width, _, err := term.GetSize(int(f.Fd()))
	if err != nil || width <= 0 {
		width = 80
	}
	// https://no-color.org: any non-empty value.
	return min(width, 110), os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
}
