package logbook

import (
	"bytes"
	"compress/gzip"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/google/uuid"
)

// Stage is how far a lesson has come.
type Stage string

// The stages.
const (
	Waiting Stage = "waiting" // to be heard
	Heard   Stage = "heard"
	Failed  Stage = "failed" // Trouble says why
)

// Lesson is the cover of a lesson.
type Lesson struct {
	ID         int64
	UID        string // the same on every machine it is handed to
	Added      time.Time
	Title      string
	Flown      string // 2026-05-01, "" when unknown
	Student    string
	Instructor string
	Aircraft   string      // id of a built-in aircraft, or the name of the one in Source
	Source     string      // YAML, "" for a built-in aircraft
	Procedures []Procedure // that were asked for; none: those flown are found
	Stage      Stage
	Trouble    string
	Duration   float64 // seconds
	Maneuvers  []string
	Result     string
	Digest     string // of its recording, "" without one
	Revision   int    // number of facts

	First *FirstCover // nil when the cover is as it was at first
}

// Procedure is one a lesson is to be judged by: a built-in one, or one of the user's
// own, as it was when the lesson was added.
type Procedure struct {
	ID   string `json:"id"`
	Text string `json:"text,omitempty"` // YAML, "" for a built-in one
}

// File is one file of a lesson's recording. Path is where it was last seen.
type File struct {
	Name   string `json:"name"`
	Path   string `json:"-"` // nobody else's business, and nobody else's to say
	Size   int64  `json:"size"`
	Digest string `json:"digest"` // hex, see Look
}

// Add writes down a lesson with the files of its recording, in order. A lesson of the
// same recording is given back instead, known true: one that was imported, or whose
// files were lost, has them again; those that are still where they were stay there.
func (b *Book) Add(ctx context.Context, l Lesson, files []File) (id int64, known bool, err error) {
	l.Digest = digestOf(files)
	there, err := b.stillThere(ctx, l.Digest)
	if err != nil {
		return 0, false, err
	}
	err = b.write(ctx, func(tx *sql.Tx) error {
		if l.Digest != "" {
			err := tx.QueryRowContext(ctx, `SELECT id FROM lessons WHERE digest = ? ORDER BY id LIMIT 1`, l.Digest).Scan(&id)
			if err == nil {
				known = true
				for i, f := range files {
					if there[i] {
						continue
					}
					if _, err := tx.ExecContext(ctx, `UPDATE recordings SET path = ? WHERE lesson = ? AND n = ?`, f.Path, id, i); err != nil {
						return err
					}
				}
				_, err := tx.ExecContext(ctx, `UPDATE lessons SET stage = ?, trouble = '' WHERE id = ? AND stage = ?`, Waiting, id, Failed)
				return err
			}
			if !errors.Is(err, sql.ErrNoRows) {
				return err
			}
		}
		id, err = insert(ctx, tx, l, files)
		return err
	})
	return id, known, err
}

// stillThere says which files of the lesson of a recording are where they were last seen.
func (b *Book) stillThere(ctx context.Context, digest string) (map[int]bool, error) {
	var id int64
	err := b.db.QueryRowContext(ctx, `SELECT id FROM lessons WHERE digest = ? AND digest <> '' ORDER BY id LIMIT 1`, digest).Scan(&id)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	files, err := b.Files(ctx, id)
	there := map[int]bool{}
	for i, f := range files {
		there[i] = f.Path != "" && b.is(f.Path, f)
	}
	return there, err
}

// Needs says whether a file is that of a lesson.
func (b *Book) Needs(ctx context.Context, path string) (bool, error) {
	n, err := count(ctx, b.db, `SELECT COUNT(*) FROM recordings WHERE path = ?`, path)
	return n > 0, err
}

// BringBack says where a file of a lesson's recording lies; false when it is none.
func (b *Book) BringBack(ctx context.Context, id int64, f File) (bool, error) {
	res, err := b.db.ExecContext(ctx, `UPDATE recordings SET path = ? WHERE lesson = ? AND digest = ?`, f.Path, id, f.Digest)
	if err != nil {
		return false, err
	}
	n, err := res.RowsAffected()
	return n > 0, err
}

