// Command earscore, for contributors, measures how well lessons are heard and
// understood: it makes the recordings of a folder of lesson scripts at several
// signal-to-noise ratios, debriefs them, and holds the words, the calls and the
// verdicts against the sheet of what was said, called and flown.
//
//	go run ./cmd/earscore testdata/lessons/tuning
//	go run ./cmd/earscore --words testdata/lessons/tuning
//	go run ./cmd/earscore --recogniser pocketsphinx testdata/lessons/tuning
//	go run ./cmd/earscore --stances testdata/stances.yaml
//	go run ./cmd/earscore --explain "before we land the gear comes down"
//	go run ./cmd/earscore --fit-ears --snr 20,10 testdata/lessons/tuning
//	go run ./cmd/earscore --fit callouts/stance/weights.yaml --stances testdata/stances-tuning.yaml testdata/lessons/tuning
//
// The word error rate is held against NIST's sclite when it is installed; the
// two must agree.
package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"os/signal"
	"time"

	"github.com/spf13/cobra"

	"sidetone/audio"
	"sidetone/audio/hear"
	"sidetone/audio/models"
	"sidetone/audio/recognise/remote"
	"sidetone/callouts"
	"sidetone/callouts/meaning"
	"sidetone/cmd/internal/lesson"
	"sidetone/rules"
	"sidetone/rules/library"
	"sidetone/timeline"
)

