package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func TestCheckCommand(t *testing.T) {
	t.Parallel()
	dir := eventFolder(t)
	name := filepath.Join(dir, "observations.csv")
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(text), "\n")
	cells := strings.Split(lines[5], ",")
	right := cells[1]
	cells[1] = "9" + right[1:] // no such team is at the event
	lines[5] = strings.Join(cells, ",")
	write(t, name, strings.Join(lines, "\n"))
	files := []string{"check", "--game", "{}/game.json", "--matches", "{}/matches.csv", "--observations", "{}/observations.csv"}
	out := mustSextant(t, dir, slices.Clone(files)...)
	suspects := decode(t, out)["suspects"].([]any)
	found := false
	cost := 1e9
	for _, v := range suspects {
		s := v.(map[string]any)
		p, effect := s["probability"].(float64), s["effect"].(float64)
		if p < 0.1 || p > 1 || effect < 0 || p*effect > cost+1e-9 {
			t.Errorf("%v: probability, effect or order", s)
		}
		cost = p * effect
		teams := s["teams"].([]any)
		if s["kind"] == "unknown_team" && s["match"] == cells[0] && teams[0] == cells[1] && teams[1] == right && s["scouts"].([]any)[0] == cells[2] {
			found = true
		}
	}
	if !found {
		t.Errorf("%s in %s is not told as an unknown team near %s: %s", cells[1], cells[0], right, out)
	}
	if again := mustSextant(t, dir, slices.Clone(files)...); again != out {
		t.Error("a second run prints other bytes")
	}
	table := mustSextant(t, dir, append(slices.Clone(files), "--format", "table")...)
	if !strings.Contains(table, "unknown_team") || !strings.Contains(table, "nearest is "+right) {
		t.Errorf("table: %s", table)
	}
	if few := decode(t, mustSextant(t, dir, append(slices.Clone(files), "--least", "1")...))["suspects"].([]any); len(few) > len(suspects) {
		t.Error("--least 1 lists more than the default")
	}
}

func TestCheckCommandMeasures(t *testing.T) {
	t.Parallel()
	out := mustSextant(t, "", "check", "--seeds", "1", "--teams", "18", "--matches-per-team", "8", "--truth-runs", "3", "--format", "table")
	if !strings.Contains(out, "wrong_robot") || !strings.Contains(out, "48 matches") && !strings.Contains(out, "24 matches") {
		t.Errorf("prints %s", out)
	}
}

func TestCheckCommandRefuses(t *testing.T) {
	t.Parallel()
	dir := eventFolder(t)
	write(t, filepath.Join(dir, "bad.csv"), "match,team,scout,nonsense\nQ1,1,s01,2\n")
	files := []string{"check", "--game", "{}/game.json", "--matches", "{}/matches.csv"}
	for name, c := range map[string]struct {
		args []string
		says []string
	}{
		"Missing": {files, []string{"--observations"}},
		"Least":   {append(slices.Clone(files), "--observations", "{}/observations.csv", "--least", "0"), []string{"--least 0"}},
		"Column":  {append(slices.Clone(files), "--observations", "{}/bad.csv"), []string{"bad.csv:1", "nonsense"}},
		"NoFile":  {append(slices.Clone(files), "--observations", "{}/none.csv"), []string{"none.csv"}},
		"Runs":    {[]string{"check", "--seeds", "1", "--truth-runs", "1"}, []string{"--truth-runs"}},
	} {
		t.Run(name, func(t *testing.T) {
			code, out, errs := sextant(dir, slices.Clone(c.args)...)
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