// AllFiles are the files of all lessons, by lesson.
func (b *Book) AllFiles(ctx context.Context) (map[int64][]File, error) {
	rows, err := b.db.QueryContext(ctx, `SELECT lesson, name, path, size, digest FROM recordings ORDER BY lesson, n`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	out := map[int64][]File{}
	for rows.Next() {
		var id int64
		var f File
		if err := rows.Scan(&id, &f.Name, &f.Path, &f.Size, &f.Digest); err != nil {
			return nil, err
		}
		out[id] = append(out[id], f)
	}
	return out, rows.Err()
}

func insert(ctx context.Context, tx *sql.Tx, l Lesson, files []File) (int64, error) {
	if l.UID == "" {
		l.UID = uuid.NewString()
	}
	if l.Added.IsZero() {
		l.Added = time.Now()
	}
	if l.Stage == "" {
		l.Stage = Waiting
	}
	maneuvers, err := json.Marshal(append([]string{}, l.Maneuvers...))
	if err != nil {
		return 0, err
	}
	procedures := ""
	if len(l.Procedures) > 0 {
		b, err := json.Marshal(l.Procedures)
		if err != nil {
			return 0, err
		}
		procedures = string(b)
	}
	res, err := tx.ExecContext(ctx, `INSERT INTO lessons (id, uid, added, title, flown, student, instructor, aircraft, source, stage, trouble, duration, maneuvers, result, digest, procedures)
		VALUES (1 + (SELECT COALESCE(MAX(id), 0) FROM (SELECT id FROM lessons UNION ALL SELECT id FROM removed)), ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`, l.UID, stamp(l.Added), l.Title, l.Flown, l.Student, l.Instructor, l.Aircraft, l.Source,
		l.Stage, l.Trouble, l.Duration, string(maneuvers), l.Result, l.Digest, procedures)
	if err != nil {
		return 0, err
	}
	id, err := res.LastInsertId()
	if err != nil {
		return 0, err
	}
	for i, f := range files {
		if _, err := tx.ExecContext(ctx, `INSERT INTO recordings (lesson, n, name, path, size, digest) VALUES (?, ?, ?, ?, ?, ?)`,
			id, i, f.Name, f.Path, f.Size, f.Digest); err != nil {
			return 0, err
		}
	}
	return id, nil
}

const cover = `SELECT l.id, l.uid, l.added, l.title, l.flown, l.student, l.instructor, l.aircraft, l.source, l.stage, l.trouble, l.duration, l.maneuvers, l.result, l.digest, l.given, l.procedures,
	(SELECT COALESCE(MAX(n), 0) FROM facts WHERE lesson = l.id) FROM lessons l`

func scan(row interface{ Scan(...any) error }) (l Lesson, err error) {
	var added, maneuvers, given, procedures string
	if err := row.Scan(&l.ID, &l.UID, &added, &l.Title, &l.Flown, &l.Student, &l.Instructor, &l.Aircraft, &l.Source, &l.Stage, &l.Trouble,
		&l.Duration, &maneuvers, &l.Result, &l.Digest, &given, &procedures, &l.Revision); err != nil {
		return l, err
	}
	if l.Added, err = time.Parse(time.RFC3339Nano, added); err != nil {
		return l, err
	}
	if given != "" {
		if err := json.Unmarshal([]byte(given), &l.First); err != nil {
			return l, err
		}
	}
	if procedures != "" {
		if err := json.Unmarshal([]byte(procedures), &l.Procedures); err != nil {
			return l, err
		}
	}
	return l, json.Unmarshal([]byte(maneuvers), &l.Maneuvers)
}

// Lessons are all lessons, the last flown first, those without a date by when they
// were added.
func (b *Book) Lessons(ctx context.Context) ([]Lesson, error) {
	rows, err := b.db.QueryContext(ctx, cover+` ORDER BY CASE WHEN l.flown <> '' THEN l.flown ELSE substr(l.added, 1, 10) END DESC, l.id DESC`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []Lesson
	for rows.Next() {
		l, err := scan(rows)
		if err != nil {
			return nil, err
		}
		out = append(out, l)
	}
	return out, rows.Err()
}

// Lesson is the cover of one.
func (b *Book) Lesson(ctx context.Context, id int64) (Lesson, error) {
	l, err := scan(b.db.QueryRowContext(ctx, cover+` WHERE l.id = ?`, id))
	if errors.Is(err, sql.ErrNoRows) {
		err = fmt.Errorf("%w: %d", ErrNoLesson, id)
	}
	return l, err
}

// Files are those of a lesson's recording, in order, where they were last seen.
func (b *Book) Files(ctx context.Context, id int64) ([]File, error) {
	return filesOf(ctx, b.db, id)
}

func filesOf(ctx context.Context, db querier, id int64) ([]File, error) {
	rows, err := db.QueryContext(ctx, `SELECT name, path, size, digest FROM recordings WHERE lesson = ? ORDER BY n`, id)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []File
	for rows.Next() {
		var f File
		if err := rows.Scan(&f.Name, &f.Path, &f.Size, &f.Digest); err != nil {
			return nil, err
		}
		out = append(out, f)
	}
	return out, rows.Err()
}

// Fail writes down why a lesson could not be heard.
func (b *Book) Fail(ctx context.Context, id int64, why string) error {
	_, err := b.db.ExecContext(ctx, `UPDATE lessons SET stage = ?, trouble = ? WHERE id = ? AND stage <> ?`, Failed, why, id, Heard)
	return err
}

// Summarise writes what the list says of a lesson: it follows from the rest, and is
// kept so that the list need not read it all.
func (b *Book) Summarise(ctx context.Context, id int64, maneuvers []string, result string) error {
	m, err := json.Marshal(append([]string{}, maneuvers...))
	if err != nil {
		return err
	}
	_, err = b.db.ExecContext(ctx, `UPDATE lessons SET maneuvers = ?, result = ? WHERE id = ?`, string(m), result, id)
	return err
}

// Hearing is what the machine said of a lesson. Debrief is the JSON of timeline/report,
// with the transcript as it was heard. Utterances are those its calls are in, Notes
// are remarks about the recording: the debrief's JSON has neither.
type Hearing struct {
	Debrief    json.RawMessage `json:"debrief"`
	Utterances []int           `json:"utterances"`
	Notes      []string        `json:"notes"`
	Version    string          `json:"program"`
	Duration   float64         `json:"-"` // seconds
	Peaks      Peaks           `json:"-"`
}

// Peaks are the lowest and highest sample, in [-1,1], of equal stretches of the
// recording, PerSecond of them a second.
type Peaks struct {
	Peaks     [][2]float32 `json:"peaks"`
	PerSecond float64      `json:"perSecond"`
}

// SetHearing writes down what the machine said, once: a second hearing of a lesson is
// refused, since facts refer to the words of the first.
func (b *Book) SetHearing(ctx context.Context, id int64, h Hearing) error {
	return b.write(ctx, func(tx *sql.Tx) error { return setHearing(ctx, tx, id, h) })
}

func setHearing(ctx context.Context, tx *sql.Tx, id int64, h Hearing) error {
	machine, err := pack(h)
	if err != nil {
		return err
	}
	peaks, err := pack(h.Peaks)
	if err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, `INSERT INTO hearings (lesson, machine, peaks) VALUES (?, ?, ?)`, id, machine, peaks); err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `UPDATE lessons SET stage = ?, trouble = '', duration = ? WHERE id = ?`, Heard, h.Duration, id)
	return err
}

