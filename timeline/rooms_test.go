package timeline_test

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// may says which of sidetone's rooms a room may use besides itself. A room is
// the longest of these that a package lies in. Imports run downward only.
var may = map[string][]string{
	"audio/dot":        {},
	"audio":            {"audio/dot"},
	"audio/transcript": {},
	"audio/recognise":  {"audio", "audio/dot", "audio/transcript"},
	"audio/voices":     {"audio", "audio/transcript"},
	"audio/hear":       {"audio", "audio/transcript", "audio/recognise", "audio/voices"},
	"audio/lend":       {"audio", "audio/transcript", "audio/recognise", "audio/hear"},
	"callouts":         {"audio/dot", "audio/transcript"},
	"rules":            {"callouts"},
	"timeline":         {"audio/transcript", "callouts", "rules"},
	"timeline/report":  {"audio/transcript", "callouts", "rules", "timeline"},
	"timeline/logbook": {"audio/transcript", "callouts", "rules", "timeline"},
	"timeline/desk":    {"audio/transcript", "callouts", "rules", "timeline", "timeline/report", "timeline/logbook"},
	"cmd": {"audio", "audio/transcript", "audio/recognise", "audio/voices", "audio/hear", "audio/lend", "callouts", "rules", "timeline",
		"timeline/report", "timeline/logbook", "timeline/desk"},
}

func roomOf(pkg string) string {
	for p := pkg; p != "."; p = path.Dir(p) {
		if _, ok := may[p]; ok {
			return p
		}
	}
	return ""
}

func TestImportsRunDownward(t *testing.T) {
	rooms := map[string]int{}
	for _, u := range imports(t) {
		room, used := roomOf(u.from), roomOf(u.to)
		rooms[room]++
		if room == "" {
			t.Errorf("%s lies in no room", u.file)
		} else if used == "" || used != room && !slices.Contains(may[room], used) {
			t.Errorf("%s may not import %s: %s may use only %q", u.file, u.to, room, may[room])
		}
	}
	if rooms["rules"] == 0 || rooms["timeline"] == 0 {
		t.Errorf("imports were seen only in %v", rooms)
	}
}

type use struct{ file, from, to string }

// imports are the imports between packages of this module, tests left out.
func imports(t *testing.T) []use {
	t.Helper()
	root := ".."
	if _, err := os.Stat(filepath.Join(root, "go.mod")); err != nil {
		t.Fatal(err)
	}
	var out []use
	err := filepath.WalkDir(root, func(file string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && file != root && (strings.HasPrefix(d.Name(), ".") || d.Name() == "testdata" || d.Name() == "node_modules"):
			return filepath.SkipDir
		case d.IsDir() || !strings.HasSuffix(file, ".go") || strings.HasSuffix(file, "_test.go"):
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, file)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		for _, spec := range f.Imports {
			p, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			if to, ours := strings.CutPrefix(p, "sidetone/"); ours {
				out = append(out, use{rel, path.Dir(rel), to})
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}
