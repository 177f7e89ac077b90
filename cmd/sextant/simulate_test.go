package main

import (
	"bytes"
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/table"
)

// simulate runs the command and returns the files it wrote.
func simulate(t *testing.T, args ...string) map[string]string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "out")
	var out, errs bytes.Buffer
	if code := run(append([]string{"simulate", "--out", dir}, args...), nil, &out, &errs); code != exitDone {
		t.Fatalf("sextant simulate %q ends with %d: %s", args, code, errs.String())
	}
	if !strings.Contains(out.String(), "invented") {
		t.Errorf("it does not say that the event is invented: %q", out.String())
	}
	files := map[string]string{}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		text, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		files[e.Name()] = string(text)
	}
	return files
}

func TestSimulate(t *testing.T) {
	t.Parallel()
	args := []string{"--seed", "7", "--teams", "24", "--matches-per-team", "6", "--runs", "2"}
	files := simulate(t, args...)
	want := []string{"game.json", "marks.csv", "matches.csv", "observations.csv", "teams.csv", "truth.json"}
	if got := slices.Sorted(maps.Keys(files)); !slices.Equal(got, want) {
		t.Fatalf("wrote %q, want %q", got, want)
	}
	if again := simulate(t, args...); !maps.Equal(files, again) {
		t.Error("the same arguments write other bytes")
	}
	args[1] = "8"
	if other := simulate(t, args...); other["matches.csv"] == files["matches.csv"] {
		t.Error("another seed writes the same matches")
	}

	g, err := game.Load("game.json", []byte(files["game.json"]))
	if err != nil {
		t.Fatal(err)
	}
	file := func(name string) *table.File { return &table.File{Name: name, R: strings.NewReader(files[name])} }
	ev, err := table.Load(g, table.Files{Teams: file("teams.csv"), Matches: file("matches.csv"), Observations: file("observations.csv"), Marks: file("marks.csv")})
	if err != nil {
		t.Fatal(err)
	}
	if len(ev.Teams) != 24 || len(ev.Matches) != 24 || !ev.Matches[23].Played() {
		t.Errorf("read %d teams and %d matches, want 24 of each, all played", len(ev.Teams), len(ev.Matches))
	}
	var truth generate.Truth
	if err := json.Unmarshal([]byte(files["truth.json"]), &truth); err != nil {
		t.Fatal(err)
	}
	if len(truth.Teams) != 24 || truth.Teams[0].Team != ev.Teams[0].ID || len(truth.Matches) != 24 {
		t.Errorf("the truth knows %d teams and %d matches", len(truth.Teams), len(truth.Matches))
	}
}

// TestSimulateAnotherGame takes a game file; two robots an alliance here.
func TestSimulateAnotherGame(t *testing.T) {
	t.Parallel()
	name := filepath.Join(root, "testdata", "games", "millrace.json")
	files := simulate(t, "--seed", "1", "--game", name, "--teams", "12", "--matches-per-team", "4", "--runs", "2", "--scouts", "0")
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if files["game.json"] != string(text) {
		t.Error("game.json is not the file that was given")
	}
	if n := strings.Count(files["observations.csv"], "\n"); n != 1 {
		t.Errorf("nobody watches, and %d lines of observations are written", n)
	}
}

func TestSimulateRefuses(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	mine := filepath.Join(dir, "teams.csv")
	if err := os.WriteFile(mine, []byte("my own work"), 0o600); err != nil {
		t.Fatal(err)
	}
	broken := filepath.Join(dir, "broken.json")
	if err := os.WriteFile(broken, []byte(`{"id": 3`), 0o600); err != nil {
		t.Fatal(err)
	}
	free := filepath.Join(dir, "free")
	tests := []struct {
		name string
		args []string
		says string
	}{
		{"NoSeed", []string{"--out", free}, "--seed"},
		{"NoFolder", []string{"--seed", "1"}, "--out"},
		// So many runs would take hours: the folder is looked at before them.
		{"FilesThere", []string{"--seed", "1", "--out", dir, "--teams", "12", "--runs", "1000000000"}, "teams.csv is there already"},
		{"FolderIsAFile", []string{"--seed", "1", "--out", mine, "--teams", "12", "--runs", "1000000000"}, "--out"},
		{"NoSuchGame", []string{"--seed", "1", "--out", free, "--game", filepath.Join(dir, "none.json")}, "none.json"},
		{"BrokenGame", []string{"--seed", "1", "--out", free, "--game", broken}, "broken.json"},
		{"FewTeams", []string{"--seed", "1", "--out", free, "--teams", "5"}, "5 teams"},
		{"Watched", []string{"--seed", "1", "--out", free, "--watched", "NaN"}, "from 0 to 1"},
		{"Runs", []string{"--seed", "1", "--out", free, "--runs", "1"}, "--runs"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			var out, errs bytes.Buffer
			if code := run(append([]string{"simulate"}, tt.args...), nil, &out, &errs); code != exitUsage {
				t.Errorf("ends with %d, want %d", code, exitUsage)
			}
			if !strings.Contains(errs.String(), tt.says) || strings.Count(errs.String(), "\n") != 1 {
				t.Errorf("says %q, want one line with %q", errs.String(), tt.says)
			}
		})
	}
	t.Cleanup(func() {
		if text, err := os.ReadFile(mine); err != nil || string(text) != "my own work" {
			t.Errorf("a file that was there is now %q (%v)", text, err)
		}
	})
}
