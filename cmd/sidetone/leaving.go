package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"sync"
	"time"
)

// patience is how long work under way may take to end by itself once the user
// asked to stop. A model being loaded, or a long sentence in the recogniser,
// cannot be asked; so the program then leaves without it.
const patience = 600 * time.Millisecond

// leaveSoon ends the program when it does not end by itself once ctx has ended.
// The function it gives calls it off.
func leaveSoon(ctx context.Context, stderr io.Writer) (stay func()) {
	ended := make(chan struct{})
	go func() {
		select {
		case <-ended:
			return
		case <-ctx.Done():
		}
		select {
		case <-ended:
		case <-time.After(patience):
			halfWritten.removeAll()
			fmt.Fprintln(stderr, stopped)
			os.Exit(exitFailure)
		}
	}()
	return func() { close(ended) }
}

// stopped is said when the user stops the program.
const stopped = "sidetone: stopped; no debrief was written. What was recognised so far is kept: the same command goes on from there."

// halfWritten are the files that must not stay when the program leaves at once.
var halfWritten unfinished

type unfinished struct {
	mu    sync.Mutex
	names map[string]bool
}

func (f *unfinished) add(name string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.names == nil {
		f.names = map[string]bool{}
	}
	f.names[name] = true
}

func (f *unfinished) done(name string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	delete(f.names, name)
}

func (f *unfinished) removeAll() {
	f.mu.Lock() // and keeps it: nothing is begun any more
	for name := range f.names {
		_ = os.Remove(name)
	}
}
