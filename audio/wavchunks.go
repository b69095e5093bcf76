package audio

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

// go-audio/wav reads samples well, but its walk through the chunks takes the
// header at its word: RF64 is refused, the sizes 0 and 0xFFFFFFFF a recorder
// writes while it is still recording come out as no sound at all, the padding
// byte of an odd chunk is read as sound, the true format of
// WAVE_FORMAT_EXTENSIBLE is skipped, and a truncated file ends in silence about
// the loss. So the walk is ours; see wavPCM for what go-audio then does.
//
// Layout of the chunks: Microsoft/IBM "Multimedia Programming Interface and
// Data Specifications 1.0"; RF64 and ds64: EBU Tech 3306 (from memory).

// wavFile says where the sound of a WAV file lies and how it is written.
type wavFile struct {
	container string // "wav" or "rf64"
	format    uint16 // formatInt, formatFloat, or the tag of a format not read here
	channels  int
	rate      int // Hz
	bits      int // as the header gives them
	bytes     int // per sample, as stored
	start     int64
	length    int64 // bytes present in the file
	promised  int64 // bytes the header promises; 0 when it does not say
	bext      bext
	warnings  []string
}

// Format tags of the fmt chunk.
const (
	formatInt        = 1
	formatFloat      = 3
	formatExtensible = 0xFFFE
)

// Sanity bounds on a header: beyond them it is damaged, not unusual.
const (
	maxChannels = 32
	minRate     = 1000
	maxRate     = 1_000_000
)

// errNotWAV says that the first bytes are not those of a WAV file.
var errNotWAV = errors.New("no RIFF/WAVE header")

// walkWAV reads the chunk headers of a file of the given size.
func walkWAV(r io.ReaderAt, size int64) (*wavFile, error) {
	var head [12]byte
	if _, err := r.ReadAt(head[:], 0); err != nil || string(head[8:]) != "WAVE" {
		return nil, errNotWAV
	}
	w := &wavFile{}
	switch string(head[:4]) {
	case "RIFF":
		w.container = "wav"
	case "RF64", "BW64":
		w.container = "rf64"
	default:
		return nil, errNotWAV
	}

	var size64 int64 // of the data chunk, from ds64
	haveFmt := false
	for at := int64(12); at+8 <= size; {
		id, n, err := chunkHeader(r, at)
		if err != nil {
			return nil, err
		}
		at += 8
		switch id {
		case "ds64":
			var b [16]byte
			if _, err := r.ReadAt(b[:], at); err == nil && n >= 16 {
				size64 = int64(binary.LittleEndian.Uint64(b[8:]) & (1<<63 - 1))
			}
		case "fmt ":
			if err := w.readFormat(r, at, n); err != nil {
				return nil, err
			}
			haveFmt = true
		case "bext":
			w.bext, _ = readBext(r, at, n)
		case "data":
			w.start = at
			w.measure(r, size, n, size64)
			if haveFmt {
				w.lookBehind(r, size)
				return w, w.check()
			}
		}
		at += n + n&1
	}
	switch {
	case !haveFmt:
		return nil, errors.New("the WAV header does not say how the sound is written (no fmt chunk)")
	case w.start == 0:
		return nil, errors.New("the WAV header is followed by no sound (no data chunk)")
	}
	return w, w.check() // the data chunk came before the format
}

// lookBehind reads what some recorders write after the sound.
func (w *wavFile) lookBehind(r io.ReaderAt, size int64) {
	if w.bext != (bext{}) || w.promised != w.length {
		return
	}
	at := w.start + w.length
	at += at & 1
	for range 100 { // a file has a handful
		id, n, err := chunkHeader(r, at)
		if err != nil || at+8+n > size {
			return
		}
		if id == "bext" {
			w.bext, _ = readBext(r, at+8, n)
			return
		}
		at += 8 + n + n&1
	}
}

func chunkHeader(r io.ReaderAt, at int64) (id string, size int64, err error) {
	var b [8]byte
	if _, err := r.ReadAt(b[:], at); err != nil {
		return "", 0, fmt.Errorf("reading the WAV header at byte %d: %w", at, err)
	}
	return string(b[:4]), int64(binary.LittleEndian.Uint32(b[4:])), nil
}

