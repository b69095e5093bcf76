package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/google/renameio/v2"
	"golang.org/x/term"

	"sidetone/audio"
	"sidetone/timeline"
	"sidetone/timeline/report"
)

// outputs says where the debrief goes: "" is nowhere.
type outputs struct {
	json, html string
}

// write makes the files and prints the table. Files appear whole or not at all.
func (o outputs) write(ctx context.Context, tl *timeline.Timeline, l *lesson, stdout, stderr io.Writer) error {
	if o.html != "" {
		if err := o.writePage(ctx, tl, l); err != nil {
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
		fmt.Fprintf(stderr, "The page to open or hand on: %s\n", o.html)
	}
	return nil
}

func (o outputs) writePage(ctx context.Context, tl *timeline.Timeline, l *lesson) error {
	media := report.Media{Peaks: l.peaks}
	if l.tape != nil {
		sound, mime, err := encode(ctx, l)
		if err != nil {
			return err
		}
		defer os.Remove(sound.Name())
		defer sound.Close()
		media.Audio, media.MIME = sound, mime
	}
	return whole(o.html, func(w io.Writer) error {
		return report.HTML(w, tl, media, report.PageOptions{Made: time.Now(), Version: "sidetone " + version})
	})
}

// encode makes the small sound for the page in a temporary file, read from its start.
func encode(ctx context.Context, l *lesson) (*os.File, string, error) {
	f, err := os.CreateTemp("", "sidetone-*.sound")
	if err != nil {
		return nil, "", err
	}
	mime, err := l.tape.Encode(ctx, audio.Excerpt{Layouts: l.layouts}, f)
	if err == nil {
		_, err = f.Seek(0, io.SeekStart)
	}
	if err != nil {
		f.Close()
		os.Remove(f.Name())
		return nil, "", fmt.Errorf("preparing the sound for the page: %w", err)
	}
	return f, mime, nil
}

// whole writes a file that appears only once it is complete.
func whole(path string, write func(io.Writer) error) error {
	f, err := renameio.NewPendingFile(path, renameio.WithPermissions(0o644))
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w; name another place with --html or --json", path, cause(err))
	}
	defer f.Cleanup()
	if err := write(f); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if err := f.CloseAtomicallyReplace(); err != nil {
		return fmt.Errorf("%s cannot be written: %w", path, cause(err))
	}
	return nil
}

// cause drops the name of the temporary file from an error of the system.
func cause(err error) error {
	var p *os.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
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
