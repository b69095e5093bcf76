package main

import (
	"errors"
	"fmt"
	"os/exec"
	"strings"

	"sidetone/cmd/internal/lesson"
)

// voice is one that sentences are spoken with, and how many shares of them it has.
type voice struct {
	lesson.Voice
	shares int
}

// voices lists those that are installed. A voice of espeak-ng is one of five
// accents with one of five throats; they are less like people than the others,
// and all together have a fifth of the sentences when all are there.
func voices() ([]voice, error) {
	var out []voice
	if _, err := exec.LookPath("flite"); err == nil {
		for _, n := range []string{"kal16", "slt", "rms", "awb"} {
			out = append(out, voice{lesson.Voice{Engine: "flite", Name: n}, 15})
		}
	}
	for _, n := range []string{"kal_diphone", "ked_diphone", "cmu_us_slt_arctic_hts"} {
		if festivalHas(n) {
			out = append(out, voice{lesson.Voice{Engine: "festival", Name: n}, 15})
		}
	}
	if _, err := exec.LookPath("espeak-ng"); err == nil {
		for _, accent := range []string{"en-us", "en-gb", "en-gb-scotland", "en-gb-x-rp", "en-029"} {
			for _, throat := range []string{"", "+m3", "+f2", "+m7", "+f4"} {
				out = append(out, voice{lesson.Voice{Engine: "espeak-ng", Name: accent + throat}, 1})
			}
		}
	}
	if len(out) == 0 {
		return nil, errors.New("no voices: install Debian's flite, festival with festvox-kallpc16k, festvox-kdlpc16k and festvox-us-slt-hts, espeak-ng")
	}
	return out, nil
}

func festivalHas(name string) bool {
	out, err := exec.Command("festival", "-b", fmt.Sprintf("(if (member '%s (voice.list)) (format t \"here\"))", name)).Output()
	return err == nil && strings.Contains(string(out), "here")
}
