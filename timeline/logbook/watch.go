package logbook

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"time"
)

// Watch notices what any program writes into a logbook.
type Watch struct {
	conn *sql.Conn
	seen int64
}

// Watch begins to watch. It costs next to nothing to ask often.
func (b *Book) Watch(ctx context.Context) (*Watch, error) {
	conn, err := b.db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	w := &Watch{conn: conn}
	_, err = w.Changed(ctx)
	return w, err
}

// Changed says whether something was written since it was last asked. The version is
// one of a connection that writes nothing itself (sqlite.org/pragma.html#pragma_data_version).
func (w *Watch) Changed(ctx context.Context) (bool, error) {
	var now int64
	if err := w.conn.QueryRowContext(ctx, `PRAGMA data_version`).Scan(&now); err != nil {
		return false, err
	}
	changed := now != w.seen
	w.seen = now
	return changed, nil
}

// Close ends it.
func (w *Watch) Close() error { return w.conn.Close() }

// openFor is how long an open desk is believed after it last said so.
const openFor = 15 * time.Second

// SayOpen says that a desk has the logbook open and listens to what is put in; to be
// said again in good time. What is said by a program that was killed is soon stale.
func (b *Book) SayOpen(desk, address string) error {
	path := filepath.Join(b.dir, desksDir, desk)
	if now := time.Now(); os.Chtimes(path, now, now) == nil {
		return nil
	}
	return os.WriteFile(path, []byte(address), 0o600)
}

// SayClosed takes that back.
func (b *Book) SayClosed(desk string) { _ = os.Remove(filepath.Join(b.dir, desksDir, desk)) }

// OpenDesks are the addresses of desks that have the logbook open.
func (b *Book) OpenDesks() (addresses []string) {
	dir := filepath.Join(b.dir, desksDir)
	all, err := os.ReadDir(dir)
	if err != nil {
		return nil
	}
	for _, e := range all {
		path := filepath.Join(dir, e.Name())
		st, err := e.Info()
		if err != nil || !st.Mode().IsRegular() {
			continue
		}
		if time.Since(st.ModTime()) > openFor {
			_ = os.Remove(path)
			continue
		}
		if address, err := os.ReadFile(path); err == nil && len(address) > 0 {
			addresses = append(addresses, string(address))
		}
	}
	return addresses
}
