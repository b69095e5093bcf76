package logbook

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"
)

// Append writes a fact down, with its number and time. A fact whose key is there
// already is given back as it was written, fresh false: a page that does not know
// whether its fact arrived may send it again. When Append returns, the fact is on the
// disk. It has been checked as far as a fact can be by itself; see Fact.
func (b *Book) Append(ctx context.Context, lesson int64, f Fact) (kept Fact, fresh bool, err error) {
	if err := f.check(); err != nil {
		return f, false, err
	}
	err = b.write(ctx, func(tx *sql.Tx) error {
		var one int
		if err := tx.QueryRowContext(ctx, `SELECT 1 FROM lessons WHERE id = ?`, lesson).Scan(&one); errors.Is(err, sql.ErrNoRows) {
			return fmt.Errorf("%w: %d", ErrNoLesson, lesson)
		} else if err != nil {
			return err
		}
		kept, fresh, err = appendFact(ctx, tx, lesson, f)
		return err
	})
	return kept, fresh, err
}

func appendFact(ctx context.Context, tx *sql.Tx, lesson int64, f Fact) (Fact, bool, error) {
	var old string
	switch err := tx.QueryRowContext(ctx, `SELECT body FROM facts WHERE lesson = ? AND key = ?`, lesson, f.Key).Scan(&old); {
	case err == nil:
		var kept Fact
		return kept, false, json.Unmarshal([]byte(old), &kept)
	case !errors.Is(err, sql.ErrNoRows):
		return f, false, err
	}
	var last int
	if err := tx.QueryRowContext(ctx, `SELECT COALESCE(MAX(n), 0) FROM facts WHERE lesson = ?`, lesson).Scan(&last); err != nil {
		return f, false, err
	}
	f.Number = last + 1
	if f.Written.IsZero() {
		f.Written = time.Now()
	}
	f.Written = f.Written.UTC().Truncate(time.Microsecond)
	if f.Undo > last || f.Of > last {
		return f, false, wrong("there is no fact %d in this lesson", max(f.Undo, f.Of))
	}
	if f.OwnLast {
		if err := isOwnLast(ctx, tx, lesson, f); err != nil {
			return f, false, err
		}
	}
	if f.Of > 0 {
		var kind Kind
		if err := tx.QueryRowContext(ctx, `SELECT kind FROM facts WHERE lesson = ? AND n = ?`, lesson, f.Of).Scan(&kind); err != nil {
			return f, false, err
		}
		if kind != KindWorkOn {
			return f, false, wrong("fact %d is nothing to work on", f.Of)
		}
	}
	body, err := json.Marshal(f)
	if err != nil {
		return f, false, err
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO facts (lesson, n, key, kind, author, written, body) VALUES (?, ?, ?, ?, ?, ?, ?)`,
		lesson, f.Number, f.Key, f.Kind, f.Author, stamp(f.Written), string(body))
	if err == nil && (f.Kind == KindCover || f.Kind == KindUndo) {
		err = settle(ctx, tx, lesson)
	}
	return f, err == nil, err
}

// Facts are all facts of a lesson, in order.
func (b *Book) Facts(ctx context.Context, lesson int64) ([]Fact, error) {
	return factsOf(ctx, b.db, lesson)
}

func factsOf(ctx context.Context, db interface {
	QueryContext(context.Context, string, ...any) (*sql.Rows, error)
}, lesson int64) ([]Fact, error) {
	rows, err := db.QueryContext(ctx, `SELECT body FROM facts WHERE lesson = ? ORDER BY n`, lesson)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []Fact
	for rows.Next() {
		var body string
		if err := rows.Scan(&body); err != nil {
			return nil, err
		}
		var f Fact
		if err := json.Unmarshal([]byte(body), &f); err != nil {
			return nil, err
		}
		out = append(out, f)
	}
	return out, rows.Err()
}

// Standing tells of each fact whether it counts: it was not undone, or its undoing
// was.
func Standing(facts []Fact) []bool {
	stands := make([]bool, len(facts))
	for i := range stands {
		stands[i] = true
	}
	for i := len(facts) - 1; i >= 0; i-- {
		// An undo only reaches back, so whatever undoes this one has been seen.
		if f := facts[i]; f.Kind == KindUndo && stands[i] && f.Undo >= 1 && f.Undo <= i {
			stands[f.Undo-1] = false
		}
	}
	return stands
}

// LastOwn is the number of the last change of an author that stands, undoings aside; 0
// for none.
func LastOwn(facts []Fact, author string) int {
	stands := Standing(facts)
	for i := len(facts) - 1; i >= 0; i-- {
		if stands[i] && facts[i].Kind != KindUndo && facts[i].Author == author {
			return i + 1
		}
	}
	return 0
}

// isOwnLast refuses an undo of anything but its author's last change.
func isOwnLast(ctx context.Context, tx *sql.Tx, lesson int64, f Fact) error {
	facts, err := factsOf(ctx, tx, lesson)
	if err != nil {
		return err
	}
	switch own := LastOwn(facts, f.Author); {
	case own == f.Undo:
		return nil
	case f.Undo >= 1 && facts[f.Undo-1].Author != f.Author:
		return wrong("that change is by %s, and only your own last one is taken back so; choose it in the history", facts[f.Undo-1].Author)
	case own == 0:
		return wrong("nothing of yours is left to take back")
	}
	return wrong("that is not your last change any more; look at the history and choose there")
}
