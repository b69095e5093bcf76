package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/google/renameio/v2"
)

// whole writes a file that appears only once it is complete and safe on the disk:
// until then, and when anything fails, what was there before stays.
func whole(path string, write func(io.Writer) error) error {
	if special(path) {
		return straight(path, write)
	}
	f, err := begin(path)
	if err != nil {
		return err
	}
	defer f.cleanup()
	if err := write(f); err != nil {
		return cannotWrite(path, err)
	}
	if err := f.CloseAtomicallyReplace(); err != nil {
		return cannotWrite(path, err)
	}
	settle(filepath.Dir(path))
	return nil
}

// special says whether path is a device or a pipe: nothing to be replaced.
func special(path string) bool {
	st, err := os.Stat(path)
	return err == nil && !st.Mode().IsRegular() && !st.IsDir()
}

func straight(path string, write func(io.Writer) error) error {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return cannotWrite(path, err)
	}
	if err := errors.Join(write(f), f.Close()); err != nil {
		return cannotWrite(path, err)
	}
	return nil
}

// writable says beforehand whether a file could be written, so that nobody waits
// an hour to hear that it cannot.
func writable(paths ...string) error {
	for _, path := range paths {
		if path == "" || path == "-" || special(path) {
			continue
		}
		if st, err := os.Stat(path); err == nil && st.IsDir() {
			return cannotWrite(path, errors.New("it is a folder"))
		}
		sweep(path)
		f, err := begin(path)
		if err != nil {
			return err
		}
		f.cleanup()
	}
	return nil
}

// half is a file that is being written under another name.
type half struct{ *renameio.PendingFile }

func begin(path string) (half, error) {
	if to, err := filepath.EvalSymlinks(path); err == nil {
		path = to // a link stays a link
	}
	f, err := renameio.NewPendingFile(path, renameio.WithPermissions(0o644), renameio.WithTempDir(filepath.Dir(path)))
	if err != nil {
		return half{}, cannotWrite(path, err)
	}
	halfWritten.add(f.Name())
	return half{f}, nil
}

// cleanup removes it unless it is complete.
func (h half) cleanup() {
	_ = h.Cleanup()
	halfWritten.done(h.Name())
}

func cannotWrite(path string, err error) error {
	if full(err) {
		return fmt.Errorf("%s cannot be written: %w; nothing was left there. Make room, or name another place for it", path, sayWhy(err))
	}
	return fmt.Errorf("%s cannot be written: %w; name another place for it", path, sayWhy(err))
}

// settle asks that a folder's new names be on the disk too; not every system can.
func settle(dir string) {
	if d, err := os.Open(dir); err == nil {
		_ = d.Sync()
		_ = d.Close()
	}
}

// sweep removes what a run that was killed while it wrote path left beside it:
// files of renameio's temporary names, an hour old or more.
func sweep(path string) {
	left, err := filepath.Glob(filepath.Join(escapeGlob(filepath.Dir(path)), "."+escapeGlob(filepath.Base(path))+"*"))
	if err != nil {
		return
	}
	for _, name := range left {
		digits := strings.TrimPrefix(filepath.Base(name), "."+filepath.Base(path))
		if strings.Trim(digits, "0123456789") != "" || len(digits) < 6 {
			continue
		}
		if st, err := os.Lstat(name); err == nil && st.Mode().IsRegular() && time.Since(st.ModTime()) > time.Hour {
			_ = os.Remove(name)
		}
	}
}

func escapeGlob(s string) string {
	return strings.NewReplacer(`\`, `\\`, `*`, `\*`, `?`, `\?`, `[`, `\[`).Replace(s)
}
