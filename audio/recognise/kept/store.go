// Package kept keeps what a recogniser understood of each segment, so that a run
// that was cut short goes on where it was, and the same recording is not listened
// to twice.
//
// A piece is kept under a name made of the sound and of everything that decides
// what is understood of it, and holds a checksum: what does not fit is listened
// to again. The pieces hold words people said, so only the user may read them.
package kept

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"sidetone/audio/transcript"
)

// Store is a folder of pieces. It is safe for use by several goroutines, and by
// several processes.
type Store struct {
	dir   string
	limit int64
}

// Limit is how much of the disk the pieces may take unless told otherwise: about
// twenty lessons of two hours.
const Limit = 256 << 20

// EnvDir names the environment variable that names another folder to keep pieces in.
const EnvDir = "SIDETONE_WORDS"

// UserDir is the folder where pieces are kept: in the user's cache, unless
// SIDETONE_WORDS names another.
func UserDir() (string, error) {
	if e := os.Getenv(EnvDir); e != "" {
		return e, nil
	}
	c, err := os.UserCacheDir()
	if err != nil {
		return "", fmt.Errorf("no cache folder for this user: %w", err)
	}
	return filepath.Join(c, "sidetone", "words"), nil
}

// Open uses the folder dir, made if need be, for at most limit bytes.
func Open(dir string, limit int64) (*Store, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, err
	}
	return &Store{dir, limit}, nil
}

// Key names a piece.
type Key [sha256.Size]byte

func (s *Store) path(k Key) string {
	name := hex.EncodeToString(k[:])
	return filepath.Join(s.dir, name[:2], name[2:])
}

// ErrDamaged: a piece is there but is not what was put there.
var ErrDamaged = errors.New("a kept piece is damaged")

// Get gives the words of a piece, in seconds from the start of its segment. The
// error wraps fs.ErrNotExist or ErrDamaged when there is none to use.
func (s *Store) Get(k Key) ([]transcript.Word, error) {
	path := s.path(k)
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	words, err := decode(b, k)
	if err != nil {
		return nil, err
	}
	// The oldest go first: this one is wanted again.
	if st, err := os.Stat(path); err == nil && time.Since(st.ModTime()) > time.Hour {
		now := time.Now()
		_ = os.Chtimes(path, now, now)
	}
	return words, nil
}

// Put keeps the words of a piece. It is there whole or not at all, unless the
// machine itself stops: then Get notices.
func (s *Store) Put(k Key, words []transcript.Word) error {
	path := s.path(k)
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), temporary+"*") // readable by the user only
	if err != nil {
		return err
	}
	_, err = f.Write(encode(k, words))
	if err = errors.Join(err, f.Close()); err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		_ = os.Remove(f.Name())
	}
	return err
}

// temporary begins the names of pieces that are being written.
const temporary = "new-"

// A piece is a line that names the form and a checksum, then the words as JSON.
const form = "sidetone words 1 "

func encode(k Key, words []transcript.Word) []byte {
	if words == nil {
		words = []transcript.Word{}
	}
	body, err := json.Marshal(words)
	if err != nil {
		panic(err) // no type in it can fail but numbers that are none
	}
	return slices.Concat([]byte(form), sum(k, body), []byte("\n"), body)
}

// sum binds a body to its key, so that a piece under the name of another is noticed.
func sum(k Key, body []byte) []byte {
	h := sha256.New()
	h.Write(k[:])
	h.Write(body)
	return []byte(hex.EncodeToString(h.Sum(nil)))
}

func decode(b []byte, k Key) ([]transcript.Word, error) {
	head, body, ok := bytes.Cut(b, []byte("\n"))
	if !ok || !bytes.Equal(head, slices.Concat([]byte(form), sum(k, body))) {
		return nil, ErrDamaged
	}
	var words []transcript.Word
	if err := json.Unmarshal(body, &words); err != nil {
		return nil, fmt.Errorf("%w: %v", ErrDamaged, err)
	}
	return words, nil
}

// Trim takes out what was not used for longest, until the rest fits well under
// the limit, and what was left behind half-written.
func (s *Store) Trim() error {
	type piece struct {
		path string
		used time.Time
		size int64
	}
	var pieces []piece
	total := int64(0)
	err := filepath.WalkDir(s.dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return skipGone(err)
		}
		st, err := d.Info()
		if err != nil {
			return skipGone(err)
		}
		if strings.HasPrefix(d.Name(), temporary) {
			if time.Since(st.ModTime()) > time.Hour {
				return skipGone(os.Remove(path))
			}
			return nil
		}
		const block = 4096 // what a small file takes of most disks
		size := (st.Size() + block - 1) / block * block
		pieces = append(pieces, piece{path, st.ModTime(), size})
		total += size
		return nil
	})
	if err != nil || total <= s.limit {
		return err
	}
	slices.SortFunc(pieces, func(a, b piece) int {
		return cmp.Or(a.used.Compare(b.used), cmp.Compare(a.path, b.path))
	})
	for _, p := range pieces {
		if total <= s.limit/10*9 {
			break
		}
		if err := skipGone(os.Remove(p.path)); err != nil {
			return err
		}
		total -= p.size
	}
	return nil
}

// skipGone passes over what another process took out meanwhile.
func skipGone(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}
