package models

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"crypto/sha512"
	"encoding/base64"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

func TestPinsAreExactAndChecked(t *testing.T) {
	pins, err := Pins()
	if err != nil {
		t.Fatal(err)
	}
	if len(pins) != 4 {
		t.Fatalf("%d pins, want 4", len(pins))
	}
	exact := regexp.MustCompile(`^\d+\.\d+\.\d+$`)
	for _, p := range pins {
		if !exact.MatchString(p.Version) {
			t.Errorf("%s: version %q is not exact", p.Name, p.Version)
		}
		sum, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(p.Integrity, "sha512-"))
		if err != nil || len(sum) != sha512.Size {
			t.Errorf("%s: integrity %q is not a sha512", p.Name, p.Integrity)
		}
		if len(wanted(p.Name)) == 0 {
			t.Errorf("%s is fetched but nothing of it is wanted", p.Name)
		}
	}
	if bytes.Contains(packageJSON, []byte("://")) {
		t.Error("package.json names a host")
	}
}

func TestATarballThatIsNotThePinnedOneIsRefused(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.tgz")
	if err := os.WriteFile(path, []byte("as published"), 0o600); err != nil {
		t.Fatal(err)
	}
	sum := sha512.Sum512([]byte("as published"))
	p := Pin{"x", "1.0.0", "sha512-" + base64.StdEncoding.EncodeToString(sum[:])}
	if err := p.Verify(path); err != nil {
		t.Fatalf("the pinned file was refused: %v", err)
	}
	if err := os.WriteFile(path, []byte("as published."), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := p.Verify(path); err == nil || !strings.Contains(err.Error(), "not the file that was pinned") {
		t.Fatalf("an altered file gave %v", err)
	}
}

func TestUnpackTakesOnlyWhatIsWanted(t *testing.T) {
	dir := t.TempDir()
	tgz := filepath.Join(dir, "v.tgz")
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	w := tar.NewWriter(z)
	for name, body := range map[string]string{
		"package/dist/silero_vad_v6.onnx": "model",
		"package/dist/other.onnx":         "unwanted",
		"../escape":                       "unwanted",
	} {
		if err := w.WriteHeader(&tar.Header{Name: name, Mode: 0o600, Size: int64(len(body))}); err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(body)); err != nil {
			t.Fatal(err)
		}
	}
	w.Close()
	z.Close()
	if err := os.WriteFile(tgz, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "out")
	if err := unpack(tgz, Pin{Name: "@ricky0123/vad-web"}, out); err != nil {
		t.Fatal(err)
	}
	entries, err := os.ReadDir(out)
	if err != nil || len(entries) != 1 || entries[0].Name() != VAD {
		t.Fatalf("unpacked %v, %v; want only %s", entries, err, VAD)
	}
	if err := unpack(tgz, Pin{Name: "onnxruntime-node"}, out); err == nil {
		t.Fatal("a tarball without the wanted file was taken")
	}
}

func TestMissingFilesAreNamedWithTheCommandThatHelps(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, Encoder), []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := Find(dir)
	if !errors.Is(err, ErrMissing) {
		t.Fatalf("got %v", err)
	}
	for _, want := range []string{dir, Decoder, Vocabulary, VAD, RuntimeLibrary(), FetchCommand} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q does not name %q", err, want)
		}
	}
	if strings.Contains(err.Error(), Encoder) {
		t.Errorf("%q names a file that is there", err)
	}
}

func TestTheVocabularyComesOutOfTheScript(t *testing.T) {
	list := "<unk>\n<s>\n</s>\n" + strings.Repeat("x\n", 31997)
	script := "const a = 1;\nconst llama_vocab_base64 = \"" + base64.StdEncoding.EncodeToString([]byte(list)) + "\";\n"
	got, err := extractVocabulary([]byte(script))
	if err != nil || string(got) != list {
		t.Fatalf("%d bytes, %v", len(got), err)
	}
	if _, err := extractVocabulary([]byte("const a = 1")); err == nil {
		t.Fatal("a script without a vocabulary gave one")
	}
}
