package desk

import (
	"encoding/base64"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestAnExportLeavesNoSoundBehind(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	path := filepath.Join(t.TempDir(), "flight.wav")
	if err := os.WriteFile(path, wav(16), 0o600); err != nil {
		t.Fatal(err)
	}
	n, err := c.desk.Add(t.Context(), Offer{Paths: []string{path}})
	if err != nil {
		t.Fatal(err)
	}
	c.wait(name(n), func(s *State) bool { return s.Sound != "" })
	_, _, page := c.get("/lessons/" + name(n) + "/export.html")
	if !strings.Contains(string(page), "data:audio/mpeg;base64,"+base64.StdEncoding.EncodeToString([]byte("a small sound of flight.wav"))) {
		t.Error("the page is without its sound")
	}
	if kept := inLibrary(t, c); len(kept) != 0 {
		t.Errorf("kept are %v", kept)
	}
}
