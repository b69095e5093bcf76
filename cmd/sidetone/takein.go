package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"sidetone/audio"
	"sidetone/audio/hear"
	"sidetone/audio/models"
	"sidetone/audio/recognise"
	"sidetone/audio/recognise/onnx"
	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/cmd/internal/expect"
	"sidetone/timeline"
)

// hearingFlags say how to listen.
type hearingFlags struct {
	models, model string
	threads       int
	channels      string
	left, right   string
	starts        string
	voices        []string
	keeping       keepingFlags
	sending       sendingFlags
	words         wordsFlag
	told          func(hear.Progress) // told of progress as well, or nil
}

var channelChoices = []string{"auto", "left", "right", "both"}

func (h *hearingFlags) add(fl *pflag.FlagSet) {
	fl.StringVar(&h.models, "models", "", "folder of the listening files (default: models beside the program, then the user's cache)")
	fl.StringVar(&h.model, "model", "", "folder of another speech model of the same kind; the name of a model with --recogniser remote")
	fl.IntVar(&h.threads, "threads", 2, "processor cores to use")
	fl.StringVar(&h.channels, "channels", "auto", "channels to listen to: auto, left, right or both")
	fl.StringVar(&h.left, "left", "", "who sits on the left channel, when each seat has its own")
	fl.StringVar(&h.right, "right", "", "who sits on the right channel")
	fl.StringArrayVar(&h.voices, "voice", nil, voiceUsage)
	fl.StringVar(&h.starts, "starts", "", "time of day the recording begins at: 14:32:05Z, 14:32:05+02:00, 14:32 (default: what the file says)")
	h.keeping.add(fl)
	h.sending.add(fl)
	h.words.add(fl)
}

// lesson is a recording taken in, whether heard or read.
type lesson struct {
	recording timeline.Recording
	words     *transcript.Transcript
	notes     []string

	tape    *audio.Tape // nil when there is no sound
	layouts []audio.Layout
	gains   [][]float64
	peaks   [][2]float32
}

// takeIn hears the recording, or reads it when it is a file of words.
func takeIn(ctx context.Context, paths []string, h hearingFlags, lexicon *callouts.Lexicon, stderr io.Writer) (*lesson, error) {
	if h.threads < 1 {
		return nil, usageErrorf("--threads %d: at least 1", h.threads)
	}
	if !slices.Contains(channelChoices, h.channels) {
		return nil, usageErrorf("--channels %q: one of %s", h.channels, strings.Join(channelChoices, ", "))
	}
	var starts *timeline.Clock
	if h.starts != "" {
		var err error
		if starts, err = timeline.ParseClock(h.starts); err != nil {
			return nil, usageErrorf("--starts: %w", err)
		}
	}
	if _, err := voicesOf(h.voices); err != nil {
		return nil, err
	}
	for _, path := range paths {
		words, err := holdsWords(path)
		switch {
		case err != nil:
			return nil, explain(path, err)
		case words && len(paths) > 1:
			return nil, usageErrorf("%s holds words: only recordings can be put together", path)
		case words && h.words.path != "":
			return nil, usageErrorf("--words goes with a recording: %s holds words itself", path)
		case words && len(h.voices) > 0:
			return nil, usageErrorf("%s holds words: --voice needs a recording to hear voices in", path)
		case words:
			return readWords(path, starts)
		}
	}
	return listen(ctx, paths, h, starts, lexicon, stderr)
}

// holdsWords tells a file of words from a recording: by its name, or by its content.
func holdsWords(path string) (bool, error) {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".vtt", ".srt", ".json", ".txt":
		return true, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return false, err
	}
	defer f.Close()
	head := make([]byte, 1024)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF) {
		return false, nil // a folder, say: opening it as a recording tells why
	}
	return transcript.Detect(head[:n]) != "", nil
}

func readWords(path string, starts *timeline.Clock) (*lesson, error) {
	t, err := transcript.ReadFile(path)
	if err != nil {
		return nil, explain(path, err)
	}
	l := &lesson{words: t, recording: timeline.Recording{File: filepath.Base(path), Starts: starts}}
	l.notes = append(l.notes, "Read from a file of words: the words and their times are taken as they stand there.")
	if estimated(t) {
		l.notes = append(l.notes, "Only the times of whole lines are known: "+timesEstimated)
	}
	for _, u := range t.Utterances {
		l.recording.Duration = max(l.recording.Duration, u.End)
		l.recording.SpeechSeconds += u.End - u.Start
		l.recording.Channels = max(l.recording.Channels, u.Channel+1)
	}
	return l, nil
}