// ErrNotHeard is given for a lesson that was not heard yet.
var ErrNotHeard = errors.New("this lesson was not listened to yet; wait until it is")

// Hearing is what the machine said, without the peaks.
func (b *Book) Hearing(ctx context.Context, id int64) (h Hearing, err error) {
	return h, b.unpack(ctx, `SELECT machine FROM hearings WHERE lesson = ?`, id, &h)
}

// Peaks are those of a lesson.
func (b *Book) Peaks(ctx context.Context, id int64) (p Peaks, err error) {
	return p, b.unpack(ctx, `SELECT peaks FROM hearings WHERE lesson = ?`, id, &p)
}

func (b *Book) unpack(ctx context.Context, query string, id int64, into any) error {
	var packed []byte
	err := b.db.QueryRowContext(ctx, query, id).Scan(&packed)
	if errors.Is(err, sql.ErrNoRows) {
		if _, err := b.Lesson(ctx, id); err != nil {
			return err
		}
		return ErrNotHeard
	}
	if err != nil {
		return err
	}
	return unpack(packed, into)
}

func unpack(packed []byte, into any) error {
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		return err
	}
	text, err := io.ReadAll(z)
	if err != nil {
		return err
	}
	return json.Unmarshal(text, into)
}

// sameJSON says whether two texts are the same but for spaces.
func sameJSON(a, b []byte) bool {
	var x, y bytes.Buffer
	return json.Compact(&x, a) == nil && json.Compact(&y, b) == nil && bytes.Equal(x.Bytes(), y.Bytes())
}

func pack(v any) ([]byte, error) {
	var out bytes.Buffer
	z := gzip.NewWriter(&out)
	if err := errors.Join(json.NewEncoder(z).Encode(v), z.Close()); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

func stamp(t time.Time) string { return t.UTC().Format(time.RFC3339Nano) }

// CheckDay reads the date a lesson was flown: 2026-05-01, or "".
func CheckDay(s string) (string, error) {
	s = strings.TrimSpace(s)
	if s == "" {
		return "", nil
	}
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return "", fmt.Errorf("%q is no date: write it as 2026-05-01", s)
	}
	return t.Format(time.DateOnly), nil
}
