// Package frontend holds the built web app. The folder dist is made by
// `npm run build`; before that it has only a placeholder, so that the program
// always compiles.
package frontend

import (
	"embed"
	"io/fs"
)

// A plain "dist" would leave out files whose names start with _ or a dot, and
// the app's own folder is named _app.
//
//go:embed all:dist
var files embed.FS

// Dist returns the built web app with index.html at its root, or only the
// placeholder .keep if the app was not built.
func Dist() fs.FS {
	dist, err := fs.Sub(files, "dist")
	if err != nil {
		panic(err) // "dist" is a constant and a valid path
	}
	return dist
}
