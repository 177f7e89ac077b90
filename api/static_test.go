package api

import (
	"net/http"
	"strings"
	"testing"
	"testing/fstest"
)

func TestApp(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	c := f.client()
	page := string(testApp["index.html"].Data)
	tests := []struct {
		path, cache string
		page        bool
	}{
		{"/", "no-cache", true},
		{"/index.html", "no-cache", true},
		{"/e/0195f000-0000-7000-8000-000000000001/matches", "no-cache", true},
		{"/join", "no-cache", true},
		{"/_app", "no-cache", true},
		{"/../../etc/passwd", "no-cache", true},
		{"/service-worker.js", "no-cache", false},
		{"/_app/immutable/a.abc.js", "public, max-age=31536000, immutable", false},
	}
	for _, tt := range tests {
		a := c.get(tt.path).want(200)
		if got := a.header.Get("Cache-Control"); got != tt.cache {
			t.Errorf("%s: Cache-Control %q, want %q", tt.path, got, tt.cache)
		}
		if (string(a.body) == page) != tt.page {
			t.Errorf("%s answers %.60s", tt.path, a.body)
		}
		if tag := a.header.Get("ETag"); tt.cache == "no-cache" {
			c.get(tt.path, "If-None-Match", tag).want(http.StatusNotModified)
		} else if tag != "" {
			t.Errorf("%s has the ETag %s", tt.path, tag)
		}
	}
	for _, path := range []string{"/.keep", "/nothing.js", "/_app/immutable/gone.js"} {
		c.get(path).problem(notFound)
	}
	c.send("HEAD", "/", nil).want(200)
	zipped := c.get("/_app/immutable/a.abc.js", "Accept-Encoding", "gzip").want(200)
	if zipped.header.Get("Content-Encoding") != "gzip" {
		t.Error("a script is not compressed")
	}
	if a := c.get("/service-worker.js", "Accept-Encoding", "gzip").want(200); a.header.Get("Content-Encoding") != "" {
		t.Error("a file with a strong ETag is compressed under the same tag")
	}
}

func TestAppNotBuilt(t *testing.T) {
	t.Parallel()
	for _, files := range []fstest.MapFS{nil, {".keep": {}}} {
		f := &Server{}
		var err error
		if f.app, err = newApp(files); err != nil {
			t.Fatal(err)
		}
		if f.app.index != nil {
			t.Error("an app that was not built has a page")
		}
	}
}

func TestDocuments(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	c := f.client()
	docs := string(c.get("/api/docs").want(200).body)
	for _, part := range []string{"/api/events/{event}/sync", `id="type-Observation"`, `id="problem-stale"`, "For: lead, coach."} {
		if !strings.Contains(docs, part) {
			t.Errorf("the page about the API lacks %s", part)
		}
	}
	for _, part := range []string{"<script", "http://", "https://"} {
		if strings.Contains(docs, part) {
			t.Errorf("the page about the API has %s: it must load nothing", part)
		}
	}
	for _, k := range kinds {
		if !strings.Contains(docs, `id="problem-`+k.slug+`"`) {
			t.Errorf("problem %s is not explained", k.slug)
		}
	}
	c.get("/api/openapi.json").want(200, &map[string]any{})
	c.get("/api/schema/game.json").want(200, &map[string]any{})
}
