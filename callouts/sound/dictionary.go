package sound

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"fmt"
	"io"
	"sync"
)

// The dictionary is the CMU Pronouncing Dictionary (see cmudict.LICENSE) in a
// compact form made by gendict: one line per word, sorted by bytes; the word in
// ASCII, then each pronunciation as bytes with the high bit set, separated by
// 0x01.
//
//go:generate sh -c "npm pack --silent cmu-pronouncing-dictionary@3.0.0 && tar -xzf cmu-pronouncing-dictionary-3.0.0.tgz package/index.js && go run ./gendict -in package/index.js -out cmudict.gz && rm -r package cmu-pronouncing-dictionary-3.0.0.tgz"
//go:embed cmudict.gz
var packed []byte

// dictionary is unpacked when first asked and searched as it lies.
var dictionary = sync.OnceValue(func() []byte {
	b, err := unpack(packed)
	if err != nil {
		panic(fmt.Sprintf("sound: the embedded dictionary is damaged, build the program again: %v", err))
	}
	return b
})

func unpack(b []byte) ([]byte, error) {
	if len(b) < 4 {
		return nil, io.ErrUnexpectedEOF
	}
	r, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	// A gzip file ends in its unpacked size (RFC 1952, ISIZE), little-endian.
	t := b[len(b)-4:]
	size := int(t[0]) | int(t[1])<<8 | int(t[2])<<16 | int(t[3])<<24
	out := make([]byte, size)
	if _, err := io.ReadFull(r, out); err != nil {
		return nil, err
	}
	_, err = r.Read(make([]byte, 1)) // checks the sum
	if err != io.EOF {
		return nil, fmt.Errorf("longer than it says: %v", err)
	}
	return out, nil
}

// lookUp returns the first pronunciation of a word in lower case.
func lookUp(word string) ([]Phone, bool) {
	blob := dictionary()
	lo, hi := 0, len(blob) // line starts
	for lo < hi {
		mid := lo + (hi-lo)/2
		start := bytes.LastIndexByte(blob[lo:mid], '\n') + 1 + lo
		end := start + bytes.IndexByte(blob[start:], '\n')
		line := blob[start:end]
		n := 0
		for n < len(line) && line[n] < 0x80 {
			n++
		}
		switch key := string(line[:n]); {
		case key == word:
			return decode(line[n:]), true
		case key < word:
			lo = end + 1
		default:
			hi = start
		}
	}
	return nil, false
}

func decode(b []byte) []Phone {
	if i := bytes.IndexByte(b, 1); i >= 0 {
		b = b[:i]
	}
	out := make([]Phone, len(b))
	for i, c := range b {
		out[i] = Phone(c &^ 0x80)
	}
	return out
}
