// Package modelstest gives tests the embedded recogniser's files.
package modelstest

import (
	"os"
	"path/filepath"
	"testing"

	"sidetone/audio/models"
)

// Find returns the files `make models` put into bin/models of this checkout, or
// those of the user. Without them the test is skipped, or fails when
// SIDETONE_REQUIRE_TOOLS=1 (as in `make test`).
func Find(t testing.TB) models.Set {
	t.Helper()
	dir := ""
	if root := Root(); root != "" && os.Getenv(models.EnvDir) == "" {
		if d := filepath.Join(root, "bin", "models"); exists(d) {
			dir = d
		}
	}
	set, err := models.Find(dir)
	if err != nil {
		Missing(t, "the listening files (make models)")
	}
	return set
}

// Missing skips the test for want of a tool, or fails it when tools are required.
func Missing(t testing.TB, what string) {
	t.Helper()
	if os.Getenv("SIDETONE_REQUIRE_TOOLS") == "1" {
		t.Fatalf("%s is missing and SIDETONE_REQUIRE_TOOLS=1", what)
	}
	t.Skipf("%s is missing", what)
}

// Root is the folder of go.mod above the running test, "" if there is none.
func Root() string {
	dir, err := os.Getwd()
	if err != nil {
		return ""
	}
	for {
		if exists(filepath.Join(dir, "go.mod")) {
			return dir
		}
		up := filepath.Dir(dir)
		if up == dir {
			return ""
		}
		dir = up
	}
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}
