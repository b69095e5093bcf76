// Package models finds the files the embedded recogniser listens with, fetches
// them when asked to, and checks that what arrived is what was pinned.
//
// A models folder holds:
//
//	encoder_model.onnx, decoder_model_merged.onnx   the recogniser
//	vocabulary.txt                                  one token a line, line number - 1 is its id
//	silero_vad.onnx                                 the speech detector
//	libonnxruntime.so.1 (or .dylib, .dll)           the runtime
//	licences/                                       the licence of each of them
//	package.json                                    the packages they are from
package models

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
)

// Names of the files in a models folder.
const (
	Encoder    = "encoder_model.onnx"
	Decoder    = "decoder_model_merged.onnx"
	Vocabulary = "vocabulary.txt"
	VAD        = "silero_vad.onnx"
	Stamp      = "package.json"
)

// EnvDir names the environment variable that points at a models folder.
const EnvDir = "SIDETONE_MODELS"

// FetchCommand is what a person types to get the files.
const FetchCommand = "sidetone setup"

// ErrMissing is wrapped by errors saying that files of the recogniser are not there.
var ErrMissing = errors.New("the listening files are not on this machine")

// RuntimeLibrary is the file name of the ONNX Runtime library on this system.
func RuntimeLibrary() string {
	switch runtime.GOOS {
	case "windows":
		return "onnxruntime.dll"
	case "darwin":
		return "libonnxruntime.1.dylib"
	}
	return "libonnxruntime.so.1"
}

// Set is one complete folder of files, by path.
type Set struct {
	Dir                                        string
	Encoder, Decoder, Vocabulary, VAD, Runtime string
}

// Find returns the files to listen with. A folder named by the caller (a flag)
// or by SIDETONE_MODELS is the only place looked at; otherwise they are looked
// for in "models" beside the program, then in the user's cache folder. The
// error wraps ErrMissing, lists the places and names the command that helps.
func Find(dir string) (Set, error) {
	places := candidates(dir)
	var missing []string
	for _, p := range places {
		set := at(p)
		lacks := set.lacking()
		if len(lacks) == 0 {
			return set, nil
		}
		missing = append(missing, fmt.Sprintf("%s lacks %s", p, strings.Join(lacks, ", ")))
	}
	return Set{}, fmt.Errorf("%w: %s; get them once with: %s", ErrMissing, strings.Join(missing, "; "), FetchCommand)
}

// UserDir is the folder in the user's cache where Fetch puts the files unless told otherwise.
func UserDir() (string, error) {
	c, err := os.UserCacheDir()
	if err != nil {
		return "", fmt.Errorf("no cache folder for this user (%w); name a folder with --models", err)
	}
	return filepath.Join(c, "sidetone", "models"), nil
}

func candidates(dir string) []string {
	if dir != "" {
		return []string{dir}
	}
	if e := os.Getenv(EnvDir); e != "" {
		return []string{e}
	}
	var places []string
	if exe, err := os.Executable(); err == nil {
		if real, err := filepath.EvalSymlinks(exe); err == nil {
			exe = real
		}
		places = append(places, filepath.Join(filepath.Dir(exe), "models"))
	}
	if u, err := UserDir(); err == nil {
		places = append(places, u)
	}
	return places
}

func at(dir string) Set {
	return Set{
		Dir:        dir,
		Encoder:    filepath.Join(dir, Encoder),
		Decoder:    filepath.Join(dir, Decoder),
		Vocabulary: filepath.Join(dir, Vocabulary),
		VAD:        filepath.Join(dir, VAD),
		Runtime:    filepath.Join(dir, RuntimeLibrary()),
	}
}

func (s Set) lacking() []string {
	var lacks []string
	for _, f := range []string{s.Encoder, s.Decoder, s.Vocabulary, s.VAD, s.Runtime} {
		if st, err := os.Stat(f); err != nil || st.Size() == 0 {
			lacks = append(lacks, filepath.Base(f))
		}
	}
	if b, err := os.ReadFile(filepath.Join(s.Dir, Stamp)); len(lacks) == 0 && (err != nil || !bytes.Equal(b, packageJSON)) {
		lacks = append(lacks, "those of this version")
	}
	return lacks
}

// Digest names what is in the files, whatever they are called: while it is
// the same, what is heard with them is the same.
func (s Set) Digest() (string, error) {
	h := sha256.New()
	for _, path := range []string{s.Encoder, s.Decoder, s.Vocabulary, s.Runtime} {
		f, err := os.Open(path)
		if err != nil {
			return "", err
		}
		n, err := io.Copy(h, f)
		f.Close()
		if err != nil {
			return "", fmt.Errorf("%s: %w", path, err)
		}
		fmt.Fprintf(h, "\n%d\n", n)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// WithModel replaces the recogniser by the one in dir: a folder with an encoder
// and a decoder of the same export, and a vocabulary of its own or none.
func (s Set) WithModel(dir string) (Set, error) {
	m := at(dir)
	for _, f := range []string{m.Encoder, m.Decoder} {
		if _, err := os.Stat(f); err != nil {
			return Set{}, fmt.Errorf("%w: %s has no %s", ErrMissing, dir, filepath.Base(f))
		}
	}
	s.Encoder, s.Decoder = m.Encoder, m.Decoder
	if _, err := os.Stat(m.Vocabulary); err == nil {
		s.Vocabulary = m.Vocabulary
	}
	return s, nil
}
