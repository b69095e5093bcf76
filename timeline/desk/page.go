package desk

import (
	"embed"
	"html/template"
	"io/fs"
)

// The templates, and what cmd/deskpage bundled; a fresh checkout has no bundle.
//
//go:embed assets *.tmpl.html
var files embed.FS

var pages = template.Must(template.ParseFS(files, "*.tmpl.html"))

// assets is what is served below /assets/.
func assets() fs.FS {
	sub, err := fs.Sub(files, "assets")
	if err != nil {
		panic(err) // the folder is embedded above
	}
	return sub
}

// built says whether the program was built with its page; without, all the desk can
// say is: run make build.
func built() bool {
	_, err := fs.Stat(files, "assets/lesson.js")
	return err == nil
}