type options struct {
	snrs       []float64
	only       []string
	words      bool
	calls      bool
	recogniser string
	endpoint   string
	model      string
	stances    []string
	fit        string
	explain    string
	models     string
	audio      string
	json       string
	misses     bool
	fitEars    bool
	workers    int
	teach      float64
	marked     []string
	listed     bool
	meanings   string
	cleaning   hear.Cleaning
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	var o options
	cmd := &cobra.Command{
		Use:           "earscore [flags] FOLDER",
		Short:         "Measure how well lessons are heard, understood and judged",
		Args:          cobra.MaximumNArgs(1),
		SilenceUsage:  true,
		SilenceErrors: true,
		RunE: func(cmd *cobra.Command, args []string) error {
			return run(cmd.Context(), args, o, cmd.OutOrStdout())
		},
	}
	fl := cmd.Flags()
	fl.Float64SliceVar(&o.snrs, "snr", []float64{30, 20, 15, 10, 5}, "signal-to-noise ratios in dB")
	fl.StringSliceVar(&o.only, "only", nil, "only the script of this name (may be repeated)")
	fl.BoolVar(&o.words, "words", false, "no recordings: the words of the script are taken as heard")
	fl.BoolVar(&o.calls, "calls", false, "no recordings: the calls of the script are taken as found, only the judging is measured")
	fl.StringVar(&o.recogniser, "recogniser", "embedded", "embedded, remote (at --endpoint), captions (the words of the script as SRT, with the times of lines only), or pocketsphinx for the peer")
	fl.StringVar(&o.endpoint, "endpoint", "", "address of the remote recogniser; its key is read from "+remote.EnvKey)
	fl.StringVar(&o.model, "model", "sidetone", "model of the remote recogniser")
	fl.StringSliceVar(&o.stances, "stances", nil, "score the sentences of this file instead of lessons (may be repeated)")
	fl.StringSliceVar(&o.marked, "marked", nil, "score the marked sentences of this file instead of lessons, one a line: {flaps-up: bring them up} (may be repeated)")
	fl.BoolVar(&o.listed, "listed", false, "find calls by the words of the lexicon alone, not by what words mean")
	fl.StringVar(&o.meanings, "meanings", "", "file of another network of meanings than the program's own")
	fl.StringVar(&o.explain, "explain", "", "show what is found in this sentence, and why it is meant so")
	fl.StringVar(&o.fit, "fit", "", "fit the weights of the stances to the sentences of --stances, the calls of --marked and the lessons of FOLDER, and write them to this file")
	fl.BoolVar(&o.fitEars, "fit-ears", false, "fit what decides whether an expected phrase, and a word, was said, and print it")
	fl.StringVar(&o.models, "models", "bin/models", "folder of the listening files")
	fl.StringVar(&o.audio, "audio", "", "keep the recordings in this folder and use those that are there (default: a temporary one)")
	fl.StringVar(&o.json, "json", "", "write the raw numbers to this file")
	fl.BoolVar(&o.misses, "misses", false, "list everything that went wrong")
	fl.Float64Var(&o.teach, "teach", 0, "in lessons of one channel, teach the voices by so many seconds of each, to be told by them")
	fl.IntVar(&o.workers, "workers", 1, "segments recognised at once")
	fl.Float64Var(&o.cleaning.HighPass, "high-pass", hear.DefaultCleaning.HighPass, "take out sound below so many Hz before listening")
	fl.Float64Var(&o.cleaning.Reduce, "reduce", hear.DefaultCleaning.Reduce, "turn steady noise down by so many dB before listening; 0 for not at all")
	fl.Float64Var(&o.cleaning.Level, "level", hear.DefaultCleaning.Level, "bring faint voices up to so many dBFS before listening; 0 for as they are")
	fl.Float64Var(&o.cleaning.Faint, "faint", hear.DefaultCleaning.Faint, "voices below so many dBFS are faint")
	if err := cmd.ExecuteContext(ctx); err != nil {
		fmt.Fprintln(os.Stderr, "earscore:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, args []string, o options, w io.Writer) error {
	lexicon, err := callouts.Builtin()
	if err != nil {
		return err
	}
	finder, err := callouts.NewFinder(lexicon)
	if err != nil {
		return err
	}
	if o.listed {
		finder.ListedOnly()
	}
	if o.meanings != "" {
		b, err := os.ReadFile(o.meanings)
		if err != nil {
			return err
		}
		n, err := meaning.Load(b)
		if err != nil {
			return fmt.Errorf("%s: %w", o.meanings, err)
		}
		finder.Means(n)
	}
	if o.explain != "" {
		return explain(w, o.explain, finder)
	}
	if o.fit != "" {
		return fitStances(w, args, o, finder)
	}
	if len(o.marked) > 0 {
		return scoreMarked(w, o.marked, finder, o.misses)
	}
	if len(o.stances) > 0 {
		return scoreStances(w, o.stances, finder, o.misses)
	}
	if len(args) != 1 {
		return errors.New("name the folder of scripts")
	}
	if o.fitEars {
		return fitEars(ctx, w, args[0], o, lexicon)
	}
	listeners, err := o.ears(lexicon)
	if err != nil {
		return err
	}
	defer listeners.close()
	if o.words || o.calls {
		o.snrs = []float64{math.Inf(1)}
	}
	lessons, done, err := prepare(args[0], o)
	if err != nil {
		return err
	}
	defer done()
	procedures, err := library.Procedures()
	if err != nil {
		return err
	}
	aircraft, err := library.DefaultAircraft()
	if err != nil {
		return err
	}
	names, err := timeline.NewNames(procedures)
	if err != nil {
		return err
	}
	if err := listeners.hear(ctx, lessons); err != nil {
		return err
	}
	var all []*scored
	for _, m := range lessons {
		if o.calls {
			m.calls = perfect(m.truth.Calls, m.words.Utterances, lexicon)
		}
		if err := m.understand(finder, names, procedures, aircraft); err != nil {
			return err
		}
		if o.misses {
			if m.blame, err = newBlamer(m, finder, procedures, aircraft, lexicon); err != nil {
				return err
			}
		}
		all = append(all, score(m))
	}
	fmt.Fprintln(os.Stderr)
	return report(w, all, o)
}

func (o options) ears(lexicon *callouts.Lexicon) (ears, error) {
	if o.words || o.calls {
		return reader{}, nil
	}
	if o.recogniser == "captions" {
		return captioned{}, nil
	}
	set, err := models.Find(o.models)
	if err != nil {
		return nil, err
	}
	switch o.recogniser {
	case "embedded":
		return newEmbedded(set, lexicon, o, nil, nil)
	case "remote":
		return newRemote(set, lexicon, o)
	case "pocketsphinx":
		return peer{set}, nil
	}
	return nil, fmt.Errorf("--recogniser %q: embedded, remote, captions or pocketsphinx", o.recogniser)
}

// prepare makes the recordings, or only the sheets when no recording is heard.
// They are ordered by ratio. done removes what is not to be kept.
func prepare(folder string, o options) (lessons []*made, done func(), err error) {
	done = func() {}
	dir := o.audio
	if dir == "" {
		if dir, err = os.MkdirTemp("", "earscore"); err != nil {
			return nil, done, err
		}
		done = func() { os.RemoveAll(dir) }
	} else if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, done, err
	}
	files, err := scripts(folder, o.only)
	if err != nil {
		done()
		return nil, func() {}, err
	}
	st := &studio{dir: dir, say: lesson.Say}
	byRatio := make([][]*made, len(o.snrs))
	for _, f := range files {
		recorded, err := st.record(f, o.snrs)
		if err != nil {
			done()
			return nil, func() {}, err
		}
		for i, m := range recorded {
			if o.words || o.calls {
				m.audio = ""
			}
			byRatio[i] = append(byRatio[i], m)
		}
		fmt.Fprint(os.Stderr, "o")
	}
	for _, list := range byRatio {
		lessons = append(lessons, list...)
	}
	return lessons, done, nil
}

// understand finds the calls in the words of a lesson, unless it has them, and
// judges them.
func (m *made) understand(finder *callouts.Finder, names *timeline.Names, procedures []*rules.Procedure, ac *rules.Aircraft) (err error) {
	began := time.Now()
	var hints []callouts.Call
	if m.calls == nil {
		m.calls, hints = finder.Hear(m.words)
	}
	l := timeline.Weigh(m.words, m.calls, hints, finder, names)
	m.found, err = timeline.Find(&l, procedures, ac)
	m.calls = timeline.HeardOnly(l.Calls, m.found)
	if audio.Poor(m.levels) != "" {
		timeline.Doubt(m.found, timeline.TooPoor) // as debrief does
	}
	m.took += time.Since(began).Seconds()
	return err
}

// report prints the tables, and holds the word error rate against sclite.
func report(w io.Writer, all []*scored, o options) error {
	if o.misses {
		causes := map[string]int{}
		for _, s := range all {
			s.printMisses(w, causes)
		}
		fmt.Fprintln(w)
		for _, c := range sortedKeys(causes) {
			fmt.Fprintf(w, "%4d  %s\n", causes[c], c)
		}
		fmt.Fprintln(w)
	}
	list := rows(all)
	if err := printTable(w, list); err != nil {
		return err
	}
	if !o.calls {
		if err := printWho(w, list); err != nil {
			return err
		}
	}
	if !o.calls {
		for _, r := range list {
			if r.SNR == "all" && r.Voice == allVoices {
				if err := printReliability(w, &r.tally); err != nil {
					return err
				}
			}
		}
	}
	if o.json != "" {
		if err := writeJSON(o.json, list, all); err != nil {
			return err
		}
	}
	if o.words || o.calls {
		return nil
	}
	return compareWithSclite(w, all)
}

func compareWithSclite(w io.Writer, all []*scored) error {
	if _, err := exec.LookPath("sctk"); err != nil {
		_, err := fmt.Fprintln(w, "\nsclite (Debian package sctk) is not installed: the word error rate was not checked.")
		return err
	}
	var passages []passage
	ours, words := 0, 0
	for _, s := range all {
		passages = append(passages, s.passages...)
		for _, t := range s.byVoice {
			ours, words = ours+t.WordErrors, words+t.Words
		}
	}
	theirs, of, err := sclite(passages)
	if err != nil {
		return err
	}
	a, b := 100*share(ours, words), 100*share(theirs, of)
	fmt.Fprintf(w, "\nsclite: %.2f %% of %d words wrong; counted here: %.2f %% of %d.\n", b, of, a, words)
	if of != words || math.Abs(a-b) > 0.1 {
		return errors.New("the word error rate is not sclite's")
	}
	return nil
}

func writeJSON(file string, list []row, all []*scored) error {
	type lessonScore struct {
		Name  string      `json:"name"`
		SNR   string      `json:"snr"`
		Steps []stepScore `json:"steps"`
	}
	out := struct {
		Rows    []row         `json:"rows"`
		Lessons []lessonScore `json:"lessons"`
	}{Rows: list}
	for _, s := range all {
		out.Lessons = append(out.Lessons, lessonScore{s.name, s.ratio(), s.steps})
	}
	b, err := json.MarshalIndent(out, "", " ")
	if err != nil {
		return err
	}
	return os.WriteFile(file, append(b, '\n'), 0o644)
}
