package logbook

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"path/filepath"

	"github.com/google/uuid"
)

// Import adds a lesson from elsewhere with what the machine and people said of it. Is
// it here already, what people said that is not known here is appended; numbers that
// facts refer to become those they have here. Paths of another machine are not kept:
// recordings are found by their content. Either all of it is added or nothing.
func (b *Book) Import(ctx context.Context, l Lesson, files []File, h Hearing, facts []Fact) (id int64, err error) {
	if _, err := uuid.Parse(l.UID); err != nil {
		return 0, wrong("the lesson's identity is not a UUID")
	}
	for i := range files {
		f := &files[i]
		f.Path, f.Name = "", filepath.Base(filepath.FromSlash(f.Name))
		if sum, err := hex.DecodeString(f.Digest); err != nil || len(sum) != 32 || f.Size < 0 {
			return 0, wrong("the recording's digest is none")
		}
	}
	l.Digest, l.Stage, l.Duration = digestOf(files), Heard, h.Duration
	err = b.write(ctx, func(tx *sql.Tx) error {
		err := tx.QueryRowContext(ctx, `SELECT id FROM lessons WHERE uid = ?`, l.UID).Scan(&id)
		switch {
		case errors.Is(err, sql.ErrNoRows):
			if id, err = insert(ctx, tx, l, files); err != nil {
				return err
			}
			if err := setHearing(ctx, tx, id, h); err != nil {
				return err
			}
		case err != nil:
			return err
		default:
			// Words are named by their number: only the same hearing has the same.
			if same, err := sameHearing(ctx, tx, id, h); err != nil || !same {
				return errors.Join(err, errIf(!same, wrong("this lesson was heard here as well, and otherwise; keep the one of this machine, or start another library with --library")))
			}
		}
		here := map[int]int{}
		for i, f := range facts {
			if err := f.check(); err != nil {
				return err
			}
			if f.Number != i+1 || f.Written.IsZero() {
				return wrong("the changes are not in their order")
			}
			for _, n := range []*int{&f.Of, &f.Undo} {
				if *n > i {
					return wrong("change %d refers to one after it", f.Number)
				}
				*n = here[*n]
			}
			f.Number = 0
			kept, _, err := appendFact(ctx, tx, id, f)
			if err != nil {
				return err
			}
			here[i+1] = kept.Number
		}
		return nil
	})
	return id, err
}

func errIf(is bool, err error) error {
	if is {
		return err
	}
	return nil
}

// sameHearing says whether what is kept of a lesson is h, but for its peaks.
func sameHearing(ctx context.Context, tx *sql.Tx, id int64, h Hearing) (bool, error) {
	var packed []byte
	if err := tx.QueryRowContext(ctx, `SELECT machine FROM hearings WHERE lesson = ?`, id).Scan(&packed); err != nil {
		return false, err
	}
	var old Hearing
	if err := unpack(packed, &old); err != nil {
		return false, err
	}
	return sameJSON(old.Debrief, h.Debrief), nil
}
