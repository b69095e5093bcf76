package desk

import (
	"context"
	"net/http"
	"path/filepath"
	"slices"

	"sidetone/timeline/logbook"
	"sidetone/timeline/report"
)

// Told puts what removing a lesson does in sentences: what goes, and what stays.
func Told(r logbook.Removal, files []logbook.File, recordings string) (goes, stays []string) {
	goes = []string{"What was heard in it"}
	if n := r.Lesson.Revision; n > 0 {
		goes[0] += " and " + report.Plural(n, "change people made", "changes people made")
	}
	goes[0] += "."
	for _, path := range r.Copies {
		i := slices.IndexFunc(files, func(f logbook.File) bool { return f.Path == path })
		if filepath.Dir(path) == recordings && i >= 0 {
			goes = append(goes, "The desk's own copy of the recording “"+files[i].Name+"”.")
		} else {
			goes = append(goes, "The small sound the desk made of it to play.")
		}
	}
	for _, f := range r.Stays {
		stays = append(stays, "The recording itself stays where it is: "+f.Path)
	}
	return goes, stays
}

// removal tells what removing a lesson would do, for the question before it.
func (d *Desk) removal(w http.ResponseWriter, r *http.Request) {
	id, ok := idOf(w, r)
	if !ok {
		return
	}
	what, err := d.book.Removal(r.Context(), id)
	if err != nil {
		d.trouble(w, err)
		return
	}
	files, err := d.book.Files(r.Context(), id)
	if err != nil {
		d.trouble(w, err)
		return
	}
	goes, stays := Told(what, files, d.book.RecordingsDir())
	reply(w, http.StatusOK, Removal{what.Lesson.Title, goes, append([]string{}, stays...)})
}

// remove takes a lesson out of the library.
func (d *Desk) remove(w http.ResponseWriter, r *http.Request) {
	l, ok := d.asked(w, r)
	if !ok {
		return
	}
	d.queue.drop(l.ID)
	_, err := d.book.Remove(context.WithoutCancel(r.Context()), l.ID)
	d.gone(l.ID)
	if err != nil {
		d.trouble(w, err)
		return
	}
	reply(w, http.StatusOK, Created{ID: name(l.ID)})
}

// gone forgets a lesson that was removed, and tells the pages.
func (d *Desk) gone(id int64) {
	d.queue.drop(id)
	d.views.drop(id)
	d.hub.tell("removed", LessonEvent{ID: name(id)})
	d.hub.tell("library", struct{}{})
}

func (vs *views) drop(id int64) {
	vs.mu.Lock()
	defer vs.mu.Unlock()
	delete(vs.kept, id)
	vs.order = slices.DeleteFunc(vs.order, func(o int64) bool { return o == id })
}
