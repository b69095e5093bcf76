package logbook

import (
	"context"
	"database/sql"
	"encoding/json"
	"strings"
)

// Cover is what a person put right on a lesson's cover; nil leaves a line as it is.
type Cover struct {
	Title      *string `json:"title,omitempty"`
	Flown      *string `json:"date,omitempty"` // 2026-05-01, "" for unknown
	Student    *string `json:"student,omitempty"`
	Instructor *string `json:"instructor,omitempty"`
	Aircraft   *string `json:"aircraft,omitempty"` // id of a built-in aircraft, or the one first given
}

// check trims and checks a cover.
func (c *Cover) check() error {
	none := true
	for _, s := range []*string{c.Title, c.Flown, c.Student, c.Instructor, c.Aircraft} {
		if s == nil {
			continue
		}
		none = false
		if *s = strings.TrimSpace(*s); len(*s) > maxName {
			return wrong("a line of the cover is longer than %d letters", maxName)
		}
	}
	switch {
	case none:
		return wrong("nothing on the cover is put right")
	case c.Title != nil && *c.Title == "":
		return wrong("a lesson needs a title")
	case c.Aircraft != nil && *c.Aircraft == "":
		return wrong("choose the aircraft")
	case c.Flown != nil:
		day, err := CheckDay(*c.Flown)
		if err != nil {
			return wrong("%v", err)
		}
		c.Flown = &day
	}
	return nil
}

// FirstCover is what a lesson's cover said before anybody put it right.
type FirstCover struct {
	Title      string `json:"title"`
	Flown      string `json:"date"`
	Student    string `json:"student"`
	Instructor string `json:"instructor"`
	Aircraft   string `json:"aircraft"`
	Source     string `json:"source"`
}

// AsGiven is a lesson with the cover it had at first.
func (l Lesson) AsGiven() Lesson {
	if w := l.First; w != nil {
		l.Title, l.Flown, l.Student, l.Instructor, l.Aircraft, l.Source = w.Title, w.Flown, w.Student, w.Instructor, w.Aircraft, w.Source
	}
	return l
}

// covered is a cover with what people put right, in order. The aircraft's own
// description goes with the one first given.
func (w FirstCover) covered(facts []Fact) FirstCover {
	first := w
	for i, stands := range Standing(facts) {
		f := facts[i]
		if !stands || f.Kind != KindCover {
			continue
		}
		for _, line := range []struct {
			to  *string
			put *string
		}{{&w.Title, f.Cover.Title}, {&w.Flown, f.Cover.Flown}, {&w.Student, f.Cover.Student}, {&w.Instructor, f.Cover.Instructor}, {&w.Aircraft, f.Cover.Aircraft}} {
			if line.put != nil {
				*line.to = *line.put
			}
		}
	}
	if w.Source = ""; w.Aircraft == first.Aircraft {
		w.Source = first.Source
	}
	return w
}

// settle brings the cover in the list up to date with what people put right.
func settle(ctx context.Context, tx *sql.Tx, lesson int64) error {
	l, err := scan(tx.QueryRowContext(ctx, cover+` WHERE l.id = ?`, lesson))
	if err != nil {
		return err
	}
	facts, err := factsOf(ctx, tx, lesson)
	if err != nil {
		return err
	}
	g := l.AsGiven()
	first := FirstCover{g.Title, g.Flown, g.Student, g.Instructor, g.Aircraft, g.Source}
	now := first.covered(facts)
	given, err := json.Marshal(first)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `UPDATE lessons SET title = ?, flown = ?, student = ?, instructor = ?, aircraft = ?, source = ?, given = ? WHERE id = ?`,
		now.Title, now.Flown, now.Student, now.Instructor, now.Aircraft, now.Source, string(given), lesson)
	return err
}
