package logbook

import (
	"context"
	"time"
)

// Claim lets one of several programs that have this logbook open listen to a lesson
// that waits: it is true for the listener that has the lesson now, until so long from
// now. Whoever has it claims it again in good time; one that was killed loses it.
func (b *Book) Claim(ctx context.Context, id int64, listener string, long time.Duration) (bool, error) {
	now := time.Now()
	res, err := b.db.ExecContext(ctx, `UPDATE lessons SET listener = ?, listening_until = ? WHERE id = ? AND stage = ? AND (listener IN ('', ?) OR listening_until < ?)`,
		listener, fixed(now.Add(long)), id, Waiting, listener, fixed(now))
	if err != nil {
		return false, err
	}
	n, err := res.RowsAffected()
	return n == 1, err
}

// Unclaim gives a lesson back.
func (b *Book) Unclaim(ctx context.Context, id int64, listener string) error {
	_, err := b.db.ExecContext(ctx, `UPDATE lessons SET listener = '', listening_until = '' WHERE id = ? AND listener = ?`, id, listener)
	return err
}

// fixed writes a time so that texts are in order as times are.
func fixed(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000000000Z") }
