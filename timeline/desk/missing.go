package desk

import (
	"context"
	"errors"
	"io"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"sidetone/timeline/logbook"
)

// missing is the first file of a recording that is not where it was; nil when it never
// had one.
func (d *Desk) missing(ctx context.Context, id int64) (*Missing, error) {
	files, err := d.book.Files(ctx, id)
	if err != nil || len(files) == 0 {
		return nil, err
	}
	i := max(0, slices.IndexFunc(files, away))
	return &Missing{files[i].Name, files[i].Path}, nil
}

// away says of a file that it is not where it was last seen.
func away(f logbook.File) bool { return !logbook.IsFile(f.Path) }

// bringBack takes the recording of a lesson whose files were lost.
func (d *Desk) bringBack(w http.ResponseWriter, r *http.Request) {
	l, ok := d.asked(w, r)
	if !ok {
		return
	}
	ctx := r.Context()
	wanted, err := d.book.Files(ctx, l.ID)
	if err != nil {
		d.trouble(w, err)
		return
	}
	r.Body = http.MaxBytesReader(w, r.Body, d.opt.Largest)
	form, err := r.MultipartReader()
	if err != nil {
		refuse(w, http.StatusBadRequest, "That form cannot be read: "+oneLine(err)+".")
		return
	}
	found := 0
	for range mostParts {
		part, err := form.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err == nil && part.FormName() != "recording" {
			continue
		}
		var f logbook.File
		if err == nil {
			f, err = d.keepUpload(part)
		}
		if err != nil {
			d.refuseUpload(w, err)
			return
		}
		mine, err := d.book.BringBack(ctx, l.ID, f)
		if err == nil {
			err = unlessNeeded(ctx, d.book, f.Path)
		}
		if err != nil {
			d.trouble(w, err)
			return
		}
		if mine {
			found++
		}
	}
	if found == 0 {
		var names []string
		for _, f := range wanted {
			names = append(names, "“"+f.Name+"”")
		}
		refuse(w, http.StatusUnprocessableEntity, "That is another recording than this lesson's, "+strings.Join(names, ", ")+"; to make a lesson of it, drop it on the library's page.")
		return
	}
	d.lost.forget(l.ID)
	d.changed(l.ID)
	d.replyState(w, r, l.ID, http.StatusOK)
}

// lost are the lessons whose recording was looked for and not found: the list says so.
// Looking takes a while, so it is done beside, a few at a time.
type lost struct {
	mu     sync.Mutex
	looked map[int64]time.Time
}

const (
	lookedFor  = 10 * time.Minute // until it is looked for again
	lookAtOnce = 5
)

func (o *lost) has(id int64) bool {
	o.mu.Lock()
	defer o.mu.Unlock()
	_, ok := o.looked[id]
	return ok
}

func (o *lost) forget(id int64) {
	o.mu.Lock()
	defer o.mu.Unlock()
	delete(o.looked, id)
}

// unplaced are the lessons that were heard and of which a file is not where it was, and
// no sound is here.
func (d *Desk) unplaced(ctx context.Context, lessons []logbook.Lesson) (map[int64]bool, error) {
	if len(lessons) == 0 {
		return nil, nil
	}
	files, err := d.book.AllFiles(ctx)
	if err != nil {
		return nil, err
	}
	out := map[int64]bool{}
	for _, l := range lessons {
		of := files[l.ID]
		// Nobody listens to a file of words.
		words := len(of) > 0 && slices.Contains([]string{".vtt", ".srt", ".txt", ".json"}, strings.ToLower(filepath.Ext(of[0].Name)))
		if l.Stage == logbook.Heard && !words && slices.ContainsFunc(of, away) && d.made(l) == "" {
			out[l.ID] = true
		}
	}
	return out, nil
}

// seek looks for some recordings that are not where they were.
func (d *Desk) seek(ctx context.Context) error {
	lessons, err := d.book.Lessons(ctx)
	if err != nil {
		return err
	}
	unplaced, err := d.unplaced(ctx, lessons)
	if err != nil {
		return err
	}
	changed, left := false, lookAtOnce
	d.lost.mu.Lock()
	for id := range d.lost.looked {
		if !unplaced[id] {
			delete(d.lost.looked, id)
			changed = true
		}
	}
	var due []int64
	for id := range unplaced {
		if time.Since(d.lost.looked[id]) > lookedFor && left > 0 {
			due = append(due, id)
			left--
		}
	}
	d.lost.mu.Unlock()
	for _, id := range due {
		_, found, err := d.book.Recording(ctx, id)
		if err != nil {
			return err
		}
		d.lost.mu.Lock()
		if _, known := d.lost.looked[id]; known == found {
			changed = true
		}
		if delete(d.lost.looked, id); !found {
			if d.lost.looked == nil {
				d.lost.looked = map[int64]time.Time{}
			}
			d.lost.looked[id] = time.Now()
		}
		d.lost.mu.Unlock()
	}
	if changed {
		d.hub.tell("library", struct{}{})
	}
	return nil
}
