package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strconv"
	"time"
	"unicode"
	"unicode/utf8"

	"sidetone/timeline/logbook"
)

func withNonce(r *http.Request, nonce string) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), nonceKey{}, nonce))
}

func (d *Desk) listed(l logbook.Lesson) Listed {
	return Listed{
		ID: name(l.ID), Title: l.Title, Date: l.Flown, Added: moment(l.Added), Student: l.Student, Instructor: l.Instructor, Aircraft: l.Aircraft,
		Duration: l.Duration, Maneuvers: append([]string{}, l.Maneuvers...), Result: l.Result, Revision: l.Revision,
		Progress: d.hearingProgress(l), Trouble: l.Trouble,
	}
}

// hearingProgress is how far the hearing is; that a sound is being made does not hide
// what was heard.
func (d *Desk) hearingProgress(l logbook.Lesson) *Progress {
	if l.Stage == logbook.Heard {
		return nil
	}
	return d.queue.progress(l.ID)
}

func (d *Desk) lessons(ctx context.Context) ([]Listed, error) {
	all, err := d.book.Lessons(ctx)
	if err != nil {
		return nil, err
	}
	// Those that were looked for in vain may have come back; the others are not looked at here.
	lost := slices.DeleteFunc(slices.Clone(all), func(l logbook.Lesson) bool { return !d.lost.has(l.ID) })
	unplaced, err := d.unplaced(ctx, lost)
	if err != nil {
		return nil, err
	}
	out := make([]Listed, 0, len(all))
	for _, l := range all {
		x := d.listed(l)
		x.Missing = unplaced[l.ID]
		out = append(out, x)
	}
	return out, nil
}

func (d *Desk) list(w http.ResponseWriter, r *http.Request) {
	all, err := d.lessons(r.Context())
	if err != nil {
		d.trouble(w, err)
		return
	}
	reply(w, http.StatusOK, all)
}

func (d *Desk) libraryPage(w http.ResponseWriter, r *http.Request) {
	all, err := d.lessons(r.Context())
	if err != nil {
		d.trouble(w, err)
		return
	}
	d.draw(w, "library.tmpl.html", LibraryPage{d.token, nonceOf(r), d.opt.Version, all})
}

func (d *Desk) lessonPage(template string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if l, ok := d.asked(w, r); ok {
			d.draw(w, template, LessonPage{d.token, nonceOf(r), d.opt.Version, d.listed(l)})
		}
	}
}

