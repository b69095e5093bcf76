package lesson

// #cgo LDFLAGS: -ldl
// #include <stdlib.h>
// #include "espeak.h"
import "C"

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"unsafe"

	"sidetone/audio"
)

var espeakMu sync.Mutex

// sayEspeak speaks with espeak-ng, which tells where each sound begins and which
// word it is of; a word ends where the next sound or pause begins.
func sayEspeak(voice string, words []string) (Speech, error) {
	text := strings.Join(words, " ")
	samples, sounds, hz, err := espeak(voice, text)
	if err != nil {
		return Speech{}, err
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
		if s.pause != 0 {
			continue
		}
		w := 0
		for w+1 < len(words) && starts[w+1] < int(s.position) {
			w++
		}
		end := len(samples)
		if k+1 < len(sounds) {
			end = int(sounds[k+1].sample)
		}
		if sp.Begins[w] < 0 {
			sp.Begins[w] = float64(s.sample) / float64(hz)
		}
		sp.Ends[w] = max(sp.Ends[w], float64(end)/float64(hz))
	}
	if len(samples) == 0 {
		return Speech{}, fmt.Errorf("espeak-ng said nothing for %q", text)
	}
	if sp.Samples, err = resample(samples, hz); err != nil {
		return Speech{}, err
	}
	sp.unspoken(words)
	return sp, nil
}

func espeak(voice, text string) ([]float32, []C.sidetone_sound, int, error) {
	espeakMu.Lock()
	defer espeakMu.Unlock()
	v, t := C.CString(voice), C.CString(text)
	defer C.free(unsafe.Pointer(v))
	defer C.free(unsafe.Pointer(t))
	var out C.sidetone_spoken
	wrong := C.sidetone_speak(v, t, &out)
	defer C.free(unsafe.Pointer(out.samples))
	defer C.free(unsafe.Pointer(out.sounds))
	if wrong != nil {
		return nil, nil, 0, fmt.Errorf("espeak-ng (Debian package libespeak-ng1), voice %q: %s", voice, C.GoString(wrong))
	}
	samples := make([]float32, out.count)
	for i, s := range unsafe.Slice(out.samples, out.count) {
		samples[i] = float32(s) / 32768
	}
	sounds := append([]C.sidetone_sound(nil), unsafe.Slice(out.sounds, out.sounds_count)...)
	return samples, sounds, int(out.rate), nil
}

// resample brings samples to 16 kHz.
func resample(samples []float32, hz int) ([]float32, error) {
	dir, err := os.MkdirTemp("", "lesson")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	file := filepath.Join(dir, "line.wav")
	f, err := os.Create(file)
	if err != nil {
		return nil, err
	}
	err = audio.WriteWAV(f, hz, samples)
	if e := f.Close(); err == nil {
		err = e
	}
	if err != nil {
		return nil, err
	}
	return load(file)
}
