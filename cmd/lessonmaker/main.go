// Command lessonmaker, for contributors, makes the recording of a flying lesson
// out of a script: synthetic voices over engine noise, with a sheet of what was
// truly called and when beside it. Every voice, place and call sign is invented.
//
//	go run ./cmd/lessonmaker -o lesson.wav script.yaml
//
// It needs flite (Debian: flite). The same script gives the same file.
package main

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"strings"
)

func main() {
	out := flag.String("o", "lesson.wav", "the WAV file to write; the sheet is put beside it as .truth.json")
	snr := flag.Float64("snr", 0, "speech to engine noise in dB, instead of the script's")
	flag.Usage = func() {
		fmt.Fprintln(flag.CommandLine.Output(), "usage: lessonmaker [-o lesson.wav] [-snr dB] script.yaml")
		flag.PrintDefaults()
	}
	flag.Parse()
	if flag.NArg() != 1 {
		flag.Usage()
		os.Exit(2)
	}
	if err := makeLesson(flag.Arg(0), *out, *snr); err != nil {
		fmt.Fprintln(os.Stderr, "lessonmaker:", err)
		os.Exit(1)
	}
}

func makeLesson(script, out string, snr float64) error {
	b, err := os.ReadFile(script)
	if err != nil {
		return err
	}
	s, err := parseScript(script, b)
	if err != nil {
		return err
	}
	if snr != 0 {
		s.SNR = snr
	}
	mixed, truth, err := perform(s, say)
	if err != nil {
		return err
	}
	if err := writeWAV(out, mixed); err != nil {
		return err
	}
	sheet, err := json.MarshalIndent(truth, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(strings.TrimSuffix(out, ".wav")+".truth.json", append(sheet, '\n'), 0o644)
}
