package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"sidetone/rules"
	"sidetone/timeline"
	"sidetone/timeline/logbook"
	"sidetone/timeline/report"
)

// view is a lesson with what people said of it, ready to be shown.
type view struct {
	lesson    logbook.Lesson
	judge     *timeline.Judge
	facts     []logbook.Fact
	stands    []bool
	hearing   logbook.Hearing
	machine   *timeline.Timeline // nil before it was heard
	judged    *timeline.Timeline // after people's words and calls; machine itself without
	timeline  *timeline.Timeline // judged with people's verdicts: what counts, see logbook.Settle
	debrief   json.RawMessage    // timeline as JSON
	judgedFor []int              // numbers of the facts that judged follows from
	settled   string             // what else timeline follows from
}

// views keeps the lessons looked at last: judging one anew takes a moment.
type views struct {
	mu    sync.Mutex
	kept  map[int64]*slot
	order []int64 // last looked at last
}

type slot struct {
	mu sync.Mutex
	v  *view
}

const viewsKept = 12

func (vs *views) slot(id int64) *slot {
	vs.mu.Lock()
	defer vs.mu.Unlock()
	if vs.kept == nil {
		vs.kept = map[int64]*slot{}
	}
	vs.order = append(slices.DeleteFunc(vs.order, func(o int64) bool { return o == id }), id)
	if vs.kept[id] == nil {
		vs.kept[id] = &slot{}
	}
	if len(vs.order) > viewsKept {
		delete(vs.kept, vs.order[0])
		vs.order = vs.order[1:]
	}
	return vs.kept[id]
}

// view is a lesson as it stands now. What it holds is not to be changed. It is made
// to the end even when nobody waits for it any more: who asks again finds it.
func (d *Desk) view(ctx context.Context, id int64) (*view, error) {
	ctx = context.WithoutCancel(ctx)
	s := d.views.slot(id)
	s.mu.Lock()
	defer s.mu.Unlock()
	l, err := d.book.Lesson(ctx, id)
	if err != nil {
		return nil, err
	}
	if old := s.v; old != nil && old.lesson.Revision == l.Revision && (old.machine != nil || l.Stage != logbook.Heard) {
		v := *old
		v.lesson = l
		return &v, nil
	}
	v := &view{lesson: l}
	if v.judge, err = d.judge(l); err != nil {
		return nil, err
	}
	if v.facts, err = d.book.Facts(ctx, id); err != nil {
		return nil, err
	}
	v.lesson.Revision = len(v.facts)
	v.stands = logbook.Standing(v.facts)
	if l.Stage == logbook.Heard {
		if err := v.apply(ctx, d, s.v); err != nil {
			return nil, err
		}
	}
	s.v = v
	return v, nil
}

// apply judges the lesson with what people said, unless before did already.
func (v *view) apply(ctx context.Context, d *Desk, before *view) (err error) {
	if before != nil && before.machine != nil {
		v.hearing, v.machine = before.hearing, before.machine
	} else {
		if v.hearing, err = d.book.Hearing(ctx, v.lesson.ID); err != nil {
			return err
		}
		if v.machine, err = machineOf(v.hearing); err != nil {
			return err
		}
	}
	for i, f := range v.facts {
		if v.stands[i] && f.Rejudges() {
			v.judgedFor = append(v.judgedFor, f.Number)
		}
	}
	v.settled = v.lesson.Instructor
	for _, f := range logbook.LastHands(v.facts) {
		v.settled += fmt.Sprint(" ", f.Number)
	}
	same := before != nil && before.machine != nil && slices.Equal(before.judgedFor, v.judgedFor)
	switch {
	case same && before.settled == v.settled:
		v.judged, v.timeline, v.debrief = before.judged, before.timeline, before.debrief
		return nil
	case same:
		v.judged = before.judged
	case len(v.judgedFor) == 0:
		v.judged = v.machine
	default:
		v.judged = logbook.Debrief(v.judge, v.machine, v.facts)
	}
	v.timeline = logbook.Settle(v.judge, v.judged, v.machine, v.facts, v.lesson.Instructor)
	if v.timeline == v.machine {
		v.debrief = v.hearing.Debrief
		return nil
	}
	var b bytes.Buffer
	if err := report.JSON(&b, v.timeline); err != nil {
		return err
	}
	v.debrief = b.Bytes()
	return nil
}

