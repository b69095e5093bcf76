// Command deskpage makes the page of the desk: it installs the npm packages pinned
// in timeline/desk/web/package-lock.json (the npm client checks each against its
// sha512; no scripts run), bundles the TypeScript and CSS with esbuild, and writes
// the result into timeline/desk/assets, from where the program embeds it. Run it at
// the top of the repository, as `make build` does.
package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"

	"github.com/evanw/esbuild/pkg/api"
)

const (
	web    = "timeline/desk/web"
	assets = "timeline/desk/assets"
)

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "deskpage:", err)
		os.Exit(1)
	}
}

func run() error {
	if _, err := os.Stat(web); err != nil {
		return fmt.Errorf("%s is not here; run this at the top of the repository", web)
	}
	if err := install(); err != nil {
		return err
	}
	if err := bundle(); err != nil {
		return err
	}
	return licences()
}

// install gets the pinned packages, unless those of this lock file are there.
func install() error {
	lock, err := os.ReadFile(filepath.Join(web, "package-lock.json"))
	if err != nil {
		return err
	}
	stamp := filepath.Join(web, "node_modules", ".installed-from")
	if have, err := os.ReadFile(stamp); err == nil && bytes.Equal(have, lock) {
		return nil
	}
	cmd := exec.Command("npm", "ci", "--loglevel=error", "--ignore-scripts")
	cmd.Dir = web
	if out, err := cmd.CombinedOutput(); errors.Is(err, exec.ErrNotFound) {
		return errors.New("the npm client is needed to build the desk's page and is not on the PATH; install Node.js with npm")
	} else if err != nil {
		return fmt.Errorf("npm ci in %s: %w: %s", web, err, bytes.TrimSpace(out))
	}
	return os.WriteFile(stamp, lock, 0o644)
}

// bundle writes one script for each page, and the style they share.
func bundle() error {
	result := api.Build(api.BuildOptions{
		EntryPoints:       []string{web + "/lesson.ts", web + "/library.ts", web + "/print.ts", web + "/desk.css"},
		Outdir:            assets,
		Bundle:            true,
		Format:            api.FormatESModule,
		Target:            api.ES2022,
		Charset:           api.CharsetUTF8,
		MinifyWhitespace:  true,
		MinifyIdentifiers: true,
		MinifySyntax:      true,
		LegalComments:     api.LegalCommentsEndOfFile,
		Write:             true,
		LogLevel:          api.LogLevelWarning,
	})
	if n := len(result.Errors); n > 0 {
		return fmt.Errorf("the page has %d errors, listed above", n)
	}
	return nil
}

// licences puts the licence of what is in the bundle beside it.
func licences() error {
	text, err := os.ReadFile(web + "/node_modules/wavesurfer.js/LICENSE")
	if err != nil {
		return err
	}
	return os.WriteFile(assets+"/licences.txt", append([]byte("wavesurfer.js 8.0.1\n\n"), text...), 0o644)
}
