package frontend

import (
	"io/fs"
	"testing"
)

func TestDist(t *testing.T) {
	t.Parallel()
	if _, err := fs.Stat(Dist(), ".keep"); err != nil {
		t.Fatalf("the placeholder that keeps dist in the tree is missing: %v", err)
	}
	if _, err := fs.Stat(Dist(), "index.html"); err != nil {
		t.Skip("the app is not built here: run `npm run build` in frontend")
	}
	// Hashed files live in a folder whose name starts with _: plain embed drops it.
	if _, err := fs.Stat(Dist(), "_app"); err != nil {
		t.Errorf("the built app has no _app folder: %v", err)
	}
}
