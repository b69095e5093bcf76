package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"sidetone/rules"
	"sidetone/timeline"
	"sidetone/timeline/logbook"
	"sidetone/timeline/report"
)

// The form of the JSON that is handed on.
const (
	exportForm    = "sidetone lesson"
	exportVersion = 1
)

// Exported is a whole lesson, to be imported on another machine or read by another
// program: its cover, what the machine said (with the words as it heard them), every
// fact, and Debrief, which is what follows from both. Recordings are not in it: Files
// tells by which content they are known.
type Exported struct {
	Form           string    `json:"form"`
	FormVersion    int       `json:"version"`
	UID            string    `json:"uid"`
	Added          time.Time `json:"added"`
	Title          string    `json:"title"`
	Date           string    `json:"date"`
	Student        string    `json:"student"`
	Instructor     string    `json:"instructor"`
	Aircraft       string    `json:"aircraft"`
	AircraftSource string    `json:"aircraft_source,omitempty"` // YAML, when it is not a built-in one
	// Procedures are those that were asked for, left out when those flown are found.
	Procedures []logbook.Procedure `json:"procedures,omitempty"`
	// FirstCover is left out when nobody put the cover right; what they did is in Facts.
	FirstCover *logbook.FirstCover `json:"first_cover,omitempty"`
	Files      []logbook.File      `json:"files"`
	Machine    logbook.Hearing     `json:"machine"`
	Facts      []logbook.Fact      `json:"facts"`
	Peaks      logbook.Peaks       `json:"peaks"`
	// Debrief has the form of timeline/report. An import works it out anew.
	Debrief json.RawMessage `json:"debrief"`
}

type exporting struct {
	kind  string
	write func(*Desk, http.ResponseWriter, *http.Request, *view) error
}

// exports by the ending of their address.
var exports = map[string]exporting{
	"json": {"application/json; charset=utf-8", (*Desk).exportJSON},
	"html": {"text/html; charset=utf-8", (*Desk).exportHTML},
	"vtt": {"text/vtt; charset=utf-8", func(_ *Desk, w http.ResponseWriter, r *http.Request, v *view) error {
		if r.URL.Query().Get("chapters") != "" {
			return report.WriteChapters(w, v.timeline)
		}
		return report.WriteCaptions(w, v.timeline)
	}},
	"csv": {"text/csv; charset=utf-8", func(_ *Desk, w http.ResponseWriter, r *http.Request, v *view) error {
		if r.URL.Query().Get("calls") != "" {
			return report.WriteCallsCSV(w, v.timeline)
		}
		said, _ := v.said()
		return report.WriteStepsCSV(w, v.timeline, said...)
	}},
}

func (d *Desk) export(e exporting) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		id, ok := idOf(w, r)
		if !ok {
			return
		}
		v, err := d.view(r.Context(), id)
		if err == nil && v.timeline == nil {
			err = logbook.ErrNotHeard
		}
		if err != nil {
			d.trouble(w, err)
			return
		}
		// The page is opened from the disk, where it has a policy of its own; here it is
		// only ever saved.
		ext := r.URL.Path[strings.LastIndexByte(r.URL.Path, '.'):]
		h := w.Header()
		h.Set("Content-Type", e.kind)
		h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": fileName(v.lesson) + ext}))
		late := &lateWriter{ResponseWriter: w}
		if err := e.write(d, late, r, v); err != nil {
			if late.begun {
				d.opt.Log(oneLine(err))
				panic(http.ErrAbortHandler) // the browser is told that it is not whole
			}
			h.Del("Content-Disposition")
			d.trouble(w, err)
		}
	}
}

// lateWriter knows whether an answer was begun.
type lateWriter struct {
	http.ResponseWriter
	begun bool
}

func (l *lateWriter) Write(b []byte) (int, error) {
	l.begun = true
	return l.ResponseWriter.Write(b)
}

// fileName is what an export is saved as, less its ending: letters, digits and dashes.
func fileName(l logbook.Lesson) string {
	words := strings.FieldsFunc(strings.TrimSpace(l.Flown+" "+l.Title), func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9')
	})
	s := strings.Join(words, "-")
	if s = s[:min(len(s), 80)]; s == "" {
		s = "lesson-" + name(l.ID)
	}
	return s + ".debrief"
}

func (d *Desk) exportJSON(w http.ResponseWriter, r *http.Request, v *view) error {
	files, err := d.book.Files(r.Context(), v.lesson.ID)
	if err != nil {
		return err
	}
	peaks, err := d.book.Peaks(r.Context(), v.lesson.ID)
	if err != nil {
		return err
	}
	l := v.lesson
	out := Exported{exportForm, exportVersion, l.UID, l.Added, l.Title, l.Flown, l.Student, l.Instructor, l.Aircraft, l.Source, l.Procedures, l.First,
		append([]logbook.File{}, files...), v.hearing, append([]logbook.Fact{}, v.facts...), peaks, v.debrief}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetIndent("", " ")
	if err := enc.Encode(out); err != nil {
		return err
	}
	_, err = b.WriteTo(w)
	return err
}

