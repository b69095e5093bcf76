// Command sidetone listens to the recording of a flying lesson and writes the
// debrief.
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"syscall"
)

// Exit statuses: a debrief that finds faults is still a debrief.
const (
	exitDone    = 0
	exitFailure = 1
	exitUsage   = 2
)

func main() { os.Exit(run(os.Args[1:])) }

func run(args []string) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	root := newRoot()
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return exitDone
	}
	if errors.Is(err, context.Canceled) {
		fmt.Fprintln(root.ErrOrStderr(), "sidetone: stopped; nothing was written")
		return exitFailure
	}
	fmt.Fprintln(root.ErrOrStderr(), "sidetone:", oneLine(err))
	var u usageError
	if errors.As(err, &u) {
		fmt.Fprintln(root.ErrOrStderr(), "See: sidetone --help, or sidetone COMMAND --help")
		return exitUsage
	}
	return exitFailure
}
