package desk

import (
	"context"
	"errors"
	"slices"
	"strconv"
	"sync"
	"time"
)

// work is what is done in the background.
type work int

const (
	hearing work = iota // a lesson is listened to
	making              // a sound browsers play is made
)

type job struct {
	lesson int64
	work   work
}

// queue does one job after the other: hearing takes all the machine has.
type queue struct {
	mu      sync.Mutex
	jobs    []job // the first is under way
	now     map[int64]Progress
	more    chan struct{}
	cancel  context.CancelFunc
	stopped chan struct{}
}

func (q *queue) start(d *Desk) {
	ctx, cancel := context.WithCancel(context.Background())
	q.now, q.more, q.cancel, q.stopped = map[int64]Progress{}, make(chan struct{}, 1), cancel, make(chan struct{})
	go func() {
		defer close(q.stopped)
		for {
			j, ok := q.first()
			if !ok {
				select {
				case <-ctx.Done():
					return
				case <-q.more:
					continue
				}
			}
			if ctx.Err() != nil {
				return
			}
			d.do(ctx, j)
			q.mu.Lock()
			q.jobs = q.jobs[1:]
			if !slices.ContainsFunc(q.jobs, func(o job) bool { return o.lesson == j.lesson }) {
				delete(q.now, j.lesson)
			}
			q.mu.Unlock()
			if ctx.Err() == nil {
				d.changed(j.lesson)
			}
		}
	}()
}

func (q *queue) stop() {
	q.cancel()
	<-q.stopped
}

func (q *queue) first() (job, bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if len(q.jobs) == 0 {
		return job{}, false
	}
	return q.jobs[0], true
}

// add puts a job at the end, unless it is there.
func (q *queue) add(j job) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if slices.Contains(q.jobs, j) {
		return
	}
	q.jobs = append(q.jobs, j)
	if _, ok := q.now[j.lesson]; !ok {
		q.now[j.lesson] = Progress{Stage: "waiting"}
	}
	select {
	case q.more <- struct{}{}:
	default:
	}
}

// progress is how far a lesson is, nil when nothing is done for it.
func (q *queue) progress(id int64) *Progress {
	q.mu.Lock()
	defer q.mu.Unlock()
	if p, ok := q.now[id]; ok {
		return &p
	}
	return nil
}

func (d *Desk) tellProgress(id int64, p Progress) {
	d.queue.mu.Lock()
	d.queue.now[id] = p
	d.queue.mu.Unlock()
	d.hub.tell("progress", ProgressEvent{name(id), p})
}

func name(id int64) string { return strconv.FormatInt(id, 10) }

// changed tells the pages that a lesson, and so the list, looks otherwise now.
func (d *Desk) changed(id int64) {
	l, err := d.book.Lesson(context.Background(), id)
	if err != nil {
		return
	}
	d.hub.tell("lesson", LessonEvent{name(id), l.Revision})
	d.hub.tell("library", struct{}{})
}

func (d *Desk) do(ctx context.Context, j job) {
	var err error
	last := time.Time{}
	tell := func(p Progress) {
		// Often enough to see it move; the last of a stage may be left out.
		if time.Since(last) > 200*time.Millisecond {
			last = time.Now()
			d.tellProgress(j.lesson, p)
		}
	}
	switch j.work {
	case hearing:
		err = d.hear(ctx, j.lesson, tell)
		if err != nil && ctx.Err() == nil {
			err = errors.Join(d.book.Fail(ctx, j.lesson, oneLine(err)), err)
		}
	case making:
		tell(Progress{Stage: "making the sound ready"})
		err = d.makeSound(ctx, j.lesson)
	}
	if err != nil && ctx.Err() == nil {
		d.opt.Log("Lesson " + name(j.lesson) + ": " + oneLine(err))
	}
}
