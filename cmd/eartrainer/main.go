// Command eartrainer, for contributors, teaches the network of phonemes
// (audio/recognise/phones) and writes its file: synthetic voices speak calls,
// everyday English, words and figures; they are mixed with cabin noise, heard by
// the encoder of the embedded recogniser, and learnt from.
//
//	go run ./cmd/eartrainer --models bin/models --work bin/network
//
// It needs Debian's flite; festival with festvox-kallpc16k, festvox-kdlpc16k and
// festvox-us-slt-hts; espeak-ng; and for the report on a real voice
// asterisk-core-sounds-en and asterisk-core-sounds-en-wav. Voices that are missing
// are done without. The work folder keeps what was spoken and encoded, about 4 GB,
// so that a second run only learns; the same voices and seed give the same file.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"

	"github.com/google/renameio/v2"
	"github.com/spf13/cobra"

	"sidetone/audio"
	"sidetone/audio/models"
	"sidetone/audio/recognise/onnx"
	"sidetone/audio/recognise/phones"
	"sidetone/audio/recognise/phones/train"
)

type options struct {
	models, work, out string
	from              string
	mean              bool
	sentences, epochs int
	clips             int
	hold              []string
	seed              uint64
	workers           int
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	var o options
	cmd := &cobra.Command{
		Use:           "eartrainer",
		Short:         "Teach the network of phonemes",
		Args:          cobra.NoArgs,
		SilenceUsage:  true,
		SilenceErrors: true,
		RunE:          func(cmd *cobra.Command, _ []string) error { return run(cmd.Context(), o, cmd.OutOrStdout()) },
	}
	fl := cmd.Flags()
	fl.StringVar(&o.models, "models", "bin/models", "folder of the listening files")
	fl.StringVar(&o.work, "work", "bin/network", "folder for what is spoken and encoded")
	fl.StringVarP(&o.out, "out", "o", "audio/recognise/phones/english.net", "the network's file")
	fl.StringVar(&o.from, "from", "", "teach this network further, more gently; a new one when not given")
	fl.BoolVar(&o.mean, "mean", false, "write the mean of the network taught further and the one it was taught from")
	fl.IntVar(&o.sentences, "sentences", 14600, "sentences spoken, by all voices together")
	fl.IntVar(&o.clips, "clips", 0, "learn from so many clips of one to three sentences only; 0 is all")
	fl.IntVar(&o.epochs, "epochs", 4, "times all of them are learnt from")
	fl.StringSliceVar(&o.hold, "hold", nil, "voices not to learn from, only to measure with, as flite:rms,flite:awb")
	fl.Uint64Var(&o.seed, "seed", 1, "of everything that is by chance")
	fl.IntVar(&o.workers, "workers", 2, "cores to use")
	if err := cmd.ExecuteContext(ctx); err != nil {
		fmt.Fprintln(os.Stderr, "eartrainer:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, o options, report io.Writer) error {
	if o.mean && o.from == "" {
		return errors.New("--mean: there is no other network; name it with --from")
	}
	lines, err := plan(o.work, o.sentences, o.seed)
	if err != nil {
		return err
	}
	clips := group(lines, o.seed)
	if o.clips > 0 {
		clips = clips[:min(o.clips, len(clips))]
	}
	lines = lines[:0]
	for _, c := range clips {
		lines = append(lines, c.lines...)
	}
	if err := speak(ctx, lines, o.workers, every(500, report, "lines spoken")); err != nil {
		return err
	}
	learn, human, err := encoded(ctx, o, clips, report)
	if err != nil {
		return err
	}
	p, err := split(learn, human, o.hold, o.seed)
	if err != nil {
		return err
	}
	frames := 0
	for _, e := range p.learn {
		frames += len(e.Frames) / train.English[0].In
	}
	fmt.Fprintf(report, "%d clips of %d frames to learn from\n", len(p.learn), frames)
	net, other, set, err := begin(o)
	if err != nil {
		return err
	}
	return teach(ctx, net, other, p, o.epochs, set, report, func(file []byte) error {
		return renameio.WriteFile(o.out, file, 0o644)
	})
}

// gently is the learning rate of a network taught further, as a share of the usual.
const gently = 0.5

// begin is the network that is taught, the one whose half is written with it (nil for
// none), and how it is taught.
func begin(o options) (net, other *train.Net, set train.Settings, err error) {
	set = train.Usual
	set.Seed, set.Parallel = o.seed, o.workers
	if o.from == "" {
		net, err = train.NewNet(train.English, o.seed)
		return net, nil, set, err
	}
	file, err := os.ReadFile(o.from)
	if err != nil {
		return nil, nil, set, err
	}
	known, err := phones.Load(file)
	if err != nil {
		return nil, nil, set, fmt.Errorf("%s: %w", o.from, err)
	}
	if o.mean {
		other = train.Further(known)
	}
	set.Rate *= gently
	return train.Further(known), other, set, nil
}

// encoded gives the clips and the prompts as the encoder hears them.
func encoded(ctx context.Context, o options, clips []clip, report io.Writer) (learn, human []example, err error) {
	set, err := models.Find(o.models)
	if err != nil {
		return nil, nil, err
	}
	r, err := onnx.New(set, onnx.Options{Threads: 1})
	if err != nil {
		return nil, nil, err
	}
	defer r.Close()
	want := train.English[0].In - phones.Spectrum
	if _, size, err := r.States(make([]float32, audio.Rate)); err != nil {
		return nil, nil, err
	} else if size != want {
		return nil, nil, fmt.Errorf("the encoder in %s gives frames of %d numbers, expected %d, as of the base model", o.models, size, want)
	}
	encode := func(samples []float32) ([]float32, error) {
		states, size, err := r.States(samples)
		if err != nil {
			return nil, err
		}
		return phones.Features(states, size, samples), nil
	}
	recorded, err := prompts()
	if err != nil {
		return nil, nil, err
	}
	heard := func(name string, clips []clip) ([]example, error) {
		return gather(ctx, filepath.Join(o.work, name), clips, encode, o.workers, every(10*clipsInFile, report, name+": clips heard"))
	}
	if learn, err = heard("learn", clips); err != nil {
		return nil, nil, err
	}
	human, err = heard(promptVoice, recorded)
	return learn, human, err
}

// every reports progress now and then.
func every(n int, report io.Writer, what string) func(done, all int) {
	return func(done, all int) {
		if done%n == 0 || done == all {
			fmt.Fprintf(report, "%s: %d of %d\n", what, done, all)
		}
	}
}
