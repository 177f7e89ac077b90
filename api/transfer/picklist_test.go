package transfer

import (
	"encoding/json"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/record"
	"sextant/stats/table"
)

// TestPickListVectors reads what the app's writer reads too.
func TestPickListVectors(t *testing.T) {
	t.Parallel()
	data, err := os.ReadFile("../../testdata/picklist/picklist.json")
	if err != nil {
		t.Fatal(err)
	}
	var vectors []struct {
		Name    string
		Entries []record.EntryBody
		Rows    []string
	}
	if err := json.Unmarshal(data, &vectors); err != nil {
		t.Fatal(err)
	}
	for k, v := range vectors {
		// An order that anything but the entries' own members brought would show.
		rand.New(rand.NewPCG(1, uint64(k))).Shuffle(len(v.Entries), func(i, j int) { v.Entries[i], v.Entries[j] = v.Entries[j], v.Entries[i] })
		var out strings.Builder
		picks := ranked(append(v.Entries, record.EntryBody{Team: "77", Key: "a0", Removed: true}))
		if err := table.WritePickList(&out, picks); err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(strings.Join(v.Rows, "\r\n")+"\r\n", out.String()); d != "" {
			t.Errorf("%s: %s", v.Name, d)
		}
	}
	if len(vectors) < 5 {
		t.Errorf("%d vectors only", len(vectors))
	}
}

// The npm package fractional-indexing, version 3.2.0, gives with
// generateNKeysBetween(null, null, 64): a0 … az b00 b01.
func TestOrderKey(t *testing.T) {
	t.Parallel()
	for i, want := range map[int]string{0: "a0", 1: "a1", 10: "aA", 35: "aZ", 36: "aa", 61: "az", 62: "b00", 63: "b01", 62 + 62: "b10"} {
		if got := orderKey(i); got != want {
			t.Errorf("orderKey(%d) = %q, want %q", i, got, want)
		}
	}
	for i := 1; i < 2000; i++ {
		if orderKey(i-1) >= orderKey(i) {
			t.Fatalf("key %d is not after key %d", i, i-1)
		}
	}
}