// readFormat reads the fmt chunk of n bytes at the given offset.
func (w *wavFile) readFormat(r io.ReaderAt, at, n int64) error {
	if n < 16 {
		return fmt.Errorf("the WAV header is damaged (fmt chunk of %d bytes)", n)
	}
	var b [40]byte
	b2 := b[:min(n, 40)]
	if _, err := r.ReadAt(b2, at); err != nil {
		return fmt.Errorf("the WAV header is cut short at byte %d", at)
	}
	le := binary.LittleEndian
	w.format = le.Uint16(b[0:])
	w.channels = int(le.Uint16(b[2:]))
	w.rate = int(le.Uint32(b[4:]))
	w.bits = int(le.Uint16(b[14:]))
	// Samples of 12 or 20 bits lie left-justified in whole bytes. The frame size,
	// which says the same once more, is ignored: it is the field writers get wrong.
	w.bytes = (w.bits + 7) / 8
	guid := []byte("\x00\x00\x00\x00\x10\x00\x80\x00\x00\xAA\x00\x38\x9B\x71")
	if w.format == formatExtensible && bytes.Equal(b[26:40], guid) {
		w.format = le.Uint16(b[24:])
	}
	return nil
}

// measure settles how much sound there is: n bytes by the chunk header, size64
// by ds64, and what is left of a file of the given size.
func (w *wavFile) measure(r io.ReaderAt, size, n, size64 int64) {
	left := size - w.start
	w.length, w.promised = left, 0
	switch {
	case n == 1<<32-1 && size64 > 0:
		w.length, w.promised = min(size64, left), size64
	case n == 0 && !chunksUntilEnd(r, w.start, size):
		// The recorder never came back to fill in the size.
	case n > left && (n >= 1<<32-4096 || n >= 1<<31-1<<16 && n <= 1<<31):
		// A writer into a pipe: ffmpeg says 0xFFFFFFFF, sox 0x7FFFF000.
	default:
		w.length, w.promised = min(n, left), n
		if wraps := (left - n) >> 32; wraps > 0 {
			w.length, w.promised = n+wraps<<32, 0
			w.warnings = append(w.warnings, "the WAV header cannot hold a size this large; the whole file was read")
		}
	}
}

// chunksUntilEnd says whether well-formed chunks fill the file from at to its
// end. It tells a recording without a sample from one whose size is missing.
func chunksUntilEnd(r io.ReaderAt, at, size int64) bool {
	for at+8 <= size {
		id, n, err := chunkHeader(r, at)
		if err != nil {
			return false
		}
		for _, c := range []byte(id) {
			if c < ' ' || c > '~' {
				return false
			}
		}
		at += 8 + n
		if at == size {
			return true
		}
		at += n & 1
	}
	return at == size
}

// check refuses a header no recorder writes, and sound of no length.
func (w *wavFile) check() error {
	switch {
	case w.channels < 1 || w.channels > maxChannels:
		return fmt.Errorf("the WAV header is damaged (%d channels)", w.channels)
	case w.rate < minRate || w.rate > maxRate:
		return fmt.Errorf("the WAV header is damaged (%d samples a second)", w.rate)
	case !w.decodable():
		return nil // ffmpeg will say
	case w.length < int64(w.frameBytes()):
		return errors.New("the WAV file holds no sound")
	}
	if lost := w.promised - w.length; lost > 0 {
		w.warnings = append(w.warnings, fmt.Sprintf(
			"the file is cut short: it ends at second %.1f, its header promises %.1f",
			w.seconds(w.length), w.seconds(w.promised)))
	}
	return nil
}

// decodable says whether the samples are of a kind read here rather than by ffmpeg.
func (w *wavFile) decodable() bool {
	switch w.format {
	case formatInt:
		return w.bits >= 1 && w.bytes >= 1 && w.bytes <= 4
	case formatFloat:
		return w.bytes == 4 && w.bits == 32
	}
	return false
}

func (w *wavFile) frameBytes() int { return w.bytes * w.channels }

func (w *wavFile) seconds(bytes int64) float64 {
	return float64(bytes/int64(w.frameBytes())) / float64(w.rate)
}
