package main

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"
)

func TestBacktestCommand(t *testing.T) {
	t.Parallel()
	dir := eventFolder(t)
	files := []string{"backtest", "--game", "{}/game.json", "--matches", "{}/matches.csv", "--observations", "{}/observations.csv"}
	got := decode(t, mustSextant(t, dir, slices.Clone(files)...))
	matches, summary := got["matches"].([]any), got["summary"].(map[string]any)
	if len(matches) != 18 || summary["forecast"] != 18.0 || summary["skipped"] != 6.0 {
		t.Errorf("%d matches, summary %v; a quarter of 24 is only learned from", len(matches), summary)
	}
	want := []string{"brier", "correct", "coverage80", "forecast", "log_loss", "score_mae", "skipped"}
	for _, k := range append(want, "crps", "reliability", "ranking_points", "strongest") {
		if _, ok := summary[k]; !ok {
			t.Errorf("summary has %q, and no %q", slices.Sorted(maps.Keys(summary)), k)
		}
	}
	// The summary is that of the matches printed: the Brier score once more, from the JSON.
	var brier float64
	for _, v := range matches {
		m := v.(map[string]any)
		c := m["chance"].(map[string]any)
		p := c["red"].(float64) + c["tie"].(float64)/2
		o := 0.5
		if r, b := m["red_score"].(float64), m["blue_score"].(float64); r != b {
			o = 0
			if r > b {
				o = 1
			}
		}
		brier += (p - o) * (p - o) / float64(len(matches))
	}
	if math.Abs(brier-summary["brier"].(float64)) > 1e-12 {
		t.Errorf("brier %v, the matches say %v", summary["brier"], brier)
	}
	if first := matches[0].(map[string]any)["match"]; first != "Q7" {
		t.Errorf("first forecast %v, want Q7", first)
	}

	more := decode(t, mustSextant(t, dir, append(slices.Clone(files), "--from", "0.5", "--ahead", "4")...))
	if s := more["summary"].(map[string]any); s["forecast"] != 12.0 || s["skipped"] != 12.0 {
		t.Errorf("from a half: %v", s)
	}
	table := mustSextant(t, dir, append(slices.Clone(files), "--format", "table")...)
	if !strings.Contains(table, "18 matches forecast, 6 only learned from") || !strings.Contains(table, "Q24") {
		t.Errorf("table: %s", table)
	}
}

func TestBacktestCommandStandings(t *testing.T) {
	t.Parallel()
	ask := []string{"backtest", "--standings", "--seeds", "2", "--first-seed", "5", "--teams", "18", "--matches-per-team", "8"}
	r := decode(t, mustSextant(t, t.TempDir(), ask...))
	forecast, naive := r["forecast"].(float64), r["naive"].(float64)
	if r["events"] != 2.0 || r["first"] != 5.0 || forecast <= 0 || naive <= 0 || math.Abs(r["ratio"].(float64)-forecast/naive) > 1e-12 {
		t.Errorf("%v", r)
	}
	table := mustSextant(t, t.TempDir(), append(slices.Clone(ask), "--format", "table")...)
	if !strings.Contains(table, "last 40 % of the matches hidden; 2 invented events, seeds 5 to 6") || !strings.Contains(table, fmt.Sprintf("%.4f", forecast)) {
		t.Errorf("table: %s", table)
	}
}

func TestBacktestCommandEstimators(t *testing.T) {
	t.Parallel()
	dir := eventFolder(t)
	got := decode(t, mustSextant(t, dir, "backtest", "--game", "{}/game.json", "--matches", "{}/matches.csv",
		"--observations", "{}/observations.csv", "--estimator", "mixed", "--estimator", "averages", "--draws", "0"))
	both := got["estimators"].(map[string]any)
	if len(both) != 2 || both["mixed"].(map[string]any)["brier"] != got["summary"].(map[string]any)["brier"] {
		t.Errorf("estimators %v, summary %v: the first is the one that is shown", both, got["summary"])
	}
}

func TestBacktestCommandSeeds(t *testing.T) {
	t.Parallel()
	got := decode(t, mustSextant(t, t.TempDir(), "backtest", "--seeds", "1", "--teams", "12", "--matches-per-team", "6",
		"--truth-runs", "10", "--draws", "0"))
	if rows := got["estimators"].([]any); len(rows) != 4 || rows[0].(map[string]any)["estimator"] != "fused" {
		t.Errorf("estimators %v", rows)
	}
	if o := got["oracle"].(map[string]any); o["brier"].(float64) <= 0 {
		t.Errorf("oracle %v", o)
	}
}

func TestBacktestCommandRefuses(t *testing.T) {
	t.Parallel()
	dir := eventFolder(t)
	base := []string{"backtest", "--game", "{}/game.json", "--matches", "{}/matches.csv"}
	for name, c := range map[string]struct {
		args []string
		says []string
	}{
		"From":      {[]string{"--from", "1.5"}, []string{"--from 1.5"}},
		"FromText":  {[]string{"--from", "half"}, []string{"--from"}},
		"FromNaN":   {[]string{"--from", "NaN"}, []string{"--from NaN"}},
		"Ahead":     {[]string{"--ahead=-2"}, []string{"--ahead -2"}},
		"Estimator": {[]string{"--estimator", "tea"}, []string{"--estimator tea", "mixed"}},
		"Draws":     {[]string{"--draws=-1"}, []string{"--draws -1"}},
		"NoneLeft":  {[]string{"--from", "1"}, []string{"matches.csv:1", "column score", "no match is left"}},
		"CSVFormat": {[]string{"--format", "csv"}, []string{"--format"}},
		"NoFile":    {[]string{"--observations", "{}/none.csv"}, []string{"none.csv"}},
	} {
		t.Run(name, func(t *testing.T) {
			code, out, errs := sextant(dir, append(slices.Clone(base), c.args...)...)
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
