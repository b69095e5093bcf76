package audio

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"

	goaudio "github.com/go-audio/audio"
	"github.com/go-audio/wav"
)

// pcm is sound at its own rate, block by block.
type pcm interface {
	// read fills dst, one slice per channel and all of one length, and says how
	// many frames it got: fewer only at the end, then 0 with io.EOF.
	read(dst [][]float32) (int, error)
	// warnings is complete once read has given io.EOF.
	warnings() []string
	close() error
}

// wavPCM reads the samples of a WAV file. Integers of 8, 24 and 32 bits are
// decoded by go-audio. 16-bit integers, which nearly every recorder writes, are
// not: at 10 ns a sample go-audio would take longer over them than resampling
// does (see BenchmarkDecode). 32-bit floats go-audio gives as integers.
type wavPCM struct {
	w      *wavFile
	file   file
	size   int64 // of the file when its header was read
	data   io.Reader
	dec    *wav.Decoder
	raw    []byte
	ints   goaudio.IntBuffer
	tally  floatTally
	frames int64
	failed string
	broke  error // what go-audio does not hand on
}

// file is what is needed of an *os.File.
type file interface {
	io.ReaderAt
	io.Closer
	Stat() (os.FileInfo, error)
}

func openWAV(f file, w *wavFile, size int64) (*wavPCM, error) {
	whole := w.length - w.length%int64(w.frameBytes())
	p := &wavPCM{w: w, file: f, size: size, data: io.NewSectionReader(f, w.start, whole)}
	if w.format == formatInt && w.bytes != 2 {
		// go-audio is given a plain header to read, then the samples.
		header := wavHeader(w.rate, w.channels, w.bytes*8, 0)
		p.dec = wav.NewDecoder(bytes.NewReader(header))
		if err := p.dec.FwdToPCM(); err != nil || p.dec.PCMChunk == nil {
			return nil, fmt.Errorf("reading the WAV header: %w", errors.Join(err, p.dec.Err()))
		}
		p.dec.PCMChunk.R = &wholeReads{r: p.data, failed: &p.broke}
	}
	return p, nil
}

func (p *wavPCM) read(dst [][]float32) (int, error) {
	n, err := p.fill(dst)
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		// A disk or a card that gives out in mid-file: keep what there was.
		p.failed = fmt.Sprintf("reading failed at second %.1f, the rest is lost: %v",
			float64(p.frames+int64(n))/float64(p.w.rate), err)
	}
	p.frames += int64(n)
	if n == 0 {
		if p.failed == "" {
			p.failed = p.changed()
		}
		return 0, io.EOF
	}
	return n, nil
}

// changed says what happened to the file while it was read, "" when nothing did.
func (p *wavPCM) changed() string {
	if p.frames < p.w.length/int64(p.w.frameBytes()) {
		return fmt.Sprintf("the file lost its end while it was read: nothing is left after second %.1f",
			float64(p.frames)/float64(p.w.rate))
	}
	return grown(p.file, p.size, float64(p.frames)/float64(p.w.rate))
}

// grown warns of a file that is longer than it was when it was loaded.
func grown(f interface{ Stat() (os.FileInfo, error) }, size int64, seconds float64) string {
	if st, err := f.Stat(); err != nil || st.Size() <= size {
		return ""
	}
	return fmt.Sprintf("the file is still growing: the %.1f s that were there at first were read; "+
		"debrief it again when the recorder has finished", seconds)
}

func (p *wavPCM) fill(dst [][]float32) (int, error) {
	want := len(dst[0])
	if p.dec == nil {
		p.raw = resizeBytes(p.raw, want*p.w.frameBytes())
		m, err := io.ReadFull(p.data, p.raw)
		n := m / p.w.frameBytes()
		if dst = prefix(dst, n); p.w.format == formatFloat {
			p.tally.add(planesFloat32(dst, p.raw))
		} else {
			planesInt16(dst, p.raw)
		}
		return n, err
	}

	if p.ints.Data == nil || len(p.ints.Data) != want*p.w.channels {
		p.ints.Data = make([]int, want*p.w.channels)
	}
	m, err := p.dec.PCMBuffer(&p.ints)
	n := m / p.w.channels
	zero, scale := 0, float32(1)/float32(int64(1)<<(p.w.bytes*8-1))
	if p.w.bytes == 1 {
		zero = 128 // 8-bit samples are unsigned
	}
	planesInt(prefix(dst, n), p.ints.Data, zero, scale)
	return n, cmp.Or(p.broke, err)
}

func (p *wavPCM) warnings() []string {
	w := append([]string(nil), p.w.warnings...)
	w = append(w, p.tally.warnings()...)
	if p.failed != "" {
		w = append(w, p.failed)
	}
	return w
}

func (p *wavPCM) close() error { return p.file.Close() }

// wholeReads fills the buffer at every Read. go-audio takes a short read for
// the end of the sound and drops what is left of a split sample.
type wholeReads struct {
	r      io.Reader
	failed *error
}

func (w *wholeReads) Read(b []byte) (int, error) {
	n, err := io.ReadFull(w.r, b)
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		*w.failed = err
	}
	if n > 0 {
		err = nil // it comes again with the next read
	}
	return n, err
}

// floatTally counts samples of a floating-point recording that were changed.
type floatTally struct{ broken, clipped int }

func (t *floatTally) add(broken, clipped int) {
	t.broken += broken
	t.clipped += clipped
}

func (t *floatTally) warnings() (w []string) {
	if t.broken > 0 {
		w = append(w, fmt.Sprintf("%d samples are not numbers and were taken as silence", t.broken))
	}
	if t.clipped > 0 {
		w = append(w, fmt.Sprintf("%d samples are louder than full scale and were clipped", t.clipped))
	}
	return w
}

// prefix is the first n samples of every channel.
func prefix(planes [][]float32, n int) [][]float32 {
	out := make([][]float32, len(planes))
	for c := range planes {
		out[c] = planes[c][:n]
	}
	return out
}

func resizeBytes(b []byte, n int) []byte {
	if cap(b) < n {
		return make([]byte, n)
	}
	return b[:n]
}
