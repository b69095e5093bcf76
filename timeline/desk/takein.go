package desk

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode"

	"sidetone/timeline/logbook"
)

// TakeIn puts a recording into a library: its files stay where they are unless they are
// copied. A recording that is there already gives its lesson, known true. A desk that has
// the library open listens to it.
func TakeIn(ctx context.Context, book *logbook.Book, o Offer, copied bool) (id int64, known bool, err error) {
	var files []logbook.File
	for _, p := range o.Paths {
		f, err := logbook.Look(p)
		if err != nil {
			return 0, false, err
		}
		if copied {
			if f.Path, err = copyIn(book, p, f); err != nil {
				return 0, false, err
			}
		}
		files = append(files, f)
	}
	return putIn(ctx, book, o.About, files)
}

func putIn(ctx context.Context, book *logbook.Book, about logbook.Lesson, files []logbook.File) (id int64, known bool, err error) {
	if about.Title == "" && len(files) > 0 {
		about.Title = strings.TrimSuffix(files[0].Name, filepath.Ext(files[0].Name))
	}
	if id, known, err = book.Add(ctx, about, files); err != nil || !known {
		return id, known, err
	}
	// What was copied in vain goes again.
	for _, f := range files {
		if err := unlessNeeded(ctx, book, f.Path); err != nil {
			return id, known, err
		}
	}
	return id, known, nil
}

// unlessNeeded deletes a copy no lesson has.
func unlessNeeded(ctx context.Context, book *logbook.Book, path string) error {
	if filepath.Dir(path) != book.RecordingsDir() {
		return nil
	}
	needed, err := book.Needs(ctx, path)
	if err != nil || needed {
		return err
	}
	return os.Remove(path)
}

// Add takes a recording in.
func (d *Desk) Add(ctx context.Context, o Offer) (id int64, err error) {
	id, _, err = d.take(ctx, o)
	return id, err
}

func (d *Desk) take(ctx context.Context, o Offer) (id int64, known bool, err error) {
	if id, known, err = TakeIn(ctx, d.book, o, d.opt.Copy); err == nil {
		err = d.added(ctx, id, known)
	}
	return id, known, err
}

// Offer lets the pages add a recording by its path.
func (d *Desk) Offer(o Offer) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if len(o.Paths) > 0 {
		d.offered[o.Paths[0]] = o
	}
}

// added has a lesson listened to that was put in, and tells the pages.
func (d *Desk) added(ctx context.Context, id int64, known bool) error {
	l, err := d.book.Lesson(ctx, id)
	if err != nil {
		return err
	}
	if l.Stage == logbook.Waiting {
		d.queue.add(job{id, hearing})
	}
	if known {
		d.changed(id)
	} else {
		d.hub.tell("library", struct{}{})
	}
	return nil
}

func copyIn(book *logbook.Book, path string, f logbook.File) (string, error) {
	to := keptAs(book, f)
	if _, err := os.Stat(to); err == nil {
		return to, nil
	}
	in, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer in.Close()
	out, err := os.CreateTemp(book.RecordingsDir(), "new-*")
	if err != nil {
		return "", err
	}
	defer os.Remove(out.Name())
	_, err = io.Copy(out, in)
	if err := errors.Join(err, out.Sync(), out.Close()); err != nil {
		return "", err
	}
	return to, os.Rename(out.Name(), to)
}

// keptAs is where a copied recording lies: the name is made of its content, and of its
// ending where that is plain.
func keptAs(book *logbook.Book, f logbook.File) string {
	ext := strings.ToLower(filepath.Ext(f.Name))
	if len(ext) > 6 || strings.Trim(ext, ".abcdefghijklmnopqrstuvwxyz0123456789") != "" {
		ext = ""
	}
	return filepath.Join(book.RecordingsDir(), f.Digest+ext)
}

// takeIn takes a recording from a page.
func (d *Desk) takeIn(w http.ResponseWriter, r *http.Request) {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil {
		kind = ""
	}
	switch kind {
	case "application/json":
		d.takeOffered(w, r)
	case "multipart/form-data":
		d.takeUpload(w, r)
	default:
		refuse(w, http.StatusUnsupportedMediaType, "Send a recording as a form, or the path of one named on the command line as JSON.")
	}
}

