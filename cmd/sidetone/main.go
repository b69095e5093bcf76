// Command sidetone listens to the recording of a flying lesson and writes the
// debrief.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"
)

// Exit statuses: a debrief that finds faults is still a debrief.
const (
	exitDone    = 0
	exitFailure = 1
	exitUsage   = 2
)

func main() {
	// A listening program makes much short-lived garbage beside large models: half
	// the usual room for it costs a few percent of time and saves 60 MB.
	debug.SetGCPercent(50)
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	stay := leaveSoon(ctx, os.Stderr)
	code := runIn(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stay()
	stop()
	os.Exit(code)
}

func run(args []string, stdout, stderr io.Writer) int {
	return runIn(context.Background(), args, stdout, stderr)
}

func runIn(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	root := newRoot()
	root.SetArgs(args)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return exitDone
	}
	if errors.Is(err, context.Canceled) {
		fmt.Fprintln(stderr, stopped)
		return exitFailure
	}
	fmt.Fprintln(stderr, "sidetone:", oneLine(err))
	var u usageError
	if errors.As(err, &u) {
		fmt.Fprintln(stderr, "See: sidetone --help, or sidetone COMMAND --help")
		return exitUsage
	}
	return exitFailure
}
