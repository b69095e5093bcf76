package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"sidetone/audio/transcript"
	"sidetone/timeline"
	"sidetone/timeline/report"
)

// exportFlags name files to write for other programs.
type exportFlags struct{ captions, chapters, steps, calls string }

func (f *exportFlags) add(fl *pflag.FlagSet) {
	fl.StringVar(&f.captions, "captions", "", "also write what was said to this `file`: .vtt or .srt captions, .txt lines to correct by hand, .json as recognisers save it")
	fl.StringVar(&f.chapters, "chapters", "", "also write the maneuvers, and in them what to talk about, as WebVTT chapters to this `file`")
	fl.StringVar(&f.steps, "steps-csv", "", "also write the steps, one a line, as a CSV table to this `file`")
	fl.StringVar(&f.calls, "calls-csv", "", "also write the calls heard, one a line, as a CSV table to this `file`")
}

// export is a file to write.
type export struct {
	path  string
	write func(io.Writer, *timeline.Timeline) error
}

// files lists what was asked for.
func (f exportFlags) files() ([]export, error) {
	captions, err := captionsBy(filepath.Ext(f.captions))
	if err != nil && f.captions != "" {
		return nil, err
	}
	steps := func(w io.Writer, tl *timeline.Timeline) error { return report.WriteStepsCSV(w, tl) }
	var out []export
	seen := map[string]bool{}
	for _, e := range []export{{f.captions, captions}, {f.chapters, report.WriteChapters}, {f.steps, steps}, {f.calls, report.WriteCallsCSV}} {
		if e.path == "" {
			continue
		}
		if seen[e.path] {
			return nil, usageErrorf("%s is named for two different files", e.path)
		}
		seen[e.path] = true
		out = append(out, e)
	}
	return out, nil
}

// captionsBy is what writes the words, by the ending of the file.
func captionsBy(ending string) (func(io.Writer, *timeline.Timeline) error, error) {
	words := func(write func(io.Writer, *transcript.Transcript) error) func(io.Writer, *timeline.Timeline) error {
		return func(w io.Writer, tl *timeline.Timeline) error {
			return write(w, &transcript.Transcript{Utterances: tl.Transcript})
		}
	}
	switch strings.ToLower(ending) {
	case ".vtt":
		return report.WriteCaptions, nil
	case ".srt":
		return words(transcript.WriteSRT), nil
	case ".txt":
		return words(transcript.WritePlain), nil
	case ".json":
		return words(transcript.WriteVerbose), nil
	}
	return nil, usageErrorf("--captions: the name should end in .vtt, .srt, .txt or .json, which says how to write it")
}

// wordsFlag names a transcript that was corrected by hand.
type wordsFlag struct{ path string }

func (f *wordsFlag) add(fl *pflag.FlagSet) {
	fl.StringVar(&f.path, "words", "", "take the words from this `file`, put right by hand; words that were not changed keep the times they are heard at")
}

// read reads it before the recording is listened to; nil when there is none.
func (f wordsFlag) read() (*transcript.Transcript, error) {
	if f.path == "" {
		return nil, nil
	}
	t, err := transcript.ReadFile(f.path)
	if err != nil {
		return nil, explain(f.path, err)
	}
	return t, nil
}

// correct puts the words of a lesson right.
func (f wordsFlag) correct(l *lesson, edited *transcript.Transcript) {
	if edited == nil {
		return
	}
	l.words = transcript.Correct(l.words, edited)
	l.notes = append(l.notes, fmt.Sprintf("The words are those of %s, put right by hand. Words that were not changed keep the times they were heard at.", filepath.Base(f.path)))
}
