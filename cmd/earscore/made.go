package main

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sidetone/audio"
	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/cmd/internal/lesson"
	"sidetone/rules"
)

// made is a lesson whose recording is made, and then what was heard in it.
type made struct {
	name  string
	snr   float64
	audio string // the WAV file, "" in words mode
	seats []string
	radio []string
	truth lesson.Truth

	words    *transcript.Transcript
	channels []int // listened to
	levels   []audio.Level
	calls    []callouts.Call
	found    []rules.Assessment
	took     float64 // seconds
	blame    *blamer // only when misses are listed
}

// madeVersion is raised when the lesson maker changes, so that recordings kept
// from before are not used.
const madeVersion = 3

// studio makes recordings and keeps them in a folder.
type studio struct {
	dir string
	say lesson.Sayer
}

// scripts are the files of a folder of scripts and of its sub-folders, in order.
func scripts(dir string, only []string) ([]string, error) {
	var out []string
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() || filepath.Ext(path) != ".yaml" {
			return err
		}
		if len(only) == 0 || slices.Contains(only, name(path)) {
			out = append(out, path)
		}
		return nil
	})
	if err == nil && len(out) == 0 {
		err = fmt.Errorf("%s holds no scripts", dir)
		if len(only) > 0 {
			err = fmt.Errorf("%s holds no script called %s", dir, strings.Join(only, " or "))
		}
	}
	slices.Sort(out)
	return out, err
}

func name(script string) string {
	return strings.TrimSuffix(filepath.Base(script), filepath.Ext(script))
}

// record makes the recordings of a script, one for each signal-to-noise ratio.
func (st *studio) record(script string, snrs []float64) ([]*made, error) {
	b, err := os.ReadFile(script)
	if err != nil {
		return nil, err
	}
	s, err := lesson.Parse(script, b)
	if err != nil {
		return nil, err
	}
	var out []*made
	var spoken *lesson.Spoken // only when something is not there yet
	for _, snr := range snrs {
		m := &made{name: name(script), snr: snr, seats: s.Seats, radio: s.Radio}
		key := sha256.Sum256(fmt.Appendf(b, "\n%d %g", madeVersion, snr))
		base := filepath.Join(st.dir, fmt.Sprintf("%s-%g-%x", m.name, snr, key[:4]))
		m.audio = base + ".wav"
		if sheet, err := os.ReadFile(base + ".truth.json"); err == nil {
			if err := json.Unmarshal(sheet, &m.truth); err != nil {
				return nil, fmt.Errorf("%s.truth.json: %w", base, err)
			}
			if err := s.Judge(&m.truth); err != nil { // by the procedures as they are now
				return nil, fmt.Errorf("%s: %w", script, err)
			}
			out = append(out, m)
			continue
		}
		if spoken == nil {
			if spoken, err = lesson.Speak(s, st.say); err != nil {
				return nil, fmt.Errorf("%s: %w", script, err)
			}
		}
		with := *s
		with.SNR = snr
		channels, truth, err := spoken.MixAs(with)
		if err != nil {
			return nil, err
		}
		m.truth = truth
		if err := writeWAV(m.audio, channels); err != nil {
			return nil, err
		}
		sheet, err := json.Marshal(truth)
		if err != nil {
			return nil, err
		}
		if err := os.WriteFile(base+".truth.json", sheet, 0o644); err != nil {
			return nil, err
		}
		out = append(out, m)
	}
	return out, nil
}

func writeWAV(path string, channels [][]float64) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := lesson.WriteWAV(f, channels); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}
