package main

import (
	"bufio"
	"compress/gzip"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"sidetone/audio"
	"sidetone/audio/recognise/phones"
	"sidetone/cmd/internal/lesson"
)

// The recorded prompts of Debian's asterisk-core-sounds-en-wav: a woman's voice at
// 8 kHz. They tell how a real voice is heard and are never learnt from.
const (
	promptDir   = "/usr/share/asterisk/sounds/en_US_f_Allison"
	promptTexts = "/usr/share/doc/asterisk-core-sounds-en/core-sounds-en.txt.gz"
	promptVoice = "prompts"
)

// prompts are those of two words or more whose text leaves no doubt how it is
// read; none when they are not installed.
func prompts() ([]clip, error) {
	f, err := os.Open(promptTexts)
	if os.IsNotExist(err) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", promptTexts, err)
	}
	var out []clip
	s := bufio.NewScanner(z)
	for s.Scan() {
		name, text, ok := strings.Cut(strings.TrimSpace(s.Text()), ": ")
		file := filepath.Join(promptDir, filepath.FromSlash(name)+".wav")
		if !ok || strings.HasPrefix(name, ";") || strings.ContainsAny(text, "[(0123456789") || len(strings.Fields(text)) < 2 {
			continue
		}
		if _, err := os.Stat(file); err != nil {
			continue // some are only in the list
		}
		out = append(out, clip{promptVoice, nil, func() ([]float32, []phones.Phone, error) {
			samples, err := lesson.Load(file)
			if err != nil || len(samples) > 12*audio.Rate {
				return nil, nil, err
			}
			return samples, soundsOf(strings.ToLower(text)), nil
		}})
	}
	return out, s.Err()
}
