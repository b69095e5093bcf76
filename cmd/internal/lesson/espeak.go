package lesson

// #cgo LDFLAGS: -ldl
// #include <stdlib.h>
// #include "espeak.h"
import "C"

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"unsafe"
)

// sayEspeak speaks with espeak-ng. Its program gives the samples; its library
// tells where each sound begins and which word it is of. A word ends where the
// next sound or pause begins.
func sayEspeak(voice string, words []string) (Speech, error) {
	dir, err := os.MkdirTemp("", "lesson")
	if err != nil {
		return Speech{}, err
	}
	defer os.RemoveAll(dir)
	text, file := strings.Join(words, " "), filepath.Join(dir, "line.wav")
	sounds, length, err := espeakTimes(voice, text)
	if err != nil {
		return Speech{}, err
	}
	if out, err := exec.Command("espeak-ng", "-v", voice, "-w", file, "--", text).CombinedOutput(); err != nil {
		return Speech{}, fmt.Errorf("espeak-ng (Debian package espeak-ng): %w: %s", err, out)
	}
	sp := Speech{Begins: make([]float64, len(words)), Ends: make([]float64, len(words))}
	starts := make([]int, len(words)) // of each word in the text
	at := 0
	for i, w := range words {
		sp.Begins[i] = -1
		starts[i] = at
		at += len(w) + 1
	}
	for k, s := range sounds {
		if s.Pause {
			continue
		}
		w := 0
		for w+1 < len(words) && starts[w+1] < s.Position {
			w++
		}
		end := length
		if k+1 < len(sounds) {
			end = sounds[k+1].Begin
		}
		if sp.Begins[w] < 0 {
			sp.Begins[w] = s.Begin
		}
		sp.Ends[w] = max(sp.Ends[w], end)
	}
	if sp.Samples, err = Load(file); err != nil {
		return Speech{}, err
	}
	if said := float64(len(sp.Samples)) / rate; math.Abs(said-length) > 0.01 {
		return Speech{}, fmt.Errorf("espeak-ng says %q in %.2f s, its library in %.2f: their times cannot be trusted", text, said, length)
	}
	sp.unspoken(words)
	return sp, nil
}

// espeakSound is where a sound of a text begins, in seconds, and the character
// its word begins with, from 1.
type espeakSound struct {
	Position int
	Begin    float64
	Pause    bool
}

type espeakAnswer struct {
	Sounds  []espeakSound
	Length  float64 // seconds
	Trouble string
}

// espeakVoice names the environment variable by which this program, started
// again, is told to answer with the times of a text and do nothing else.
const espeakVoice = "SIDETONE_LESSON_ESPEAK_VOICE"

// The library's voice wavers on from one text to the next, and once ended it
// does not start anew: each text has a process of its own.
func init() {
	voice := os.Getenv(espeakVoice)
	if voice == "" {
		return
	}
	text, err := io.ReadAll(os.Stdin)
	if err == nil {
		err = json.NewEncoder(os.Stdout).Encode(askEspeak(voice, string(text)))
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(0)
}

// espeakTimes are the sounds of a text, and how long it is in seconds.
func espeakTimes(voice, text string) ([]espeakSound, float64, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, 0, err
	}
	cmd := exec.Command(self)
	cmd.Env = append(os.Environ(), espeakVoice+"="+voice)
	cmd.Stdin = strings.NewReader(text)
	out, err := cmd.Output()
	if err != nil {
		return nil, 0, fmt.Errorf("asking espeak-ng for its times: %w", err)
	}
	var answer espeakAnswer
	if err := json.Unmarshal(out, &answer); err != nil {
		return nil, 0, fmt.Errorf("asking espeak-ng for its times: %w", err)
	}
	if answer.Trouble != "" {
		return nil, 0, fmt.Errorf("espeak-ng (Debian package libespeak-ng1), voice %q: %s", voice, answer.Trouble)
	}
	return answer.Sounds, answer.Length, nil
}

func askEspeak(voice, text string) espeakAnswer {
	v, t := C.CString(voice), C.CString(text)
	defer C.free(unsafe.Pointer(v))
	defer C.free(unsafe.Pointer(t))
	var out C.sidetone_spoken
	wrong := C.sidetone_speak(v, t, &out)
	defer C.free(unsafe.Pointer(out.sounds))
	if wrong != nil {
		return espeakAnswer{Trouble: C.GoString(wrong)}
	}
	hz := float64(out.rate)
	answer := espeakAnswer{Length: float64(out.count) / hz}
	for _, s := range unsafe.Slice(out.sounds, out.sounds_count) {
		answer.Sounds = append(answer.Sounds, espeakSound{int(s.position), float64(s.sample) / hz, s.pause != 0})
	}
	return answer
}
