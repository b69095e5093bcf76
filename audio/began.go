package audio

import (
	"encoding/binary"
	"io"
	"strings"
	"time"
)

// Began is when a file says its recording began.
type Began struct {
	Time  time.Time // its zone counts only when Zone says so
	Zone  bool      // false: by the recorder's own clock, wherever that was set
	Exact bool      // good to a sample, not just to a second
	From  string    // what says so: "bext", or the name of ffprobe's tag
}

// earliest is before any recorder that writes a date; what is older is a clock
// that was never set, or the zero of a format (1904, 1970).
var earliest = time.Date(1995, 1, 1, 0, 0, 0, 0, time.UTC)

// bext chunk of a Broadcast Wave file, EBU Tech 3285 version 2, section 2.3:
// the date stands after 256 + 32 + 32 bytes of text, and after its 10 bytes and
// the 8 of the time a count of samples since midnight, 64 bits.
const (
	bextDate = 320
	bextEnd  = 346
)

// readBext takes the time of origination of a bext chunk of n bytes at the given
// offset; rate is the file's, 0 when it is not known yet.
func readBext(r io.ReaderAt, at, n int64) (b bext, ok bool) {
	if n < bextEnd {
		return bext{}, false
	}
	var raw [bextEnd - bextDate]byte
	if _, err := r.ReadAt(raw[:], at+bextDate); err != nil {
		return bext{}, false
	}
	// The separators may be any character that is no digit (section 2.3: "hyphen,
	// underscore, colon, space, stop").
	digits := []byte(strings.Map(func(c rune) rune {
		if c < '0' || c > '9' {
			return '-'
		}
		return c
	}, string(raw[:18])))
	t, err := time.Parse("2006-01-0215-04-05", string(digits))
	if err != nil || t.Before(earliest) {
		return bext{}, false
	}
	return bext{t, binary.LittleEndian.Uint64(raw[18:])}, true
}

// bext is what is taken from such a chunk.
type bext struct {
	at      time.Time
	samples uint64 // since midnight; 0 where the recorder does not count
}

// began makes a time of it: the count of samples is the finer, where it agrees.
func (b bext) began(rate int) *Began {
	out := &Began{Time: b.at, From: "bext"}
	if rate > 0 && b.samples > 0 && b.samples < uint64(rate)*86400 {
		midnight := b.at.Truncate(24 * time.Hour)
		whole, part := b.samples/uint64(rate), b.samples%uint64(rate)
		fine := midnight.Add(time.Duration(whole)*time.Second + time.Duration(part)*time.Second/time.Duration(rate))
		if d := fine.Sub(b.at); d > -2*time.Second && d < 2*time.Second {
			out.Time, out.Exact = fine, true
		}
	}
	return out
}

// creationTags are the tags ffprobe gives a time of creation by, the surest first:
// the first has the zone the camera stood in, the second is in UTC by its format
// (ISO/IEC 14496-12, from memory), if not by every camera.
var creationTags = []string{"com.apple.quicktime.creationdate", "creation_time"}

// tagged reads the time of creation among the tags of a file.
func tagged(tags map[string]string) *Began {
	for _, name := range creationTags {
		for _, layout := range []string{time.RFC3339Nano, "2006-01-02T15:04:05-0700"} {
			t, err := time.Parse(layout, tags[name])
			if err == nil && t.After(earliest) {
				return &Began{Time: t, Zone: true, From: name}
			}
		}
	}
	return nil
}
