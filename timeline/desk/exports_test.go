package desk

import (
	"encoding/base64"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sidetone/timeline/logbook"
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

// The page and its prints take theirs from handWord in words-for.ts.
func TestMarksGoByOneNameInWhatIsHandedOn(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	c.post(id, Fact{Kind: "cover", Author: "Robin", Cover: &logbook.Cover{Instructor: ptr("Robin")}}, 201)
	hand := func(author, hand string) {
		f := on("carb-heat-on")
		f.Author, f.Hand = author, hand
		c.post(id, f, 201)
	}
	c.post(id, overruled("Robin", "carb-heat-on", "heard", "mumbled"), 201)
	c.post(id, overruled("Pat", "carb-heat-on", "late", "so it was"), 201)
	hand("Kim", "accept")
	hand("Sam", "listen-again")
	marks := []string{"Pat overruled: late “so it was”", "Kim agreed", "Sam marked “come back to this”"}
	if notes := rowOf(t, c, id, "carb-heat-on")["notes"]; notes != strings.Join(marks, "; ") {
		t.Errorf("the table says %q", notes)
	}
	_, _, page := c.get("/lessons/" + id + "/export.html")
	for _, m := range append(marks, "overruled by Robin: “mumbled”") {
		if !strings.Contains(read(page), m) {
			t.Errorf("the page does not say %s: %s", m, read(page))
		}
	}
}
