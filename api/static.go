package api

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"time"

	"github.com/labstack/echo/v4"
)

// app serves the built web app out of a file system.
type app struct {
	files fs.FS
	tags  map[string]string // ETags of files that may change under one name
	index []byte            // nil: the app was not built
}

const (
	immutable  = "_app/immutable/" // files there have the hash of their content in their name
	indexName  = "index.html"
	indexCache = "no-cache"
)

// newApp reads the app once and takes the hashes of what may change. nil is an
// app that was not built.
func newApp(files fs.FS) (*app, error) {
	a := &app{files: files, tags: map[string]string{}}
	if files == nil {
		return a, nil
	}
	err := fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.HasPrefix(name, immutable) {
			return err
		}
		body, err := fs.ReadFile(files, name)
		if err != nil {
			return err
		}
		sum := sha256.Sum256(body)
		a.tags[name] = etag(hex.EncodeToString(sum[:12]))
		if name == indexName {
			a.index = body
		}
		return nil
	})
	return a, err
}

// hasETag reports whether an answer at this path carries a strong ETag, so
// that it must not be compressed on the way.
func hasETag(urlPath string) bool {
	return !isAPI(urlPath) && !strings.HasPrefix(strings.TrimPrefix(urlPath, "/"), immutable)
}

// serve answers with a file of the app; with its page for every path that
// looks like one of the app's screens; and with a problem otherwise.
func (a *app) serve(c echo.Context) error {
	urlPath := c.Request().URL.Path
	name := strings.TrimPrefix(path.Clean("/"+urlPath), "/")
	switch {
	case isAPI(urlPath):
		return notFound.because("There is no such operation. They are listed at /api/docs.")
	case a.index == nil:
		return notFound.because("The web app is not part of this build: build it in the folder frontend, then build the program again.")
	case name == "" || name == indexName:
		return a.page(c)
	case strings.HasPrefix(path.Base(name), "."):
		return notFound.because("There is no such file.")
	}
	info, err := fs.Stat(a.files, name)
	switch {
	case errors.Is(err, fs.ErrNotExist) || errors.Is(err, fs.ErrInvalid) || err == nil && info.IsDir():
		if strings.Contains(path.Base(name), ".") {
			return notFound.because("There is no such file.")
		}
		return a.page(c)
	case err != nil:
		return err
	}
	return a.file(c, name)
}

func (a *app) file(c echo.Context, name string) error {
	body, err := fs.ReadFile(a.files, name)
	if err != nil {
		return err
	}
	h := c.Response().Header()
	if tag, ok := a.tags[name]; ok {
		h.Set("Etag", tag)
		h.Set("Cache-Control", indexCache)
	} else {
		h.Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	http.ServeContent(c.Response(), c.Request(), name, time.Time{}, bytes.NewReader(body))
	return nil
}

// page answers with the app's one page.
func (a *app) page(c echo.Context) error {
	h := c.Response().Header()
	h.Set("Etag", a.tags[indexName])
	h.Set("Cache-Control", indexCache)
	http.ServeContent(c.Response(), c.Request(), indexName, time.Time{}, bytes.NewReader(a.index))
	return nil
}
