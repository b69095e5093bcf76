package logbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
)

// Removal is what goes with a lesson, and what stays.
type Removal struct {
	Lesson Lesson
	Copies []string // files of the logbook that go: copied recordings, a sound made of them
	Stays  []File   // recordings that lie elsewhere, and are left alone
}

// Removal tells what removing a lesson would do.
func (b *Book) Removal(ctx context.Context, id int64) (Removal, error) {
	l, err := b.Lesson(ctx, id)
	if err != nil {
		return Removal{}, err
	}
	return b.removal(ctx, b.db, l)
}

type querier interface {
	QueryContext(context.Context, string, ...any) (*sql.Rows, error)
	QueryRowContext(context.Context, string, ...any) *sql.Row
}

func (b *Book) removal(ctx context.Context, db querier, l Lesson) (Removal, error) {
	r := Removal{Lesson: l}
	files, err := filesOf(ctx, db, l.ID)
	if err != nil {
		return r, err
	}
	for _, f := range files {
		switch {
		case f.Path == "":
		case filepath.Dir(f.Path) != b.RecordingsDir():
			r.Stays = append(r.Stays, f)
		default:
			// Another lesson may have the same file as one of its parts.
			others, err := count(ctx, db, `SELECT COUNT(*) FROM recordings WHERE path = ? AND lesson <> ?`, f.Path, l.ID)
			if err != nil {
				return r, err
			}
			if others == 0 && IsFile(f.Path) && !slices.Contains(r.Copies, f.Path) {
				r.Copies = append(r.Copies, f.Path)
			}
		}
	}
	others, err := count(ctx, db, `SELECT COUNT(*) FROM lessons WHERE digest = ? AND id <> ?`, l.Digest, l.ID)
	if err != nil {
		return r, err
	}
	for _, ext := range SoundKinds {
		if path := b.SoundPath(l.Digest, ext); l.Digest != "" && others == 0 && IsFile(path) {
			r.Copies = append(r.Copies, path)
		}
	}
	return r, nil
}

// Remove takes a lesson out of the logbook, with everything that was said of it and with
// the files that are the logbook's own. Recordings that lie elsewhere stay.
func (b *Book) Remove(ctx context.Context, id int64) (r Removal, err error) {
	err = b.write(ctx, func(tx *sql.Tx) error {
		l, err := scan(tx.QueryRowContext(ctx, cover+` WHERE l.id = ?`, id))
		if errors.Is(err, sql.ErrNoRows) {
			return fmt.Errorf("%w: %d", ErrNoLesson, id)
		}
		if err != nil {
			return err
		}
		if r, err = b.removal(ctx, tx, l); err != nil {
			return err
		}
		// The lesson goes first: what belongs to it may only go after it.
		for _, statement := range []string{`PRAGMA defer_foreign_keys = ON`, `INSERT INTO removed (id) VALUES (?)`, `DELETE FROM lessons WHERE id = ?`,
			`DELETE FROM facts WHERE lesson = ?`, `DELETE FROM hearings WHERE lesson = ?`, `DELETE FROM recordings WHERE lesson = ?`} {
			args := []any{id}
			if statement[0] == 'P' {
				args = nil
			}
			if _, err := tx.ExecContext(ctx, statement, args...); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return r, err
	}
	for _, path := range r.Copies {
		if e := os.Remove(path); e != nil && !errors.Is(e, fs.ErrNotExist) {
			err = errors.Join(err, fmt.Errorf("the lesson was removed, but a copy of its sound could not be: %w; delete it by hand", e))
		}
	}
	return r, err
}

func count(ctx context.Context, db querier, query string, args ...any) (n int, err error) {
	return n, db.QueryRowContext(ctx, query, args...).Scan(&n)
}

// IsFile says whether a file lies at a path.
func IsFile(path string) bool {
	st, err := os.Stat(path)
	return err == nil && st.Mode().IsRegular()
}
