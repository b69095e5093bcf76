package desk

import (
	"context"
	"errors"
	"slices"
	"strconv"
	"sync"
	"time"

	"sidetone/timeline/logbook"
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
	stopNow context.CancelFunc
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
			one, stop := context.WithCancel(ctx)
			q.mu.Lock()
			q.stopNow = stop
			q.mu.Unlock()
			elsewhere := d.do(one, j)
			elsewhere = elsewhere && one.Err() == nil
			stop()
			q.mu.Lock()
			q.jobs = q.jobs[1:]
			if elsewhere {
				time.AfterFunc(lookAgain, func() { q.add(j) })
			} else if !slices.ContainsFunc(q.jobs, func(o job) bool { return o.lesson == j.lesson }) {
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

// drop gives up what is to be done for a lesson.
func (q *queue) drop(id int64) {
	q.mu.Lock()
	defer q.mu.Unlock()
	of := func(j job) bool { return j.lesson == id }
	if len(q.jobs) > 0 {
		if of(q.jobs[0]) && q.stopNow != nil {
			q.stopNow()
		}
		q.jobs = append(q.jobs[:1:1], slices.DeleteFunc(q.jobs[1:], of)...)
	}
	delete(q.now, id)
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

// Another desk may have the same library open. A lesson it listens to is its own for
// claimed after it last said so; whether it is done is looked at so often.
const (
	claimed   = 15 * time.Second
	lookAgain = 2 * time.Second
)

// claim takes a lesson that waits, and keeps it until done is called; done is nil when
// it need not be heard, or is heard elsewhere.
func (d *Desk) claim(ctx context.Context, id int64) (done func(), elsewhere bool, err error) {
	free, err := d.book.Claim(ctx, id, d.me, claimed)
	if err != nil {
		return nil, false, err
	}
	if !free {
		l, err := d.book.Lesson(ctx, id)
		return nil, l.Stage == logbook.Waiting, err
	}
	stop, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		for {
			select {
			case <-stop:
				return
			case <-time.After(claimed / 3):
				if _, err := d.book.Claim(ctx, id, d.me, claimed); err != nil && ctx.Err() == nil {
					d.opt.Log(oneLine(err))
				}
			}
		}
	}()
	return func() {
		close(stop)
		<-stopped
		if err := d.book.Unclaim(context.WithoutCancel(ctx), id, d.me); err != nil {
			d.opt.Log(oneLine(err))
		}
	}, false, nil
}

// do does a job; elsewhere says that another program is at it.
func (d *Desk) do(ctx context.Context, j job) (elsewhere bool) {
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
		var done func()
		if done, elsewhere, err = d.claim(ctx, j.lesson); done == nil {
			if elsewhere {
				tell(Progress{Stage: "another desk listens to it"})
			}
			break
		}
		err = d.hear(ctx, j.lesson, tell)
		if err != nil && ctx.Err() == nil {
			err = errors.Join(d.book.Fail(ctx, j.lesson, oneLine(err)), err)
		}
		done()
	case making:
		tell(Progress{Stage: "making the sound ready"})
		err = d.makeSound(ctx, j.lesson)
	}
	if err != nil && ctx.Err() == nil {
		d.opt.Log("Lesson " + name(j.lesson) + ": " + oneLine(err))
	}
	return elsewhere
}