func (d *Desk) takeOffered(w http.ResponseWriter, r *http.Request) {
	var n NewLesson
	if !decode(w, r, mostFact, &n) {
		return
	}
	d.mu.Lock()
	o, ok := d.offered[n.Path]
	d.mu.Unlock()
	if !ok {
		refuse(w, http.StatusForbidden, "Only recordings that were named when the desk was started can be added by their path; drop the file on the page instead.")
		return
	}
	id, known, err := d.take(r.Context(), o)
	if err != nil {
		d.trouble(w, err)
		return
	}
	reply(w, http.StatusCreated, Created{name(id), known})
}

const (
	mostField = 1000 // bytes
	mostParts = 64   // files and fields of a form
)

// takeUpload copies what is sent into the data folder as it comes in: a browser does
// not say where its file lies.
func (d *Desk) takeUpload(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, d.opt.Largest)
	form, err := r.MultipartReader()
	if err != nil {
		refuse(w, http.StatusBadRequest, "That form cannot be read: "+oneLine(err)+".")
		return
	}
	var about logbook.Lesson
	var files []logbook.File
	for range mostParts {
		part, err := form.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err == nil {
			err = d.takePart(part, &about, &files)
		}
		if err != nil {
			d.refuseUpload(w, err)
			return
		}
	}
	if len(files) == 0 {
		refuse(w, http.StatusBadRequest, "No recording was sent; choose a file.")
		return
	}
	id, known, err := putIn(r.Context(), d.book, about, files)
	if err == nil {
		err = d.added(r.Context(), id, known)
	}
	if err != nil {
		d.trouble(w, err)
		return
	}
	reply(w, http.StatusCreated, Created{name(id), known})
}

func (d *Desk) refuseUpload(w http.ResponseWriter, err error) {
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		refuse(w, http.StatusRequestEntityTooLarge, fmt.Sprintf("That is larger than %d MB, the most the desk takes; name it on the command line instead: sidetone desk RECORDING.", d.opt.Largest>>20))
		return
	}
	refuse(w, http.StatusBadRequest, upper(oneLine(err))+".")
}

func (d *Desk) takePart(part *multipart.Part, about *logbook.Lesson, files *[]logbook.File) error {
	field := part.FormName()
	if field != "recording" {
		b, err := io.ReadAll(io.LimitReader(part, mostField+1))
		if err != nil {
			return err
		}
		text := plain(string(b))
		if len(b) > mostField {
			return fmt.Errorf("the field %q is too long", field)
		}
		switch field {
		case "student":
			about.Student = text
		case "instructor":
			about.Instructor = text
		case "title":
			about.Title = text
		case "date":
			about.Flown, err = logbook.CheckDay(text)
		case "aircraft":
			if _, err = d.judge(logbook.Lesson{Aircraft: text}); err == nil {
				about.Aircraft = text
			}
		default:
			err = fmt.Errorf("the form has a field %q that the desk does not know", field)
		}
		return err
	}
	f, err := d.keepUpload(part)
	if err == nil {
		*files = append(*files, f)
	}
	return err
}

// keepUpload writes an uploaded file under a name made of its content.
func (d *Desk) keepUpload(part *multipart.Part) (logbook.File, error) {
	out, err := os.CreateTemp(d.book.RecordingsDir(), "new-*")
	if err != nil {
		return logbook.File{}, err
	}
	defer os.Remove(out.Name())
	n, err := io.Copy(out, part)
	if err := errors.Join(err, out.Sync(), out.Close()); err != nil {
		return logbook.File{}, err
	}
	if n == 0 {
		return logbook.File{}, errors.New("the file is empty; choose another")
	}
	f, err := logbook.Look(out.Name())
	if err != nil {
		return f, err
	}
	// FileName gives the last element of the name only.
	if f.Name = plain(part.FileName()); f.Name == "" || len(f.Name) > 200 {
		f.Name = "recording"
	}
	f.Path = keptAs(d.book, f)
	return f, os.Rename(out.Name(), f.Path)
}

// plain is one line of text without control characters.
func plain(s string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "")))
}

// mostImport is how large a lesson handed on may be, in bytes.
const mostImport = 256 << 20