// attempt names a maneuver for the pages: the Nth attempt at its procedure.
func (v *view) attempt(m *logbook.Maneuver) string {
	if m == nil {
		return ""
	}
	if v.timeline == nil {
		return m.Procedure + "/0"
	}
	i := m.Find(v.timeline)
	if i < 0 {
		return m.Procedure + "/0"
	}
	return attemptAt(v.timeline, i)
}

func attemptAt(tl *timeline.Timeline, i int) string {
	n := 0
	for _, a := range tl.Maneuvers[:i+1] {
		if a.Procedure == tl.Maneuvers[i].Procedure {
			n++
		}
	}
	return fmt.Sprintf("%s/%d", tl.Maneuvers[i].Procedure, n)
}

// byAttempt is the index of the maneuver a page names, -1 for none.
func byAttempt(tl *timeline.Timeline, name string) int {
	for i := range tl.Maneuvers {
		if attemptAt(tl, i) == name {
			return i
		}
	}
	return -1
}

func moment(t time.Time) string { return t.UTC().Format(time.RFC3339) }

// state is a lesson for the pages.
func (d *Desk) stateOf(ctx context.Context, v *view) (*State, error) {
	l := v.lesson
	s := &State{
		ID: name(l.ID), Title: l.Title, Date: l.Flown, Student: l.Student, Instructor: l.Instructor, Aircraft: l.Aircraft,
		Aircrafts: d.aircraftFor(l), Duration: l.Duration, Revision: l.Revision, Words: []Word{}, Hands: []Hand{}, Notes: []Note{}, WorkOn: []WorkOn{}, Added: []Added{},
		History: []Change{}, Callouts: []Callout{}, Asked: map[string][]Asked{}, Remarks: []string{}, Progress: d.queue.progress(l.ID), Trouble: l.Trouble,
	}
	for _, c := range v.judge.Callouts() {
		title := c.Title
		if title == "" {
			title = c.ID
		}
		s.Callouts = append(s.Callouts, Callout{c.ID, title, c.Quantity.Unit()})
	}
	slices.SortStableFunc(s.Callouts, func(a, b Callout) int { return strings.Compare(strings.ToLower(a.Title), strings.ToLower(b.Title)) })
	if v.machine != nil {
		s.Timeline = v.debrief
		if !bytes.Equal(v.debrief, v.hearing.Debrief) {
			s.Machine = v.hearing.Debrief
		}
		s.Remarks = append(s.Remarks, v.machine.Notes...)
		s.Words = wordsOf(v)
		for _, m := range v.timeline.Maneuvers {
			if p := v.judge.Procedure(m.Procedure); p != nil && s.Asked[p.ID] == nil {
				s.Asked[p.ID] = asked(p)
			}
		}
		if v.machine.Recording.SampleRate > 0 {
			if err := d.addSound(ctx, s, l); err != nil {
				return nil, err
			}
		}
	}
	for _, f := range logbook.LastHands(v.facts) {
		s.Hands = append(s.Hands, Hand{FactNumber(f.Number), v.attempt(f.Maneuver), f.Step, string(f.Hand), string(f.Verdict), f.Reason, f.Author, moment(f.Written)})
	}
	for i, f := range v.facts {
		s.History = append(s.History, Change{FactNumber(f.Number), string(f.Kind), f.Author, moment(f.Written), v.summary(f), v.short(f), !v.stands[i]})
		if !v.stands[i] {
			continue
		}
		switch f.Kind {
		case logbook.KindNote:
			s.Notes = append(s.Notes, Note{FactNumber(f.Number), f.At, v.attempt(f.Maneuver), f.Step, f.Text, f.Author, moment(f.Written)})
		case logbook.KindWorkOn:
			s.WorkOn = v.workOn(s.WorkOn, f)
		case logbook.KindCall:
			a := Added{Fact: FactNumber(f.Number), Callout: f.Callout, Value: f.Value, At: *f.At, Speaker: f.Speaker, Author: f.Author}
			if c := v.judge.Callout(f.Callout); c != nil && f.Value != nil {
				a.Unit = c.Quantity.Unit()
			}
			s.Added = append(s.Added, a)
		}
	}
	return s, nil
}

// asked are the callouts of a procedure's steps, in its order.
func asked(p *rules.Procedure) (out []Asked) {
	for _, st := range p.Steps() {
		out = append(out, Asked{st.ID, append([]string{}, st.Calls...)})
	}
	return out
}

// aircraftFor are the aircraft a lesson may have been flown in.
func (d *Desk) aircraftFor(l logbook.Lesson) []string {
	out := slices.Clone(d.opt.Aircraft)
	if own := l.AsGiven().Aircraft; own != "" && !slices.Contains(out, own) {
		out = append(out, own)
	}
	return append([]string{}, out...)
}

