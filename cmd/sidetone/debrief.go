package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/library"
	"sidetone/timeline"
)

// debriefFlags are what the user asked of debrief.
type debriefFlags struct {
	procedures []string
	aircraft   string
	json       string
	html       string
	noHTML     bool
	sound      string
	span       spanFlags
	hearing    hearingFlags
	exports    exportFlags
}

func newDebrief() *cobra.Command {
	var f debriefFlags
	cmd := &cobra.Command{
		Use:   "debrief RECORDING...",
		Short: "Listen to a lesson and write its debrief",
		Long: `debrief listens to the recording of a lesson and says, step by step, what was
heard, what was not, and what came out of order, late or with another value.
It prints one table per maneuver and writes RECORDING.debrief.html beside the
recording: one file to open in a browser or hand on, with the audio inside.

RECORDING is a WAV file, or anything ffmpeg reads when ffmpeg is installed
(mp3, m4a, mp4, flac, ogg ...), or a file of the words: WebVTT, SRT, the JSON
recognisers save, or lines that begin with their time ("0:18 Carb heat on.").
Then everything but the hearing is done. Several recordings, in the order they
were made, are debriefed as one: recorders split a lesson into files.

Without --procedure the maneuvers are found; with it only that procedure is
looked for. A procedure or aircraft is the name of a built-in one (see:
sidetone procedures list) or a YAML file. --from and --to narrow what is judged
to a stretch of the recording; the rest is heard all the same.

--captions lesson.txt writes what was said; put it right in any editor, and give
it back with --words lesson.txt beside the recording.

Who speaks is known where each seat has a channel (--left, --right), or by voices
learnt with --voice: ten seconds of each from a clip, or of the recording itself.
Else it is unknown, and what a procedure asks of one seat is not applied.

The audio stays on this machine, unless --recogniser remote is named: then the
stretches of speech, and nothing else of it, are sent to --endpoint, and what is
sent is said before. A key is read from SIDETONE_KEY, or from the file
sidetone/config.yaml in the user's config folder, which may name endpoint and
model too.

The words recognised are kept in the user's cache folder (sidetone/words,
readable by the user only), so that a run that was stopped goes on where it was:
--keep-nothing keeps none, --fresh uses none.

Exit status: 0 when a debrief was made, whatever it says; 2 when the command
line is wrong; 1 when it failed.`,
		Example: `  sidetone debrief lesson.wav
  sidetone debrief lesson.wav --procedure slow-flight-clean --aircraft trainer.yaml
  sidetone debrief lesson.wav --procedure steep-turns --from 12:30 --to 15:00
  sidetone debrief lesson.wav --json - | jq .maneuvers[].findings
  sidetone debrief lesson.wav --voice student=0:30-0:45 --voice instructor=1:10-1:22
  sidetone debrief part1.wav part2.wav --starts 14:32:05Z
  sidetone debrief captions.vtt
  sidetone debrief lesson.wav --captions lesson.txt
  sidetone debrief lesson.wav --words lesson.txt
  sidetone debrief lesson.wav --recogniser remote --model sidetone \
      --endpoint http://127.0.0.1:8765/v1`,
		Args: atLeast("RECORDING"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return debrief(cmd.Context(), args, f, cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	fl := cmd.Flags()
	fl.StringArrayVar(&f.procedures, "procedure", nil, "procedure to look for: a built-in name or a YAML file (may be repeated)")
	fl.StringVar(&f.aircraft, "aircraft", "", "aircraft flown: a built-in name or a YAML file (default the generic trainer)")
	fl.StringVar(&f.json, "json", "", "also write the debrief as JSON to this file; - is standard output, instead of the table")
	fl.StringVar(&f.html, "html", "", "write the page to this file instead of beside the recording")
	fl.BoolVar(&f.noHTML, "no-html", false, "write no page")
	fl.StringVar(&f.sound, "sound", "auto", "sound to put into the page: auto (all; over 50 MB mixed into one channel, or around the maneuvers), whole, maneuvers or none")
	f.span.add(fl)
	f.hearing.add(fl)
	f.exports.add(fl)
	_ = cmd.RegisterFlagCompletionFunc("procedure", completeProcedures)
	_ = cmd.RegisterFlagCompletionFunc("aircraft", completeAircraft)
	_ = cmd.RegisterFlagCompletionFunc("sound", cobra.FixedCompletions(soundChoices, cobra.ShellCompDirectiveNoFileComp))
	_ = cmd.RegisterFlagCompletionFunc("recogniser", cobra.FixedCompletions(recogniserChoices, cobra.ShellCompDirectiveNoFileComp))
	_ = cmd.RegisterFlagCompletionFunc("channels", cobra.FixedCompletions(channelChoices, cobra.ShellCompDirectiveNoFileComp))
	return cmd
}

// debrief does the whole job: nothing is written before all of it is known.
func debrief(ctx context.Context, paths []string, f debriefFlags, stdout, stderr io.Writer) error {
	if f.noHTML && f.html != "" {
		return usageErrorf("--html and --no-html exclude each other")
	}
	if f.sound != "" && !slices.Contains(soundChoices, f.sound) {
		return usageErrorf("--sound %q: one of %s", f.sound, strings.Join(soundChoices, ", "))
	}
	if _, err := f.span.given(); err != nil {
		return err
	}
	lexicon, err := callouts.Builtin()
	if err != nil {
		return err
	}
	asked, err := chooseProcedures(f.procedures, lexicon)
	if err != nil {
		return err
	}
	lexicon = withPhrases(lexicon, asked)
	aircraft, err := chooseAircraft(f.aircraft)
	if err != nil {
		return err
	}
	judge, err := judgeOf(asked, lexicon, aircraft)
	if err != nil {
		return err
	}
	out := &outputs{json: f.json, sound: f.sound}
	if out.sound == "" {
		out.sound = "auto"
	}
	if !f.noHTML {
		out.html = f.html
		if out.html == "" {
			out.html = strings.TrimSuffix(paths[0], filepath.Ext(paths[0])) + ".debrief.html"
		}
	}
	if out.exports, err = f.exports.files(); err != nil {
		return err
	}
	if err := writable(out.html, out.json); err != nil {
		return err
	}
	for _, e := range out.exports {
		if err := writable(e.path); err != nil {
			return err
		}
	}
	l, err := takeIn(ctx, paths, f.hearing, lexicon, stderr)
	if err != nil {
		return err
	}
	span, err := f.span.within(l.recording.Duration)
	if err != nil {
		return err
	}
	tl := judge.Debrief(l.recording, l.words, span, l.notes)
	return out.write(ctx, tl, l, stdout, stderr)
}

// judgeOf judges by the procedures asked for, or else the built-in ones.
func judgeOf(asked []*rules.Procedure, lexicon *callouts.Lexicon, ac *rules.Aircraft) (*timeline.Judge, error) {
	if len(asked) > 0 {
		return timeline.NewJudgeOf(lexicon, asked, ac)
	}
	procs, err := library.Procedures()
	if err != nil {
		return nil, err
	}
	return timeline.NewJudge(lexicon, procs, ac)
}

// explain puts an error about a file into words for people.
func explain(path string, err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s: there is no such file", path)
	}
	if errors.Is(err, os.ErrPermission) {
		return fmt.Errorf("%s: no permission to read it", path)
	}
	return err
}
