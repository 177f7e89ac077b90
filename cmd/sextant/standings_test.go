package main

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// hide takes the results of all matches after the first so many away.
func hide(t *testing.T, dir string, after int) {
	t.Helper()
	name := filepath.Join(dir, "matches.csv")
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(strings.NewReader(string(text))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	schedule := []string{"match", "play", "starts_at", "alliance", "teams", "surrogates"}
	for _, row := range rows[1:] {
		n, err := strconv.Atoi(row[0][1:])
		if err != nil {
			t.Fatal(err)
		}
		for k := range row {
			if n > after && !slices.Contains(schedule, rows[0][k]) {
				row[k] = ""
			}
		}
	}
	var b strings.Builder
	if err := csv.NewWriter(&b).WriteAll(rows); err != nil {
		t.Fatal(err)
	}
	write(t, name, b.String())
}

func TestStandingsCommand(t *testing.T) {
	t.Parallel()
	dir := eventFolder(t)
	hide(t, dir, 14)
	files := []string{"standings", "--game", "{}/game.json", "--matches", "{}/matches.csv", "--observations", "{}/observations.csv", "--runs", "400"}
	out := mustSextant(t, dir, slices.Clone(files)...)
	got := decode(t, out)
	teams := got["teams"].([]any)
	if len(teams) != 18 || got["runs"] != 400.0 || got["goal"] != nil {
		t.Fatalf("%d teams, %v runs, goal %v", len(teams), got["runs"], got["goal"])
	}
	var captains float64
	for _, v := range teams {
		team := v.(map[string]any)
		rank := team["rank"].([]any)
		var sum, mean, seeded float64
		for k, p := range rank {
			sum, mean = sum+p.(float64), mean+p.(float64)*float64(k+1)
			if k < 8 {
				seeded += p.(float64)
			}
		}
		if len(rank) != 18 || math.Abs(sum-1) > 1e-9 || math.Abs(mean-team["mean_rank"].(float64)) > 1e-9 || math.Abs(seeded-team["seeded"].(float64)) > 1e-9 {
			t.Errorf("%v", team)
		}
		if p := team["ranking_points"].(float64); p < 0 || p > 4 {
			t.Errorf("%v ranking points a match; the game gives 4 at most", p)
		}
		captains += seeded
	}
	if math.Abs(captains-8) > 1e-9 {
		t.Errorf("%v captains; the game has 8 alliances", captains)
	}
	if again := mustSextant(t, dir, append(slices.Clone(files), "--seed", "1")...); again != out {
		t.Error("seed 1 is not the default, or a second run prints other bytes")
	}
	if other := mustSextant(t, dir, append(slices.Clone(files), "--seed", "2")...); other == out {
		t.Error("seed 2 prints what seed 1 does")
	}

	goal := decode(t, mustSextant(t, dir, append(slices.Clone(files), "--team", "40105", "--top", "3")...))["goal"].(map[string]any)
	for _, v := range teams {
		if team := v.(map[string]any); team["team"] == "40105" {
			rank := team["rank"].([]any)
			if want := rank[0].(float64) + rank[1].(float64) + rank[2].(float64); math.Abs(goal["chance"].(float64)-want) > 1e-9 {
				t.Errorf("goal %v, the places say %v", goal["chance"], want)
			}
		}
	}
	table := mustSextant(t, dir, append(slices.Clone(files), "--team", "40105", "--format", "table")...)
	if !strings.Contains(table, "400 runs") || !strings.Contains(table, "Place 8 or better") {
		t.Errorf("table: %s", table)
	}
}

func TestStandingsCommandRefuses(t *testing.T) {
	t.Parallel()
	dir := eventFolder(t)
	base := []string{"standings", "--game", "{}/game.json", "--matches", "{}/matches.csv", "--runs", "10"}
	none := eventFolder(t)
	hide(t, none, 0)
	for name, c := range map[string]struct {
		dir  string
		args []string
		says []string
	}{
		"Runs":    {dir, []string{"--runs=0"}, []string{"--runs 0"}},
		"Many":    {dir, []string{"--runs=1000001"}, []string{"--runs 1000001"}},
		"Team":    {dir, []string{"--team", "7"}, []string{"matches.csv:1", "column teams", "--team 7"}},
		"Top":     {dir, []string{"--top", "3"}, []string{"--team"}},
		"Minus":   {dir, []string{"--top=-3"}, []string{"--top -3"}},
		"Nothing": {none, nil, []string{"matches.csv:1", "column score"}},
	} {
		t.Run(name, func(t *testing.T) {
			code, out, errs := sextant(c.dir, append(slices.Clone(base), c.args...)...)
			if code != exitUsage || out != "" || strings.Count(errs, "\n") != 1 {
				t.Errorf("ends with %d, prints %q and %q; want 2, nothing and one line", code, out, errs)
			}
			for _, says := range c.says {
				if !strings.Contains(errs, says) {
					t.Errorf("%q does not say %q", errs, says)
				}
			}
		})
	}
}
