// Command talkgatherer, for contributors, gathers the sentences that the model of
// cockpit talk is made of (audio/recognise/talk): those of testdata/meanings,
// testdata/talk and the sentences to tune on, and the lexicon's likeliest phrases.
// What is held back is left out.
package main

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"github.com/google/renameio/v2"
	"github.com/spf13/cobra"

	"sidetone/callouts"
	"sidetone/cmd/internal/lesson"
)

func main() {
	var project, out string
	var without []string
	cmd := &cobra.Command{
		Use:          "talkgatherer",
		Short:        "Gather the sentences the model of cockpit talk is made of",
		Args:         cobra.NoArgs,
		SilenceUsage: true,
		RunE: func(cmd *cobra.Command, _ []string) error {
			sentences, err := gather(project, without)
			if err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%d sentences\n", len(sentences))
			b, err := pack(strings.Join(sentences, "\n"))
			if err != nil {
				return err
			}
			return renameio.WriteFile(filepath.Join(project, out), b, 0o644)
		},
	}
	cmd.Flags().StringVar(&project, "project", ".", "the project's folder")
	cmd.Flags().StringVarP(&out, "out", "o", "audio/recognise/talk/english.txt.gz", "the file, in the project's folder")
	cmd.Flags().StringSliceVar(&without, "without", nil, "leave out files of these names, to measure on them")
	if err := cmd.Execute(); err != nil {
		os.Exit(1)
	}
}

// likely are the odds from which a phrase of the lexicon is taken in.
const likely = -1.0

func gather(project string, without []string) ([]string, error) {
	var out []string
	for _, pattern := range []string{"testdata/meanings/lot-*.txt", "testdata/talk/*.txt"} {
		files, err := filepath.Glob(filepath.Join(project, pattern))
		if err != nil {
			return nil, err
		}
		for _, file := range files {
			if slices.Contains(without, filepath.Base(file)) {
				continue
			}
			f, err := lesson.ReadMarked(file)
			if err != nil {
				return nil, err
			}
			for _, l := range f.Lines {
				out = append(out, sentences(strings.Join(l.Words, " "))...)
			}
		}
	}
	said, err := lesson.ReadSentences(filepath.Join(project, "testdata/stances-tuning.yaml"), filepath.Join(project, "testdata/wordings.yaml"))
	if err != nil {
		return nil, err
	}
	for _, s := range said {
		out = append(out, sentences(s.Say)...)
	}
	lexicon, err := callouts.Builtin()
	if err != nil {
		return nil, err
	}
	expected, err := lexicon.Expected()
	if err != nil {
		return nil, err
	}
	for _, e := range expected {
		if e.Odds >= likely {
			out = append(out, e.Phrase)
		}
	}
	return out, nil
}

var ends = regexp.MustCompile(`[.?!…;:]+(\s+|$)`)

// sentences parts a text and writes each as it is spoken: small letters, no marks,
// figures in words.
func sentences(text string) []string {
	var out []string
	for _, s := range ends.Split(text, -1) {
		if words := callouts.Spoken(s); len(words) > 0 {
			out = append(out, strings.Join(words, " "))
		}
	}
	return out
}

func pack(text string) ([]byte, error) {
	var b bytes.Buffer
	w, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	if _, err := w.Write([]byte(text + "\n")); err != nil {
		return nil, err
	}
	err = w.Close()
	return b.Bytes(), err
}
