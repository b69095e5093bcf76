package lesson

// #cgo LDFLAGS: -ldl
// #include <stdlib.h>
// #include "espeak.h"
import "C"

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"unsafe"
)

var espeakMu sync.Mutex

// sayEspeak speaks with espeak-ng. Its program gives the samples, the same each
// time; its library, whose voice wavers on from text to text, tells where each
// sound begins and which word it is of. A word ends where the next sound or pause
// begins.
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
		if s.pause {
			continue
		}
		w := 0
		for w+1 < len(words) && starts[w+1] < s.position {
			w++
		}
		end := length
		if k+1 < len(sounds) {
			end = sounds[k+1].begin
		}
		if sp.Begins[w] < 0 {
			sp.Begins[w] = s.begin
		}
		sp.Ends[w] = max(sp.Ends[w], end)
	}
	if sp.Samples, err = load(file); err != nil {
		return Speech{}, err
	}
	// Whole cycles of the voice are made, so that it wavers by some of them.
	said := float64(len(sp.Samples)) / rate
	if math.Abs(said-length) > 0.06 {
		return Speech{}, fmt.Errorf("espeak-ng says %q in %.2f s, its library in %.2f: their times cannot be trusted", text, said, length)
	}
	for i := range words {
		sp.Begins[i] *= said / length
		sp.Ends[i] *= said / length
	}
	sp.unspoken(words)
	return sp, nil
}

// espeakSound is where a sound of a text begins, in seconds, and the character
// its word begins with, from 1.
type espeakSound struct {
	position int
	begin    float64
	pause    bool
}

// espeakTimes are the sounds of a text, and how long it is in seconds.
func espeakTimes(voice, text string) ([]espeakSound, float64, error) {
	espeakMu.Lock()
	defer espeakMu.Unlock()
	v, t := C.CString(voice), C.CString(text)
	defer C.free(unsafe.Pointer(v))
	defer C.free(unsafe.Pointer(t))
	var out C.sidetone_spoken
	wrong := C.sidetone_speak(v, t, &out)
	defer C.free(unsafe.Pointer(out.sounds))
	if wrong != nil {
		return nil, 0, fmt.Errorf("espeak-ng (Debian package libespeak-ng1), voice %q: %s", voice, C.GoString(wrong))
	}
	hz := float64(out.rate)
	var sounds []espeakSound
	for _, s := range unsafe.Slice(out.sounds, out.sounds_count) {
		sounds = append(sounds, espeakSound{int(s.position), float64(s.sample) / hz, s.pause != 0})
	}
	return sounds, float64(out.count) / hz, nil
}
