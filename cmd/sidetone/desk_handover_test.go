package main

import (
	"bytes"
	"encoding/json"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sidetone/timeline/desk"
)

func TestARecordingIsHandedToTheDeskThatIsOpen(t *testing.T) {
	library := filepath.Join(t.TempDir(), "library")
	d := openDesk(t, library)
	address := strings.TrimPrefix(d.url, "http://")
	path := put(t, filepath.Join(t.TempDir(), "lesson.vtt"), []byte(twoCalls))
	again := func(args ...string) (int, string) {
		var out, errs bytes.Buffer
		code := runIn(t.Context(), append([]string{"desk", "--listen", address, "--library", library}, args...), &out, &errs)
		return code, out.String() + errs.String()
	}
	if code, says := again(); code != 0 || !strings.Contains(says, "open already at "+d.url+"/") {
		t.Errorf("without a recording: %d %s", code, says)
	}
	if code, says := again(path, "--student", "Sam"); code != 0 || !strings.Contains(says, "that desk listens to it: "+d.url+"/lessons/1") {
		t.Fatalf("%d %s", code, says)
	}
	waitFor(t, "the open desk listens to it", func() bool {
		var all []desk.Listed
		if err := json.Unmarshal([]byte(d.get("/lessons")), &all); err != nil {
			t.Fatal(err)
		}
		return len(all) == 1 && all[0].Result != "" && all[0].Student == "Sam"
	})
	if code, says := again(path); code != 0 || !strings.Contains(says, "is in its library already: "+d.url+"/lessons/1") {
		t.Errorf("the same again: %d %s", code, says)
	}
}

func TestAnAddressThatIsTakenOtherwiseIsSaidToBe(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if !desk.Built() {
		t.Skip("the desk's pages are not bundled: make page")
	}
	library := filepath.Join(t.TempDir(), "library")
	for _, what := range []string{"no library", "a library no desk has open"} {
		if what != "no library" {
			openDesk(t, library).kill()
			// It was killed: what it left is soon too old to be believed.
			desks, err := os.ReadDir(filepath.Join(library, "desks"))
			if err != nil || len(desks) != 1 {
				t.Fatal(desks, err)
			}
			aged(t, filepath.Join(library, "desks", desks[0].Name()))
		}
		var out, errs bytes.Buffer
		code := runIn(t.Context(), []string{"desk", "--listen", l.Addr().String(), "--library", library}, &out, &errs)
		if code != 1 || !strings.Contains(errs.String(), "cannot be opened at") || !strings.Contains(errs.String(), "--listen names another port") {
			t.Errorf("%s: %d %s%s", what, code, out.String(), errs.String())
		}
	}
}

// aged makes a file an hour old.
func aged(t *testing.T, path string) {
	t.Helper()
	then := time.Now().Add(-time.Hour)
	if err := os.Chtimes(path, then, then); err != nil {
		t.Fatal(err)
	}
}
