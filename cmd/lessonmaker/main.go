// Command lessonmaker, for contributors, makes the recording of a flying lesson
// out of a script: synthetic voices over engine noise, with a sheet of what was
// truly said, called and flown beside it. Every voice, place and call sign is
// invented.
//
//	go run ./cmd/lessonmaker -o lesson.wav script.yaml
//
// It needs the engines of the voices in the script (Debian: flite; festival and
// festvox-kallpc16k; libespeak-ng1). The same script gives the same file.
package main

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"strings"

	"sidetone/cmd/internal/lesson"
)

func main() {
	out := flag.String("o", "lesson.wav", "the WAV file to write; the sheet is put beside it as .truth.json")
	var with overrides
	flag.Float64Var(&with.snr, "snr", 0, "speech to engine noise in dB, instead of the script's")
	flag.StringVar(&with.band, "band", "", "narrow (300 to 3400 Hz) or wide, instead of the script's")
	flag.IntVar(&with.channels, "channels", 0, "1 or 2, instead of the script's")
	flag.Float64Var(&with.leak, "leak", 0, "dB of a seat's voice on the other channel, instead of the script's")
	flag.Float64Var(&with.clip, "clip", -1, "seconds eaten of the start of each line, instead of the script's")
	flag.Float64Var(&with.riding, "riding", -1, "dB the level drifts, instead of the script's")
	flag.Usage = func() {
		fmt.Fprintln(flag.CommandLine.Output(), "usage: lessonmaker [flags] script.yaml")
		flag.PrintDefaults()
	}
	flag.Parse()
	if flag.NArg() != 1 {
		flag.Usage()
		os.Exit(2)
	}
	if err := makeLesson(flag.Arg(0), *out, with); err != nil {
		fmt.Fprintln(os.Stderr, "lessonmaker:", err)
		os.Exit(1)
	}
}

// overrides are options of a script given on the command line.
type overrides struct {
	snr, leak, clip, riding float64
	band                    string
	channels                int
}

func (o overrides) apply(s *lesson.Script) error {
	if o.snr != 0 {
		s.SNR = o.snr
	}
	switch o.band {
	case "":
	case "narrow", "wide":
		s.Narrow = o.band == "narrow"
	default:
		return fmt.Errorf("-band %q: narrow or wide", o.band)
	}
	if o.channels != 0 {
		s.Channels = o.channels
	}
	if o.leak != 0 {
		s.Leak = o.leak
	}
	if o.clip >= 0 {
		s.Clip = o.clip
	}
	if o.riding >= 0 {
		s.Riding = o.riding
	}
	return s.Check()
}

func makeLesson(script, out string, with overrides) error {
	b, err := os.ReadFile(script)
	if err != nil {
		return err
	}
	s, err := lesson.Parse(script, b)
	if err != nil {
		return err
	}
	if err := with.apply(s); err != nil {
		return err
	}
	spoken, err := lesson.Speak(s, lesson.Say)
	if err != nil {
		return fmt.Errorf("%s: %w", script, err)
	}
	channels, truth, err := spoken.Mix()
	if err != nil {
		return err
	}
	f, err := os.Create(out)
	if err != nil {
		return err
	}
	if err := lesson.WriteWAV(f, channels); err != nil {
		f.Close()
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	sheet, err := json.MarshalIndent(truth, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(strings.TrimSuffix(out, ".wav")+".truth.json", append(sheet, '\n'), 0o644)
}
