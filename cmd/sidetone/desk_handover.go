package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"sidetone/timeline/desk"
	"sidetone/timeline/logbook"
)

// handOver puts recordings into the library of a desk that is open already: it notices
// them and listens. Where the address is taken by something else, taken says so.
func (f deskFlags) handOver(ctx context.Context, dir string, offers []desk.Offer, stdout, stderr io.Writer, taken error) error {
	if _, err := os.Stat(filepath.Join(dir, logbook.FileName)); err != nil {
		return taken
	}
	book, err := logbook.Open(ctx, dir)
	if err != nil {
		return err
	}
	defer book.Close()
	open := book.OpenDesks()
	if len(open) == 0 {
		return taken
	}
	address := open[0]
	fmt.Fprintf(stdout, "A desk over this library is open already at %s\n", address)
	at := address
	for _, o := range offers {
		name := strings.Join(o.Paths, ", ")
		id, known, err := desk.TakeIn(ctx, book, o, f.copy)
		if err != nil {
			return explain(name, err)
		}
		at = fmt.Sprintf("%slessons/%d", address, id)
		if known {
			fmt.Fprintf(stdout, "%s is in its library already: %s\n", name, at)
		} else {
			fmt.Fprintf(stdout, "%s was put into its library; that desk listens to it: %s\n", name, at)
		}
	}
	if f.open {
		if err := browse(at); err != nil {
			fmt.Fprintf(stderr, "The browser was not opened: %v. Open the address yourself.\n", err)
		}
	}
	return nil
}