// exportHTML is the one page with the sound inside, and what people said.
func (d *Desk) exportHTML(w http.ResponseWriter, r *http.Request, v *view) error {
	ctx := r.Context()
	peaks, err := d.book.Peaks(ctx, v.lesson.ID)
	if err != nil {
		return err
	}
	tl := *v.timeline
	tl.Notes = slices.Clone(tl.Notes)
	media := report.Media{Peaks: peaks.Peaks}
	if len(peaks.Peaks) > 0 {
		f, ext, err := d.smallSound(ctx, v.lesson)
		switch {
		case errors.Is(err, errLost):
			tl.Notes = append(tl.Notes, "The page is without sound: the recording was not found.")
		case err != nil:
			return err
		default:
			defer f.Close()
			media.Audio, media.MIME = f, soundTypes[ext]
		}
	}
	l := v.lesson
	said, work := v.said()
	return report.HTML(w, &tl, media, report.PageOptions{Made: time.Now(), Version: d.opt.Version, Title: l.Title, Student: l.Student,
		Instructor: l.Instructor, Aircraft: l.Aircraft, Date: l.Flown, Said: said, WorkOn: work})
}

// smallSound is a small sound of a lesson: the one that was made for the desk, else one
// made for this page alone, which is gone once it is closed.
func (d *Desk) smallSound(ctx context.Context, l logbook.Lesson) (io.ReadCloser, string, error) {
	if path := d.made(l); path != "" {
		f, err := os.Open(path)
		return f, filepath.Ext(path), err
	}
	paths, err := d.recording(ctx, l.ID)
	if err != nil {
		return nil, "", err
	}
	f, err := os.CreateTemp(filepath.Dir(d.book.SoundPath(l.Digest, "")), "new-*")
	if err != nil {
		return nil, "", err
	}
	passing := passingFile{f}
	ext, err := d.opt.Ears.Sound(ctx, paths, f)
	if err == nil && soundTypes[ext] == "" {
		err = errors.New("a sound of the kind " + ext + " is not served")
	}
	if err == nil {
		_, err = f.Seek(0, io.SeekStart)
	}
	if err != nil {
		return nil, "", errors.Join(err, passing.Close())
	}
	return passing, ext, nil
}

// passingFile is deleted when it is closed.
type passingFile struct{ *os.File }

func (f passingFile) Close() error { return errors.Join(f.File.Close(), os.Remove(f.Name())) }

// said is what people say, for a page.
func (v *view) said() (said, work []report.Said) {
	of := func(f logbook.Fact, what, text string) report.Said {
		s := report.Said{Maneuver: -1, Step: f.Step, At: f.At, Author: f.Author, Written: f.Written, What: what, Text: text}
		if f.Maneuver != nil {
			s.Maneuver = f.Maneuver.Find(v.timeline)
		}
		return s
	}
	hands := map[int]bool{}
	for _, f := range logbook.LastHands(v.facts) {
		hands[f.Number] = true
	}
	items := []WorkOn{}
	for i, f := range v.facts {
		if !v.stands[i] {
			continue
		}
		switch f.Kind {
		case logbook.KindVerdict:
			switch {
			case !hands[f.Number] || v.decides(f):
			case f.Hand == logbook.Accept:
				said = append(said, of(f, "agreed", ""))
			case f.Hand == logbook.ListenAgain:
				said = append(said, of(f, "marked “come back to this”", f.Reason))
			default:
				said = append(said, of(f, "overruled: "+verdictWords[f.Verdict]+" "+quoted(f.Reason), ""))
			}
		case logbook.KindNote:
			said = append(said, of(f, "", f.Text))
		case logbook.KindCall:
			if !v.decides(f) {
				said = append(said, of(f, "added a call that was not heard", v.callTitle(f.Callout)))
			}
		case logbook.KindWord:
			was, at, _ := v.word(*f.Word)
			f.At = &at
			said = append(said, of(f, "put a word right", quoted(f.Text)+" instead of "+quoted(was)))
		case logbook.KindWorkOn:
			items = v.workOn(items, f)
		}
	}
	for _, w := range items {
		work = append(work, report.Said{Maneuver: -1, Author: w.Author, Text: w.Text, Done: w.Done})
	}
	return said, work
}

// decides says whether a fact decides a verdict of the timeline, which tells of it then.
func (v *view) decides(f logbook.Fact) bool {
	for i, m := range v.timeline.Maneuvers {
		for _, s := range m.Steps {
			switch p := s.Person; {
			case p == nil || p.Author != f.Author:
			case f.Kind == logbook.KindVerdict && p.How == rules.Overruled && f.Hand == logbook.Overrule && s.ID == f.Step && f.Maneuver.Find(v.timeline) == i:
				return true
			case f.Kind == logbook.KindCall && p.How == rules.Added && s.Call != nil:
				if c := v.timeline.Calls[*s.Call]; c.ID == f.Callout && c.Start == *f.At {
					return true
				}
			}
		}
	}
	return false
}

var debriefSchema = sync.OnceValues(func() (*jsonschema.Schema, error) {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(report.Schema))
	if err != nil {
		return nil, err
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("debrief.json", doc); err != nil {
		return nil, err
	}
	return c.Compile("debrief.json")
})

// checkDebrief holds a debrief against its published schema.
func checkDebrief(b []byte) error {
	schema, err := debriefSchema()
	if err != nil {
		return err
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	if err != nil {
		return err
	}
	if err := schema.Validate(doc); err != nil {
		return err
	}
	var tl timeline.Timeline
	return json.Unmarshal(b, &tl)
}
