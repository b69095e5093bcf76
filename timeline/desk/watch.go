package desk

import (
	"context"
	"time"

	"sidetone/timeline/logbook"
)

// Other programs may write into the library: another desk, or the command that puts a
// recording in. So often that is looked at, and so often where recordings went.
const (
	lookEvery = 3 * time.Second
	seekEvery = 20 // looks
)

// watch follows what happens to the library until ctx ends.
func (d *Desk) watch(ctx context.Context, known map[int64]logbook.Lesson) {
	w, err := d.book.Watch(ctx)
	if err != nil {
		if ctx.Err() == nil {
			d.opt.Log(oneLine(err))
		}
		return
	}
	defer w.Close()
	every := d.opt.Look
	if every == 0 {
		every = lookEvery
	}
	beat := time.NewTicker(every)
	defer beat.Stop()
	for n := 0; ; n++ {
		changed, err := w.Changed(ctx)
		if err == nil && changed {
			known, err = d.follow(ctx, known)
		}
		if err == nil && (changed || n%seekEvery == 0) {
			err = d.seek(ctx)
		}
		if err != nil && ctx.Err() == nil {
			d.opt.Log(oneLine(err))
		}
		if d.opt.Address != "" {
			if err := d.book.SayOpen(d.me, d.opt.Address); err != nil {
				d.opt.Log(oneLine(err))
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-beat.C:
		}
	}
}

// follow tells the pages what is otherwise than known, and has what waits listened to.
func (d *Desk) follow(ctx context.Context, known map[int64]logbook.Lesson) (map[int64]logbook.Lesson, error) {
	lessons, err := d.book.Lessons(ctx)
	if err != nil {
		return known, err
	}
	now := map[int64]logbook.Lesson{}
	changed := false
	for _, l := range lessons {
		now[l.ID] = l
		old, there := known[l.ID]
		if l.Stage == logbook.Waiting && old.Stage != logbook.Waiting {
			d.queue.add(job{l.ID, hearing})
		}
		if !there || old.Revision != l.Revision || old.Stage != l.Stage || old.Result != l.Result {
			changed = true
			d.hub.tell("lesson", LessonEvent{name(l.ID), l.Revision})
		}
	}
	for id := range known {
		if _, there := now[id]; !there {
			changed = true
			d.gone(id)
		}
	}
	if changed {
		d.hub.tell("library", struct{}{})
	}
	return now, nil
}
