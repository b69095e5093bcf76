package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"runtime"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"sidetone/audio/hear"
	"sidetone/audio/lend"
	"sidetone/audio/models"
	"sidetone/audio/recognise/onnx"
	"sidetone/audio/speech"
	"sidetone/callouts"
	"sidetone/cmd/internal/expect"
)

// envToken names the environment variable that holds the token others must send.
const envToken = "SIDETONE_TOKEN"

// shortestToken is the least length of a token that lets others in over a network.
const shortestToken = 8

type lendFlags struct {
	listen        string
	models, model string
	threads       int
	queue         int
	megabytes     int
	minutes       int
}

func newLendEars() *cobra.Command {
	var f lendFlags
	cmd := &cobra.Command{
		Use:   "lend-ears",
		Short: "Let other machines use this one's recogniser",
		Long: `lend-ears recognises speech for other machines: a school's one good machine can
listen for the others. It answers the HTTP API many speech recognisers offer
(POST /v1/audio/transcriptions), so that sidetone elsewhere can use it with
--recogniser remote, and so can other programs. It runs until it is stopped.

It answers on this machine alone unless --listen names another address. Then a
token is required, in ` + envToken + ` or in the config file
(sidetone/config.yaml in the user's config folder, "lend: {token: ...}"), and
whoever asks must send it: sidetone elsewhere finds it in SIDETONE_KEY or in its
own config file. The connection is not encrypted: use it in a network you trust.

What is sent here is heard and forgotten: neither sound nor words are kept. The
log, on standard error, says who asked, when and how much, not what was said.`,
		Example: `  sidetone lend-ears
  sidetone lend-ears --listen 192.168.1.20:8765
  sidetone debrief lesson.wav --recogniser remote --model sidetone \
      --endpoint http://192.168.1.20:8765/v1`,
		Args: exactly(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return lendEars(cmd.Context(), f, cmd.ErrOrStderr())
		},
	}
	fl := cmd.Flags()
	fl.StringVar(&f.listen, "listen", "127.0.0.1:8765", "address and port to answer at")
	fl.StringVar(&f.models, "models", "", "folder of the listening files (default: models beside the program, then the user's cache)")
	fl.StringVar(&f.model, "model", "", "folder of another speech model of the same kind")
	fl.IntVar(&f.threads, "threads", max(2, runtime.NumCPU()), "processor cores to use")
	fl.IntVar(&f.queue, "queue", lend.DefaultQueue, "recordings that may wait while one is heard; more are told to come back")
	fl.IntVar(&f.megabytes, "max-upload-mb", lend.DefaultMaxBytes>>20, "largest file to take, in megabytes")
	fl.IntVar(&f.minutes, "max-minutes", lend.DefaultMaxSeconds/60, "longest sound to take, in minutes")
	return cmd
}

func lendEars(ctx context.Context, f lendFlags, stderr io.Writer) error {
	for name, v := range map[string]int{"--threads": f.threads, "--queue": f.queue, "--max-upload-mb": f.megabytes, "--max-minutes": f.minutes} {
		if v < 1 {
			return usageErrorf("%s %d: at least 1", name, v)
		}
	}
	here, err := loopback(f.listen)
	if err != nil {
		return err
	}
	token, err := lendToken()
	if err != nil {
		return err
	}
	switch {
	case !here && token == "":
		return usageErrorf("--listen %s lets other machines in: set a token they must know, in %s or as lend: token: in the config file", f.listen, envToken)
	case !here && len(token) < shortestToken:
		return usageErrorf("the token for other machines is too easy to guess: make it %d letters at least", shortestToken)
	}
	set, err := models.Find(f.models)
	if err != nil {
		return err
	}
	if f.model != "" {
		if set, err = set.WithModel(f.model); err != nil {
			return err
		}
	}
	lexicon, err := callouts.Builtin()
	if err != nil {
		return err
	}
	listening, err := expect.Listening(lexicon)
	if err != nil {
		return err
	}
	l, err := net.Listen("tcp", f.listen)
	if err != nil {
		return fmt.Errorf("cannot answer at %s: %w; name another address with --listen", f.listen, cause(err))
	}
	defer l.Close()
	recogniser, err := onnx.New(set, listening)
	if err != nil {
		return err
	}
	first, err := speech.NewDetector(set.Runtime, set.VAD) // stays open: the model is loaded once
	if err != nil {
		return err
	}
	ears := &lend.Ears{Recogniser: recogniser, Detectors: func() (hear.Detector, error) { return first.Another() }, Workers: f.threads}
	var mu sync.Mutex
	server := lend.New(lend.Options{
		Hear: ears.Hear, Token: token, MaxBytes: int64(f.megabytes) << 20, MaxSeconds: 60 * float64(f.minutes), Queue: f.queue,
		Log: func(line string) {
			mu.Lock()
			defer mu.Unlock()
			fmt.Fprintf(stderr, "%s  %s\n", time.Now().Format(time.DateTime), printable(line))
		},
	})
	fmt.Fprint(stderr, greeting(reached(l.Addr().String()), here, token != ""))
	// The recogniser is not closed: one may be listening with it still.
	if err := server.Serve(ctx, l); err != nil && !errors.Is(err, context.Canceled) {
		return err
	}
	fmt.Fprintln(stderr, "Stopped.")
	return nil
}

// loopback tells whether an address to listen at is this machine's own.
func loopback(address string) (bool, error) {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false, usageErrorf("--listen %q: write an address and a port, 127.0.0.1:8765", address)
	}
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback(), nil
}

// reached is the address others find this machine at: its name, where it answers at
// all of its addresses.
func reached(at string) string {
	host, port, err := net.SplitHostPort(at)
	if ip := net.ParseIP(host); err != nil || ip == nil || !ip.IsUnspecified() {
		return at
	}
	name, err := os.Hostname()
	if err != nil || name == "" {
		return at
	}
	return net.JoinHostPort(name, port)
}

func lendToken() (string, error) {
	if t := os.Getenv(envToken); t != "" {
		return t, nil
	}
	c, err := readConfig()
	if err != nil {
		return "", err
	}
	return c.Lend.Token, nil
}

func greeting(at string, here, token bool) string {
	who := "only this machine is let in"
	if !here {
		who = "other machines are let in, with the token; the connection is not encrypted"
	} else if token {
		who = "only this machine is let in, with the token"
	}
	return folded(fmt.Sprintf("Lending ears at http://%s/v1: %s. What is sent is heard and forgotten. Stop with Ctrl-C. To use it:", at, who), 79) +
		fmt.Sprintf("  sidetone debrief lesson.wav --recogniser remote --model %s \\\n      --endpoint http://%s/v1\n", lend.Model, at)
}

// printable keeps what others send from moving the cursor.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r >= 0x7f && r < 0xa0 {
			return -1
		}
		return r
	}, s)
}