func (v *view) workOn(list []WorkOn, f logbook.Fact) []WorkOn {
	if f.Of == 0 {
		return append(list, WorkOn{FactNumber(f.Number), f.Text, v.attempt(f.Maneuver), f.Step, f.Author, f.Done})
	}
	for i := range list {
		if list[i].Fact != FactNumber(f.Of) {
			continue
		}
		w := &list[i]
		w.Done = f.Done
		if f.Text != "" {
			w.Text = f.Text
		}
		if f.Maneuver != nil {
			w.Maneuver, w.Step = v.attempt(f.Maneuver), f.Step
		}
	}
	return list
}

// wordsOf are the words of a lesson, as they count now.
func wordsOf(v *view) []Word {
	out := []Word{}
	fixed := logbook.Corrections(v.facts)
	n := 0
	for _, u := range v.machine.Transcript {
		for _, w := range u.Words {
			x := Word{N: n, Text: w.Text, Start: w.Start, End: w.End, Confidence: w.Confidence, Channel: u.Channel, Speaker: u.Speaker}
			if f, ok := fixed[n]; ok {
				was := w.Text
				x.Text, x.Was, x.By, x.Confidence = f.Text, &was, f.Author, 1
			}
			out = append(out, x)
			n++
		}
	}
	return out
}

// word is a word as the machine heard it, "" for none.
func (v *view) word(n int) (text string, at float64, ok bool) {
	if v.machine == nil {
		return "", 0, false
	}
	for _, u := range v.machine.Transcript {
		if n < len(u.Words) {
			return u.Words[n].Text, u.Words[n].Start, true
		}
		n -= len(u.Words)
	}
	return "", 0, false
}

var errManeuver = errors.New("that maneuver is not in the lesson any more; look at it again and choose anew")

// given is a fact of a page as the logbook keeps it, checked against the lesson.
func (v *view) given(f Fact, aircraft []string) (logbook.Fact, error) {
	out := logbook.Fact{
		Key: f.Key, Kind: logbook.Kind(f.Kind), Author: f.Author, Step: f.Step, Hand: logbook.Hand(f.Hand), Verdict: rules.Verdict(f.Verdict), Reason: f.Reason,
		Callout: f.Callout, Value: f.Value, Unit: f.Unit, At: f.At, Speaker: f.Speaker, Word: f.Word, Text: f.Text, Done: f.Done,
		Cover: f.Cover,
	}
	if f.Work != nil {
		out.Of = int(*f.Work)
	}
	if f.Undo != nil {
		out.Undo, out.OwnLast = int(*f.Undo), f.Last
	}
	if v.machine == nil {
		return out, logbook.ErrNotHeard
	}
	if f.Maneuver != "" {
		i := byAttempt(v.timeline, f.Maneuver)
		if i < 0 {
			return out, errManeuver
		}
		m := v.timeline.Maneuvers[i]
		out.Maneuver = &logbook.Maneuver{Procedure: m.Procedure, Start: m.Start}
		if f.Step != "" && !slices.ContainsFunc(m.Steps, func(s rules.StepResult) bool { return s.ID == f.Step }) {
			return out, fmt.Errorf("there is no step %q in %q; look at it again and choose anew", f.Step, m.Title)
		}
	}
	if out.At != nil && *out.At > v.lesson.Duration+1 {
		return out, errors.New("that moment is after the end of the recording")
	}
	switch out.Kind {
	case logbook.KindWord:
		if out.Word != nil {
			if _, _, ok := v.word(*out.Word); !ok {
				return out, fmt.Errorf("there is no word %d in this lesson", *out.Word)
			}
		}
	case logbook.KindCover:
		if c := out.Cover; c != nil && c.Aircraft != nil && *c.Aircraft != v.lesson.AsGiven().Aircraft && !slices.Contains(aircraft, *c.Aircraft) {
			return out, fmt.Errorf("there is no aircraft %q here; choose one of the list", *c.Aircraft)
		}
	case logbook.KindCall:
		c := v.judge.Callout(out.Callout)
		switch {
		case c == nil:
			return out, fmt.Errorf("there is no call %q; choose one of the list", out.Callout)
		case out.Value != nil && c.Quantity == "":
			return out, fmt.Errorf("the call %q has no figure", c.Title)
		case out.Value != nil && out.Unit != "" && out.Unit != c.Quantity.Unit():
			return out, fmt.Errorf("the figure of %q is in %s", c.Title, c.Quantity.Unit())
		}
	}
	return out, nil
}
