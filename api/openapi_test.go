package api

import (
	"bytes"
	"flag"
	"os"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "rewrite openapi.json")

// TestOpenAPIDocument holds the committed document to the Go types: the app's
// types are generated from it.
func TestOpenAPIDocument(t *testing.T) {
	t.Parallel()
	got, err := OpenAPI()
	if err != nil {
		t.Fatal(err)
	}
	if *update {
		if err := os.WriteFile("openapi.json", got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile("openapi.json")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("openapi.json is old; run: go test ./api -run TestOpenAPIDocument -update\n%s", cmp.Diff(string(want), string(got)))
	}
}