func listen(ctx context.Context, paths []string, h hearingFlags, starts *timeline.Clock, lexicon *callouts.Lexicon, stderr io.Writer) (*lesson, error) {
	// What is wrong with the recording is said before what is missing to hear it.
	tape, err := audio.Load(ctx, paths...)
	if err != nil {
		return nil, explain(strings.Join(paths, ", "), err)
	}
	taught, err := voicesOf(h.voices)
	if err != nil {
		return nil, err
	}
	if d := tape.Duration(); d > 0 {
		if err := voicesWithin(taught, d); err != nil {
			return nil, err
		}
	}
	edited, err := h.words.read()
	if err != nil {
		return nil, err
	}
	sent, err := h.sending.chosen(h.model)
	if err != nil {
		return nil, err
	}
	set, err := models.Find(h.models) // speech is looked for here, whoever recognises it
	if err != nil {
		return nil, err
	}
	progress := newProgress(stderr)
	defer progress.clear()
	var recogniser recognise.Recogniser
	if sent != nil {
		recogniser, err = sent.open(lexicon, h.keeping, progress, stderr)
	} else {
		recogniser, err = h.here(set, lexicon, stderr)
	}
	if err != nil {
		return nil, err
	}
	defer recogniser.Close()
	heard, err := hear.ListenTo(ctx, tape, hear.Options{
		Recogniser: recogniser,
		Detectors:  hear.Silero(set.Runtime, set.VAD),
		Channels:   h.chosen(tape.Channels()),
		Speakers:   map[int]string{0: h.left, 1: h.right},
		Workers:    h.threads,
		Progress: func(now hear.Progress) {
			progress.show(now)
			if h.told != nil {
				h.told(now)
			}
		},
		Cleaning: hear.DefaultCleaning,
		Voices:   taught,
	})
	if err != nil {
		return nil, err
	}
	progress.clear()
	tell(recogniser, stderr)
	l := fromHearing(heard)
	if sent != nil {
		l.recording.SentTo = sent.at.Host
	}
	if estimated(l.words) {
		l.notes = append(l.notes, "The recogniser gave only the times of whole lines: "+timesEstimated)
	}
	h.words.correct(l, edited)
	l.notes = append(l.notes, voiceNotes(taught, heard.Voices)...)
	l.notes = append(l.notes, setClocks(&l.recording, heard, starts)...)
	if h.left+h.right != "" && !slices.ContainsFunc(heard.Layouts, audio.Layout.Seats) {
		l.notes = append(l.notes, "The names given with --left and --right are not used: the seats are not on channels of their own.")
	}
	return l, nil
}

// here opens the embedded recogniser.
func (h hearingFlags) here(set models.Set, lexicon *callouts.Lexicon, stderr io.Writer) (recognise.Recogniser, error) {
	if h.model != "" {
		var err error
		if set, err = set.WithModel(h.model); err != nil {
			return nil, err
		}
	}
	listening, err := expect.Listening(lexicon)
	if err != nil {
		return nil, err
	}
	return h.keeping.through(
		func() (string, error) { return embedded(set, listening.Phrases) },
		func() (recognise.Recogniser, error) { return onnx.New(set, listening) }, stderr)
}

// timesEstimated ends what is said of words that have only the times of their lines.
const timesEstimated = "those of the calls in them are estimated, and nobody is called late by them."

// estimated tells whether there are words of which only the line's time is known.
func estimated(t *transcript.Transcript) bool {
	return slices.ContainsFunc(t.Utterances, func(u transcript.Utterance) bool {
		return slices.ContainsFunc(u.Words, func(w transcript.Word) bool { return w.Estimated })
	})
}

// chosen gives the channels the user named, nil for those to be found out.
func (h hearingFlags) chosen(channels int) []int {
	switch h.channels {
	case "left":
		return []int{0}
	case "right":
		return []int{1}
	case "both":
		if channels > 1 {
			return []int{0, 1}
		}
	}
	return nil
}

func fromHearing(heard *hear.Result) *lesson {
	first := heard.Tape.Parts[0].Info
	l := &lesson{
		recording: timeline.Recording{
			File:          first.File,
			Duration:      heard.Duration,
			Channels:      heard.Tape.Channels(),
			SampleRate:    first.SampleRate,
			SpeechSeconds: heard.Speech,
		},
		words: heard.Transcript,
	}
	for _, w := range heard.Warnings {
		l.notes = append(l.notes, sentence(w, len(heard.Tape.Parts)))
	}
	if heard.Duration > 0 {
		l.tape, l.layouts, l.gains = heard.Tape, heard.Layouts, heard.Gains
	}
	if len(heard.Tape.Parts) > 1 {
		l.recording.File, l.recording.Parts = partsOf(heard)
	}
	l.notes = append(l.notes, layoutNotes(heard)...)
	l.notes = append(l.notes, crosstalkNotes(heard.Crosstalk)...)
	l.notes = append(l.notes, setLevels(&l.recording, heard.Levels)...)
	switch {
	case heard.Speech == 0:
		l.notes = append(l.notes, "No speech was found in this recording: nothing is said about what was called.")
	case len(heard.Transcript.Utterances) == 0:
		l.notes = append(l.notes, fmt.Sprintf("%.0f s sound like speech, but no words were understood: nothing is said about what was called.", heard.Speech))
	}
	mins, maxs, _ := heard.Peaks.Extremes()
	for i := range mins {
		l.peaks = append(l.peaks, [2]float32{mins[i], maxs[i]})
	}
	return l
}

// sentence makes a warning one; in several files it begins with the name of one.
func sentence(w string, files int) string {
	if files == 1 {
		w = strings.ToUpper(w[:1]) + w[1:]
	}
	return w + "."
}

// layoutNotes say which channels were found and listened to, once for files that
// are alike.
func layoutNotes(heard *hear.Result) (notes []string) {
	layouts := heard.Layouts
	same := !slices.ContainsFunc(layouts, func(l audio.Layout) bool { return l.Note != layouts[0].Note })
	if same {
		if heard.Tape.Channels() > 1 {
			notes = append(notes, layouts[0].Note)
		}
		return notes
	}
	for i, l := range layouts {
		notes = append(notes, heard.Tape.Parts[i].Info.File+": "+l.Note)
	}
	return notes
}
