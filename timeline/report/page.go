package report

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"errors"
	"fmt"
	"html/template"
	"io"
	"regexp"
	"strings"
	"time"

	"sidetone/timeline"
)

// Media is the sound that goes into a page. Audio is read once, to its end, and
// need not fit in memory; nil makes a page without sound. Peaks are the lowest
// and highest sample, in [-1,1], of equal stretches of the whole recording; nil
// draws where words were said instead of a waveform. Spans are the stretches of
// the recording that follow each other in Audio; none when it is all of it.
type Media struct {
	Audio io.Reader
	MIME  string // of Audio, "audio/mpeg"
	Peaks [][2]float32
	Spans []timeline.Span
}

// holds says whether a moment can be listened to.
func (m Media) holds(at float64) bool {
	if m.Audio == nil {
		return false
	}
	for _, s := range m.Spans {
		if at >= s.From && at <= s.To {
			return true
		}
	}
	return len(m.Spans) == 0
}

// spanText writes the stretches for the script: "12.00-34.50 60.00-80.00".
func (m Media) spanText() string {
	var parts []string
	for _, s := range m.Spans {
		parts = append(parts, short(s.From)+"-"+short(s.To))
	}
	return strings.Join(parts, " ")
}

// PageOptions says what goes on the page beside the timeline. Made is when the
// debrief was made (zero: not shown), Version what made it ("": not shown). The cover's
// lines are left to be filled in by hand where they are "".
type PageOptions struct {
	Made    time.Time
	Version string

	Title                               string // "": the name of the recording
	Student, Instructor, Aircraft, Date string
	// Said is what people say of the lesson, in the order they said it, and WorkOn what
	// they set to be worked on next. It is shown as theirs and changes no verdict.
	Said   []Said
	WorkOn []Said
}

// Said is something a person says of a lesson: of a step, of a maneuver when Step is
// "", or of a moment when Maneuver is -1.
type Said struct {
	Maneuver int // index of the timeline's maneuvers
	Step     string
	At       *float64 // seconds
	Author   string
	Written  time.Time
	What     string // "overruled: heard", "noted"
	Text     string
	Done     bool // of something to work on
}

// HTML writes the debrief as one self-contained page: no network, sound inside,
// and a policy that lets nothing run but the page's own script.
func HTML(w io.Writer, tl *timeline.Timeline, media Media, opt PageOptions) error {
	p := newPage(tl, media, opt)
	if media.Audio != nil {
		if !audioType.MatchString(media.MIME) {
			return fmt.Errorf("%q is not a type of sound a page can hold", media.MIME)
		}
		p.Sound = template.URL("data:" + media.MIME + ";base64," + audioMark)
	}
	var b bytes.Buffer
	if err := pageTemplate.Execute(&b, p); err != nil {
		return fmt.Errorf("writing the page: %w", err)
	}
	head, tail := b.Bytes(), []byte(nil)
	if media.Audio != nil {
		// A quotation mark right after the mark cannot come from the lesson's
		// words: the template escapes theirs.
		var ok bool
		if head, tail, ok = bytes.Cut(head, []byte(audioMark+`"`)); !ok {
			return errors.New("writing the page: the template has no place for the sound")
		}
	}
	if _, err := w.Write(head); err != nil {
		return fmt.Errorf("writing the page: %w", err)
	}
	if media.Audio == nil {
		return nil
	}
	enc := base64.NewEncoder(base64.StdEncoding, w)
	if _, err := io.Copy(enc, media.Audio); err != nil {
		return fmt.Errorf("putting the sound into the page: %w", err)
	}
	if err := enc.Close(); err != nil {
		return fmt.Errorf("putting the sound into the page: %w", err)
	}
	if _, err := w.Write(append([]byte{'"'}, tail...)); err != nil {
		return fmt.Errorf("writing the page: %w", err)
	}
	return nil
}

const audioMark = "@@sound-goes-here@@"

var audioType = regexp.MustCompile(`^audio/[A-Za-z0-9.+-]+$`)

var (
	//go:embed report.css
	pageCSS string
	//go:embed report.js
	pageJS string
	//go:embed report.tmpl.html
	pageHTML string

	pageTemplate = template.Must(template.New("page").Parse(pageHTML))
	pagePolicy   = "default-src 'none'; base-uri 'none'; form-action 'none'; img-src data:; media-src data: blob:" +
		"; style-src " + hash(pageCSS) + "; script-src " + hash(pageJS)
)

// hash names an inline script or style in a Content Security Policy.
func hash(s string) string {
	sum := sha256.Sum256([]byte(s))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}
