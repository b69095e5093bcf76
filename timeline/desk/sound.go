package desk

import (
	"context"
	"encoding/binary"
	"errors"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"

	"sidetone/timeline/logbook"
)

// plays says whether browsers play a file as it is, and find a second of it exactly:
// WAV of 8 or 16 bit with one or two channels and sizes that are true, and FLAC. For
// anything else a small sound is made once.
func plays(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return false
	}
	head := make([]byte, 36)
	if _, err := io.ReadFull(f, head); err != nil {
		return false
	}
	if string(head[:4]) == "fLaC" {
		return true
	}
	u16, u32 := binary.LittleEndian.Uint16, binary.LittleEndian.Uint32
	if string(head[:4]) != "RIFF" || string(head[8:16]) != "WAVEfmt " || int64(u32(head[4:]))+8 > st.Size() {
		return false
	}
	const pcm = 1
	channels, bits := u16(head[22:]), u16(head[34:])
	if u16(head[20:]) != pcm || channels < 1 || channels > 2 || bits != 8 && bits != 16 {
		return false
	}
	at := 20 + int64(u32(head[16:]))
	for range 64 { // chunks before the sound
		var chunk [8]byte
		if _, err := f.ReadAt(chunk[:], at); err != nil {
			return false
		}
		size := int64(u32(chunk[4:]))
		if string(chunk[:4]) == "data" {
			return size > 0 && at+8+size <= st.Size()
		}
		at += 8 + size + size%2
	}
	return false
}

var soundTypes = map[string]string{".mp3": "audio/mpeg", ".wav": "audio/wav", ".flac": "audio/flac"}

// made is the small sound that was made of a lesson's recording, "" when there is none.
func (d *Desk) made(l logbook.Lesson) string {
	if l.Digest == "" {
		return ""
	}
	for _, ext := range logbook.SoundKinds {
		if path := d.book.SoundPath(l.Digest, ext); logbook.IsFile(path) {
			return path
		}
	}
	return ""
}

// soundOf is the file a browser is given, "" when there is none. missing says that the
// recording was not found; if neither, a sound can be made.
func (d *Desk) soundOf(ctx context.Context, l logbook.Lesson) (path string, missing bool, err error) {
	if path := d.made(l); path != "" {
		return path, false, nil
	}
	paths, ok, err := d.book.Recording(ctx, l.ID)
	if err != nil || !ok {
		return "", true, err
	}
	if len(paths) == 1 && plays(paths[0]) {
		return paths[0], false, nil
	}
	return "", false, nil
}

// addSound says in a state where the sound is, and has it made if it must be.
func (d *Desk) addSound(ctx context.Context, s *State, l logbook.Lesson) error {
	if p, err := d.book.Peaks(ctx, l.ID); err != nil {
		return err
	} else if len(p.Peaks) > 0 {
		s.Peaks = "/lessons/" + s.ID + "/peaks"
	}
	path, missing, err := d.soundOf(ctx, l)
	switch {
	case err != nil:
		return err
	case path != "":
		s.Sound = "/lessons/" + s.ID + "/sound"
	case missing:
		s.Missing, err = d.missing(ctx, l.ID)
		return err
	default:
		s.Remarks = append(s.Remarks, "The sound is being made ready to be played here.")
		d.queue.add(job{l.ID, making})
	}
	return nil
}

// makeSound makes the small sound of a lesson, whole or not at all.
func (d *Desk) makeSound(ctx context.Context, id int64) error {
	l, err := d.book.Lesson(ctx, id)
	if err != nil || d.made(l) != "" {
		return err
	}
	paths, err := d.recording(ctx, id)
	if err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(d.book.SoundPath(l.Digest, "")), "new-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	ext, err := d.opt.Ears.Sound(ctx, paths, f)
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	if soundTypes[ext] == "" {
		return errors.New("a sound of the kind " + ext + " is not served")
	}
	// A lesson that was removed meanwhile leaves nothing behind.
	if err := ctx.Err(); err != nil {
		return err
	}
	if _, err := d.book.Lesson(ctx, id); err != nil {
		return err
	}
	return os.Rename(f.Name(), d.book.SoundPath(l.Digest, ext))
}

// sound serves the recording. No part of the request but the lesson's number decides
// which file that is.
func (d *Desk) sound(w http.ResponseWriter, r *http.Request) {
	l, ok := d.asked(w, r)
	if !ok {
		return
	}
	path, _, err := d.soundOf(r.Context(), l)
	if err != nil {
		d.trouble(w, err)
		return
	}
	if path == "" {
		refuse(w, http.StatusNotFound, "The recording was not found, or its sound is not ready yet.")
		return
	}
	f, err := os.Open(path)
	if err != nil {
		d.trouble(w, err)
		return
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		d.trouble(w, err)
		return
	}
	kind := soundTypes[strings.ToLower(filepath.Ext(path))]
	if kind == "" {
		kind = "audio/wav" // it was looked into: a name is not to be relied on
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Cache-Control", "private, no-cache")
	http.ServeContent(w, r, "", st.ModTime(), f)
}