func (d *Desk) draw(w http.ResponseWriter, template string, data any) {
	var b bytes.Buffer
	if err := pages.ExecuteTemplate(&b, template, data); err != nil {
		d.trouble(w, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = b.WriteTo(w)
}

// nonceOf is the word the page's own style sheets must bear.
func nonceOf(r *http.Request) string {
	nonce, _ := r.Context().Value(nonceKey{}).(string)
	return nonce
}

// asked is the lesson a path names; if there is none, that is answered.
func (d *Desk) asked(w http.ResponseWriter, r *http.Request) (logbook.Lesson, bool) {
	id, ok := idOf(w, r)
	if !ok {
		return logbook.Lesson{}, false
	}
	l, err := d.book.Lesson(r.Context(), id)
	if err != nil {
		d.trouble(w, err)
	}
	return l, err == nil
}

// idOf is the number of the lesson a path names.
func idOf(w http.ResponseWriter, r *http.Request) (int64, bool) {
	id, err := strconv.ParseInt(r.PathValue("id"), 10, 64)
	if err != nil || id <= 0 || name(id) != r.PathValue("id") {
		refuse(w, http.StatusNotFound, "There is no such lesson here; go back to the library.")
		return 0, false
	}
	return id, true
}

// trouble answers with an error: what the user can mend in its words, anything else as
// the program's own.
func (d *Desk) trouble(w http.ResponseWriter, err error) {
	switch {
	case errors.Is(err, logbook.ErrNoLesson):
		refuse(w, http.StatusNotFound, "There is no such lesson here; go back to the library.")
	case errors.Is(err, logbook.ErrNotHeard):
		refuse(w, http.StatusConflict, upper(logbook.ErrNotHeard.Error())+".")
	case errors.Is(err, logbook.ErrFact):
		refuse(w, http.StatusUnprocessableEntity, upper(oneLine(err))+".")
	case errors.Is(err, context.Canceled):
	default:
		d.opt.Log(oneLine(err))
		refuse(w, http.StatusInternalServerError, "That did not work: "+oneLine(err)+".")
	}
}

// upper begins a sentence.
func upper(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

func (d *Desk) state(w http.ResponseWriter, r *http.Request) {
	if id, ok := idOf(w, r); ok {
		d.replyState(w, r, id, http.StatusOK)
	}
}

func (d *Desk) replyState(w http.ResponseWriter, r *http.Request, id int64, status int) {
	v, err := d.view(r.Context(), id)
	if err != nil {
		d.trouble(w, err)
		return
	}
	// The list's line may be of a program that counted otherwise.
	if v.timeline != nil && v.lesson.Result != result(v.timeline, v.facts) {
		if err := d.summarise(context.WithoutCancel(r.Context()), id, v.timeline, v.facts); err != nil {
			d.trouble(w, err)
			return
		}
	}
	s, err := d.stateOf(r.Context(), v)
	if err != nil {
		d.trouble(w, err)
		return
	}
	reply(w, status, s)
}

func (d *Desk) peaks(w http.ResponseWriter, r *http.Request) {
	id, ok := idOf(w, r)
	if !ok {
		return
	}
	p, err := d.book.Peaks(r.Context(), id)
	if err != nil {
		d.trouble(w, err)
		return
	}
	if p.Peaks == nil {
		p.Peaks = [][2]float32{}
	}
	reply(w, http.StatusOK, Peaks{PerSecond: p.PerSecond, Peaks: p.Peaks})
}

// mostFact is how large a fact may be, in bytes.
const mostFact = 64 << 10

// append takes a fact.
func (d *Desk) append(w http.ResponseWriter, r *http.Request) {
	id, ok := idOf(w, r)
	if !ok {
		return
	}
	_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(30 * time.Second))
	var f Fact
	if !decode(w, r, mostFact, &f) {
		return
	}
	ctx := r.Context()
	v, err := d.view(ctx, id)
	if err != nil {
		d.trouble(w, err)
		return
	}
	// A fact that is there already is not held against the lesson as it is now.
	known := false
	for _, old := range v.facts {
		known = known || old.Key == f.Key
	}
	if !known {
		given, err := v.given(f, d.opt.Aircraft)
		if errors.Is(err, logbook.ErrNotHeard) {
			d.trouble(w, err)
			return
		}
		if err != nil {
			refuse(w, http.StatusUnprocessableEntity, upper(oneLine(err))+".")
			return
		}
		kept, fresh, err := d.book.Append(context.WithoutCancel(ctx), id, given)
		if err != nil {
			d.trouble(w, err)
			return
		}
		if fresh {
			d.appended(ctx, id, kept)
		}
	}
	d.replyState(w, r, id, http.StatusCreated)
}

// appended brings the list up to date after a fact, and tells the pages.
func (d *Desk) appended(ctx context.Context, id int64, f logbook.Fact) {
	ctx = context.WithoutCancel(ctx)
	v, err := d.view(ctx, id)
	if err == nil && v.timeline != nil {
		if line := result(v.timeline, v.facts); line != v.lesson.Result {
			err = d.summarise(ctx, id, v.timeline, v.facts)
		}
	}
	if err != nil {
		d.opt.Log(fmt.Sprintf("Lesson %d, change %d: %s", id, f.Number, oneLine(err)))
	}
	d.hub.tell("lesson", LessonEvent{name(id), f.Number})
	if f.Kind == logbook.KindCover || f.Kind == logbook.KindUndo {
		d.hub.tell("library", struct{}{})
	}
}

// decode reads one JSON value of a request, and nothing it does not know.
func decode(w http.ResponseWriter, r *http.Request, most int64, into any) bool {
	dec := json.NewDecoder(http.MaxBytesReader(w, r.Body, most))
	dec.DisallowUnknownFields()
	err := dec.Decode(into)
	if err == nil {
		if _, more := dec.Token(); !errors.Is(more, io.EOF) {
			err = errors.New("there is more after its end")
		}
	}
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		refuse(w, http.StatusRequestEntityTooLarge, "That is too long to be kept; write less.")
		return false
	case err != nil:
		refuse(w, http.StatusBadRequest, "That cannot be read: "+oneLine(err)+".")
		return false
	}
	return true
}
