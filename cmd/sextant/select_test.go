package main

import (
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"

	"sextant/stats/record"
)

// playoffFolder is an invented event of 24 teams with a ranking and alliances.
func playoffFolder(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range simulate(t, "--seed", "7", "--teams", "24", "--matches-per-team", "6", "--runs", "2") {
		write(t, filepath.Join(dir, name), text)
	}
	var ranking, alliances strings.Builder
	ranking.WriteString("rank,team\n")
	alliances.WriteString("alliance,captain,picks\n")
	team := func(n int) string { return "401" + string(rune('0'+n/10)) + string(rune('0'+n%10)) }
	for n := 1; n <= 24; n++ {
		ranking.WriteString(strings.TrimLeft(string(rune('0'+n/10)), "0") + string(rune('0'+n%10)) + "," + team(n) + "\n")
	}
	for a := 1; a <= 8; a++ {
		alliances.WriteString(string(rune('0'+a)) + "," + team(a) + "," + team(8+a) + " " + team(16+a) + "\n")
	}
	write(t, filepath.Join(dir, "ranking.csv"), ranking.String())
	write(t, filepath.Join(dir, "alliances.csv"), alliances.String())
	return dir
}

// files are the arguments that name the event's files.
var files = []string{"--game", "{}/game.json", "--matches", "{}/matches.csv", "--observations", "{}/observations.csv"}

func TestBracketCommand(t *testing.T) {
	t.Parallel()
	dir := playoffFolder(t)
	args := append([]string{"bracket", "--alliances", "{}/alliances.csv", "--runs", "200"}, files...)
	text := mustSextant(t, dir, args...)
	var b record.Bracket
	if err := json.Unmarshal([]byte(text), &b); err != nil {
		t.Fatal(err)
	}
	win := 0.0
	for _, a := range b.Alliances {
		win += a.Win
	}
	if len(b.Alliances) != 8 || len(b.Next) != 4 || b.Runs != 200 || win < 0.999 || win > 1.001 {
		t.Errorf("bracket: %s", text)
	}
	if again := mustSextant(t, dir, args...); again != text {
		t.Error("the same arguments print something else")
	}
	if table := mustSextant(t, dir, append(args, "--format", "table")...); !strings.Contains(table, "200 playoffs drawn") {
		t.Errorf("table: %s", table)
	}
	write(t, filepath.Join(dir, "alliances.csv"), "alliance,captain,picks\n1,40101,40199\n2,40102,\n")
	if code, _, errs := sextant(dir, args...); code != exitUsage || !strings.Contains(errs, "alliances.csv") || !strings.Contains(errs, "40199") {
		t.Errorf("a team that is not there: %d, %s", code, errs)
	}
}

func TestSelectCommand(t *testing.T) {
	t.Parallel()
	dir := playoffFolder(t)
	args := append([]string{"select", "--ranking", "{}/ranking.csv", "--moves", "{}/moves.json", "--team", "40103", "--runs", "64"}, files...)
	write(t, filepath.Join(dir, "moves.json"), `[
  {"captain": "40101", "invites": "40102", "answer": "declines"},
  {"captain": "40101", "invites": "40109", "answer": "accepts"},
  {"captain": "40102", "invites": "40110", "answer": "accepts"}
]`)
	text := mustSextant(t, dir, args...)
	var a record.Advice
	if err := json.Unmarshal([]byte(text), &a); err != nil {
		t.Fatal(err)
	}
	if a.OnTheClock != "40103" || a.OurAlliance != 3 || !a.OurTurn || a.Pick != 3 || a.NextPick != 14 || a.Runs != 64 || len(a.Candidates) != 24-5 {
		t.Errorf("advice: %s", text)
	}
	if again := mustSextant(t, dir, args...); again != text {
		t.Error("the same arguments print something else")
	}
	if table := mustSextant(t, dir, append(args, "--format", "table")...); !strings.Contains(table, "Our turn") {
		t.Errorf("table: %s", table)
	}
	mustSextant(t, dir, append([]string{"select", "--team", "40103", "--runs", "4"}, files...)...) // by the results' own ranking

	for name, tt := range map[string]struct{ moves, want string }{
		"Rule":   {"[\n{\"captain\": \"40101\", \"invites\": \"40101\", \"answer\": \"accepts\"}]", "moves.json:2: column invites: move 1, 40101 invites 40101: is the inviting captain"},
		"Member": {`[{"captain": "40101", "asks": "40102"}]`, "moves.json:1"},
		"Form":   {`{"captain": "40101"}`, "as an array"},
		"After":  {`[] []`, "after the moves"},
	} {
		write(t, filepath.Join(dir, "moves.json"), tt.moves)
		if code, _, errs := sextant(dir, args...); code != exitUsage || !strings.Contains(errs, tt.want) {
			t.Errorf("%s: %d, %s, want %q", name, code, errs, tt.want)
		}
	}
	write(t, filepath.Join(dir, "moves.json"), "[]")
	args[6] = "99999"
	if code, _, errs := sextant(dir, args...); code != exitUsage || !strings.Contains(errs, "99999") {
		t.Errorf("another team: %d, %s", code, errs)
	}
}