// takeOver takes a lesson that another desk exported, as the body or as the file
// "recording" of a form.
func (d *Desk) takeOver(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, mostImport)
	body := io.Reader(r.Body)
	if kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type")); kind == "multipart/form-data" {
		form, err := r.MultipartReader()
		if err == nil {
			var part *multipart.Part
			for part == nil || part.FormName() != "recording" {
				if part, err = form.NextPart(); err != nil {
					break
				}
			}
			body = part
		}
		if err != nil {
			refuse(w, http.StatusBadRequest, "That form holds no lesson; choose the file that was exported as JSON.")
			return
		}
	}
	b, err := io.ReadAll(body)
	if err != nil {
		d.refuseUpload(w, err)
		return
	}
	id, err := d.importLesson(r.Context(), b)
	var bad badLesson
	switch {
	case errors.As(err, &bad):
		refuse(w, http.StatusUnprocessableEntity, "This is not a lesson as sidetone exports it: "+oneLine(err)+".")
		return
	case err != nil:
		d.trouble(w, err)
		return
	}
	d.changed(id)
	reply(w, http.StatusCreated, Created{ID: name(id)})
}

// badLesson is what is wrong with a file to be imported.
type badLesson struct{ error }

func (e badLesson) Unwrap() error { return e.error }

// importLesson adds a lesson, or what is new of it when it is there already. Nothing
// in it is believed unseen: the debrief must fit its schema, the facts are checked like
// any other.
// knownCovers refuses covers with an aircraft that is not known here.
func (d *Desk) knownCovers(l logbook.Lesson, facts []logbook.Fact) error {
	for _, f := range facts {
		if f.Cover == nil || f.Cover.Aircraft == nil || *f.Cover.Aircraft == l.Aircraft {
			continue
		}
		if _, err := d.judge(logbook.Lesson{Aircraft: *f.Cover.Aircraft, Procedures: l.Procedures}); err != nil {
			return err
		}
	}
	return nil
}

func (d *Desk) importLesson(ctx context.Context, b []byte) (int64, error) {
	var in Exported
	if err := json.Unmarshal(b, &in); err != nil {
		return 0, badLesson{err}
	}
	if in.Form != exportForm || in.FormVersion != exportVersion {
		return 0, badLesson{fmt.Errorf("it says to be %q of version %d", in.Form, in.FormVersion)}
	}
	if err := checkDebrief(in.Machine.Debrief); err != nil {
		return 0, badLesson{err}
	}
	tl, err := machineOf(in.Machine)
	if err != nil {
		return 0, badLesson{err}
	}
	// What is heard of a step, and which word a fact means, rest on these.
	if len(in.Machine.Utterances) != len(tl.Calls) || slices.ContainsFunc(in.Machine.Utterances, func(u int) bool { return u < 0 || u >= len(tl.Transcript) }) {
		return 0, badLesson{errors.New("its calls are not in its words")}
	}
	l := logbook.Lesson{UID: in.UID, Added: in.Added, Title: plain(in.Title), Student: plain(in.Student), Instructor: plain(in.Instructor),
		Aircraft: in.Aircraft, Source: in.AircraftSource, Procedures: in.Procedures}
	day := in.Date
	if c := in.FirstCover; c != nil { // what was put right follows from the facts
		l.Title, l.Student, l.Instructor, l.Aircraft, l.Source, day = plain(c.Title), plain(c.Student), plain(c.Instructor), c.Aircraft, c.Source, c.Flown
	}
	if l.Flown, err = logbook.CheckDay(day); err != nil {
		return 0, badLesson{err}
	}
	if err := d.knownCovers(l, in.Facts); err != nil {
		return 0, badLesson{err}
	}
	if _, err := d.judge(l); err != nil {
		return 0, badLesson{err}
	}
	h := in.Machine
	h.Peaks, h.Duration = in.Peaks, tl.Recording.Duration
	id, err := d.book.Import(ctx, l, in.Files, h, in.Facts)
	if errors.Is(err, logbook.ErrFact) {
		return 0, badLesson{err}
	}
	if err != nil {
		return 0, err
	}
	v, err := d.view(ctx, id)
	if err != nil {
		return 0, err
	}
	return id, d.summarise(ctx, id, v.timeline, v.facts)
}
