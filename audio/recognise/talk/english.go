package talk

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"fmt"
	"io"
	"strings"
	"sync"
)

// The sentences the model of English is made of, a line each, as cmd/talkgatherer
// gathers them from testdata.
//
//go:generate go run sidetone/cmd/talkgatherer --project ../../..
//go:embed english.txt.gz
var packed []byte

// English is the model of cockpit talk in English.
var English = sync.OnceValue(func() *Model { return Learn(Sentences()) })

// Sentences are those it is made of, as they are spoken: small letters, no marks.
func Sentences() []string {
	text, err := unpack(packed)
	if err != nil {
		panic(fmt.Sprintf("talk: the embedded sentences are damaged, build the program again: %v", err))
	}
	return strings.Split(strings.TrimSpace(text), "\n")
}

func unpack(b []byte) (string, error) {
	r, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		return "", err
	}
	out, err := io.ReadAll(r)
	return string(out), err
}
