package logbook

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"sync"

	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/database"
	_ "modernc.org/sqlite" // registers the driver "sqlite"
)

// Book is an open logbook. It is safe for concurrent use, and several programs may
// have the same one open.
type Book struct {
	db  *sql.DB
	dir string

	mu   sync.Mutex
	seen map[string]seen // files known to be recordings, by path
}

// UserDir is where a user's logbook lies unless told otherwise: $XDG_DATA_HOME or
// ~/.local/share (XDG Base Directory Specification 0.8), ~/Library/Application
// Support on macOS, %LocalAppData% on Windows; in a folder sidetone of it.
func UserDir() (string, error) {
	switch runtime.GOOS {
	case "darwin", "ios":
		dir, err := os.UserConfigDir() // ~/Library/Application Support
		return filepath.Join(dir, "sidetone"), err
	case "windows":
		dir, err := os.UserCacheDir() // %LocalAppData%
		return filepath.Join(dir, "sidetone"), err
	}
	if dir := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(dir) {
		return filepath.Join(dir, "sidetone"), nil
	}
	home, err := os.UserHomeDir()
	return filepath.Join(home, ".local", "share", "sidetone"), err
}

//go:embed migrations/*.sql
var migrations embed.FS

// The names in a logbook's folder.
const (
	FileName      = "lessons.db"
	recordingsDir = "recordings" // those that were copied
	soundsDir     = "sounds"     // made of recordings that browsers cannot play
	desksDir      = "desks"      // a file for each desk that is open
)

// Open opens the logbook in a folder, which is made if need be, readable by the user
// only. A database of an older version is brought up to date; one of a newer version
// is refused.
func Open(ctx context.Context, dir string) (*Book, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	for _, d := range []string{dir, filepath.Join(dir, recordingsDir), filepath.Join(dir, soundsDir), filepath.Join(dir, desksDir)} {
		if err := os.MkdirAll(d, 0o700); err != nil {
			return nil, fmt.Errorf("the folder of the logbook cannot be made: %w; name another with --library", err)
		}
	}
	path := filepath.Join(dir, FileName)
	if f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600); err != nil {
		return nil, fmt.Errorf("the logbook cannot be opened: %w; name another folder with --library", err)
	} else if err := f.Close(); err != nil {
		return nil, err
	}
	// A fact that was answered for is on the disk: synchronous=FULL (sqlite.org/pragma.html).
	dsn := (&url.URL{Scheme: "file", Opaque: (&url.URL{Path: filepath.ToSlash(path)}).EscapedPath()}).String() +
		"?_pragma=busy_timeout(10000)&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=foreign_keys(1)&_txlock=immediate"
	db, err := sql.Open("sqlite", dsn)
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(8)
	b := &Book{db: db, dir: dir, seen: map[string]seen{}}
	if err := b.migrate(ctx); err != nil {
		db.Close()
		return nil, fmt.Errorf("the logbook %s cannot be used: %w", path, err)
	}
	return b, nil
}

func (b *Book) migrate(ctx context.Context) error {
	sub, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	p, err := goose.NewProvider(database.DialectSQLite3, b.db, sub)
	if err != nil {
		return err
	}
	now, err := p.GetDBVersion(ctx)
	if err != nil {
		return err
	}
	all := p.ListSources()
	if newest := all[len(all)-1].Version; now > newest {
		return fmt.Errorf("it was written by a newer sidetone (version %d of its form, this one knows %d); install that one", now, newest)
	}
	_, err = p.Up(ctx)
	return err
}

// Dir is the folder of the logbook.
func (b *Book) Dir() string { return b.dir }

// RecordingsDir is where copied recordings go.
func (b *Book) RecordingsDir() string { return filepath.Join(b.dir, recordingsDir) }

// SoundPath is where a small sound made of a lesson's recording goes; ext is ".mp3".
func (b *Book) SoundPath(digest, ext string) string {
	return filepath.Join(b.dir, soundsDir, digest+ext)
}

// SoundKinds are the endings of sounds that are made.
var SoundKinds = []string{".mp3", ".wav"}

// Close closes the logbook.
func (b *Book) Close() error { return b.db.Close() }

// ErrNoLesson is wrapped when there is no such lesson.
var ErrNoLesson = errors.New("there is no such lesson in this library")

// write runs f as one transaction.
func (b *Book) write(ctx context.Context, f func(*sql.Tx) error) error {
	tx, err := b.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := f(tx); err != nil {
		return errors.Join(err, tx.Rollback())
	}
	return tx.Commit()
}
