package logbook

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"
)

// What is read of a file to know it again: all of a small one; of a larger one its
// size, its beginning, its end and blocks evenly between.
const (
	wholly = 4 << 20
	edge   = 1 << 20
	block  = 64 << 10
	blocks = 16
)

// Look says what a file is by its content.
func Look(path string) (File, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return File{}, err
	}
	f, err := os.Open(path)
	if err != nil {
		return File{}, err
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return File{}, err
	}
	if !st.Mode().IsRegular() {
		return File{}, fmt.Errorf("%s is not a file", path)
	}
	digest, err := digestFile(f, st.Size())
	if err != nil {
		return File{}, err
	}
	return File{Name: filepath.Base(path), Path: path, Size: st.Size(), Digest: digest}, nil
}

func digestFile(f io.ReaderAt, size int64) (string, error) {
	h := sha256.New()
	_ = binary.Write(h, binary.BigEndian, size)
	part := func(from, n int64) error {
		_, err := io.Copy(h, io.NewSectionReader(f, from, n))
		return err
	}
	if size <= wholly {
		if err := part(0, size); err != nil {
			return "", err
		}
		return hex.EncodeToString(h.Sum(nil)), nil
	}
	err := part(0, edge)
	for i := range int64(blocks) {
		err = errors.Join(err, part(edge+(size-2*edge-block)*i/(blocks-1), block))
	}
	if err := errors.Join(err, part(size-edge, edge)); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// digestOf is that of a recording in several files.
func digestOf(files []File) string {
	switch len(files) {
	case 0:
		return ""
	case 1:
		return files[0].Digest
	}
	h := sha256.New()
	for _, f := range files {
		io.WriteString(h, f.Digest+"\n")
	}
	return hex.EncodeToString(h.Sum(nil))
}

// seen is a file whose digest is known.
type seen struct {
	size     int64
	modified time.Time
	digest   string
}

// is says whether the file at path has that content.
func (b *Book) is(path string, want File) bool {
	st, err := os.Stat(path)
	if err != nil || !st.Mode().IsRegular() || st.Size() != want.Size {
		return false
	}
	b.mu.Lock()
	s, known := b.seen[path]
	b.mu.Unlock()
	if !known || s.size != st.Size() || !s.modified.Equal(st.ModTime()) {
		f, err := Look(path)
		if err != nil {
			return false
		}
		s = seen{st.Size(), st.ModTime(), f.Digest}
		b.mu.Lock()
		b.seen[path] = s
		b.mu.Unlock()
	}
	return s.digest == want.Digest
}

// most is how many names are looked at in search of a file that was moved.
const most = 20000

// Recording gives the paths of a lesson's recording, in order. A file that is no
// longer where it was is known by its content, and looked for in the folders any
// recording of the library was seen in, in those beside and right below them, and
// among the copied ones. ok is false when one is not found.
func (b *Book) Recording(ctx context.Context, id int64) (paths []string, ok bool, err error) {
	files, err := b.Files(ctx, id)
	if err != nil || len(files) == 0 {
		return nil, false, err
	}
	for n, f := range files {
		if f.Path != "" && b.is(f.Path, f) {
			paths = append(paths, f.Path)
			continue
		}
		found, err := b.search(ctx, f)
		if err != nil {
			return nil, false, err
		}
		if found == "" {
			return nil, false, nil
		}
		if _, err := b.db.ExecContext(ctx, `UPDATE recordings SET path = ? WHERE lesson = ? AND n = ?`, found, id, n); err != nil {
			return nil, false, err
		}
		paths = append(paths, found)
	}
	return paths, true, nil
}

func (b *Book) search(ctx context.Context, want File) (string, error) {
	rows, err := b.db.QueryContext(ctx, `SELECT DISTINCT path FROM recordings WHERE path <> ''`)
	if err != nil {
		return "", err
	}
	defer rows.Close()
	dirs := []string{}
	if want.Path != "" {
		dirs = append(dirs, filepath.Dir(want.Path))
	}
	dirs = append(dirs, b.RecordingsDir())
	for rows.Next() {
		var p string
		if err := rows.Scan(&p); err != nil {
			return "", err
		}
		if d := filepath.Dir(p); !slices.Contains(dirs, d) {
			dirs = append(dirs, d)
		}
	}
	if err := rows.Err(); err != nil {
		return "", err
	}
	left, done := most, map[string]bool{}
	look := func(dir string) (found string, below []string) {
		if done[dir] || left <= 0 || ctx.Err() != nil {
			return "", nil
		}
		done[dir] = true
		names, err := os.ReadDir(dir)
		if err != nil {
			return "", nil
		}
		for _, e := range names {
			if left--; left <= 0 {
				break
			}
			path := filepath.Join(dir, e.Name())
			switch {
			case e.IsDir():
				below = append(below, path)
			case e.Type().IsRegular():
				if st, err := e.Info(); err == nil && st.Size() == want.Size && b.is(path, want) {
					return path, nil
				}
			}
		}
		return "", below
	}
	var further []string
	for _, d := range dirs {
		found, below := look(d)
		if found != "" {
			return found, nil
		}
		further = append(further, below...)
	}
	for _, d := range dirs {
		if d == b.RecordingsDir() {
			continue // beside it lies nothing but the logbook
		}
		found, beside := look(filepath.Dir(d))
		if found != "" {
			return found, nil
		}
		further = append(further, beside...)
	}
	for _, d := range further {
		if found, _ := look(d); found != "" {
			return found, nil
		}
	}
	return "", ctx.Err()
}
