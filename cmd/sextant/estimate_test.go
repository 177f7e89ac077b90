package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// eventFolder writes an invented event and returns its folder.
func eventFolder(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range simulate(t, "--seed", "11", "--teams", "18", "--matches-per-team", "8", "--runs", "2") {
		write(t, filepath.Join(dir, name), text)
	}
	return dir
}

func write(t *testing.T, file, text string) {
	t.Helper()
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

// sextant runs the program; {} in an argument stands for dir.
func sextant(dir string, args ...string) (code int, stdout, stderr string) {
	for i := range args {
		args[i] = strings.ReplaceAll(args[i], "{}", dir)
	}
	var out, errs bytes.Buffer
	code = run(args, nil, &out, &errs)
	return code, out.String(), errs.String()
}

func mustSextant(t *testing.T, dir string, args ...string) string {
	t.Helper()
	code, out, errs := sextant(dir, args...)
	if code != exitDone || errs != "" {
		t.Fatalf("sextant %q ends with %d: %s", args, code, errs)
	}
	return out
}

func decode(t *testing.T, text string) map[string]any {
	t.Helper()
	var v map[string]any
	if err := json.Unmarshal([]byte(text), &v); err != nil {
		t.Fatalf("%v in %.200s", err, text)
	}
	return v
}

func TestEstimateCommand(t *testing.T) {
	t.Parallel()
	dir := eventFolder(t)
	files := []string{"estimate", "--game", "{}/game.json", "--matches", "{}/matches.csv"}
	all := append(slices.Clone(files), "--observations", "{}/observations.csv")

	t.Run("JSON", func(t *testing.T) {
		out := mustSextant(t, dir, append(slices.Clone(all), "--format", "json")...)
		if again := mustSextant(t, dir, slices.Clone(all)...); again != out {
			t.Error("the default is not JSON, or a second run prints other bytes")
		}
		got := decode(t, out)
		teams := got["teams"].([]any)
		if len(teams) != 18 || got["fit"] == nil {
			t.Fatalf("%d teams, fit %v", len(teams), got["fit"])
		}
		first := teams[0].(map[string]any)
		want := []string{"actions", "least_squares", "matches", "now", "now_sd", "points", "sd", "stops", "team", "watched", "working"}
		if keys := slices.Sorted(maps.Keys(first)); !slices.Equal(keys, want) {
			t.Errorf("a team has %q, want %q", keys, want)
		}
		if first["team"] != "40101" || first["matches"] != 8.0 {
			t.Errorf("first team %v with %v matches", first["team"], first["matches"])
		}
		ls := first["least_squares"].(map[string]any)
		o, d, m := ls["offence"].(float64), ls["defence"].(float64), ls["margin"].(float64)
		if math.Abs(o-d-m) > 1e-9 {
			t.Errorf("margin %v is not offence %v less defence %v", m, o, d)
		}
		for id, a := range first["actions"].(map[string]any) {
			if e := a.(map[string]any); e["mean"] == nil || !(e["sd"].(float64) > 0) {
				t.Errorf("action %s: %v", id, e)
			}
		}
	})
	t.Run("NotDeterminedIsNull", func(t *testing.T) {
		rows := strings.SplitAfter(read(t, dir, "matches.csv"), "\n")
		early := filepath.Join(t.TempDir(), "early.csv")
		write(t, early, strings.Join(rows[:7], "")) // three matches, six totals, eighteen robots
		out := mustSextant(t, dir, "estimate", "--game", "{}/game.json", "--matches", early)
		if !strings.Contains(out, `"offence": null`) || strings.Contains(out, "NaN") {
			t.Errorf("six totals determine no robot: %s", out)
		}
	})
	t.Run("CSV", func(t *testing.T) {
		rows, err := csv.NewReader(strings.NewReader(mustSextant(t, dir, append(slices.Clone(all), "--format", "csv")...))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		if len(rows) != 19 || rows[0][0] != "team" || rows[1][0] != "40101" || !slices.Contains(rows[0], "actions.deck.sd") {
			t.Errorf("%d rows, header %q", len(rows), rows[0])
		}
	})
	t.Run("Table", func(t *testing.T) {
		out := mustSextant(t, dir, append(slices.Clone(all), "--format", "table")...)
		if lines := strings.Split(out, "\n"); !strings.Contains(lines[0], "CCWM") || len(lines) < 20 {
			t.Errorf("table: %s", out)
		}
	})
	t.Run("MarksWiden", func(t *testing.T) {
		marks := filepath.Join(t.TempDir(), "marks.csv")
		write(t, marks, "team,match,kind,note\n40101,Q999,changed,new arm\n")
		sd := func(out string) float64 {
			return decode(t, out)["teams"].([]any)[0].(map[string]any)["now_sd"].(float64)
		}
		with, without := sd(mustSextant(t, dir, append(slices.Clone(all), "--marks", marks)...)), sd(mustSextant(t, dir, slices.Clone(all)...))
		if with < 1.2*without {
			t.Errorf("now_sd %v with a mark, %v without", with, without)
		}
	})
	t.Run("Prior", func(t *testing.T) {
		prior := filepath.Join(t.TempDir(), "prior.json")
		write(t, prior, mustSextant(t, dir, slices.Clone(all)...))
		with := decode(t, mustSextant(t, dir, append(slices.Clone(files), "--prior", prior)...))
		without := decode(t, mustSextant(t, dir, slices.Clone(files)...))
		sd := func(e map[string]any) float64 { return e["teams"].([]any)[0].(map[string]any)["now_sd"].(float64) }
		if sd(with) >= sd(without) {
			t.Errorf("now_sd %v with what an earlier event told, %v without", sd(with), sd(without))
		}
	})
	t.Run("WithoutRecordsFilesAreEnough", func(t *testing.T) {
		fit := decode(t, mustSextant(t, dir, slices.Clone(files)...))["fit"].(map[string]any)
		if fit["records"] != 0.0 || fit["matches"] != 24.0 || fit["rows"] != 48.0 {
			t.Errorf("fit %v", fit)
		}
	})
}

func read(t *testing.T, dir, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func TestEstimateCommandRefuses(t *testing.T) {
	t.Parallel()
	dir := eventFolder(t)
	matches := read(t, dir, "matches.csv")
	write(t, filepath.Join(dir, "colour.csv"), strings.Replace(matches, ",red,", ",purple,", 1))
	write(t, filepath.Join(dir, "column.csv"), strings.Replace(matches, "score", "scoer", 1))
	write(t, filepath.Join(dir, "schedule.csv"), "match,alliance,teams,score\nQ1,red,1 2 3,\nQ1,blue,4 5 6,\n")
	write(t, filepath.Join(dir, "stranger.csv"), "match,team,scout,deck\nQ1,99999,s01,3\n")
	write(t, filepath.Join(dir, "broken.json"), "{\n  \"teams\": [\n    {]\n}\n")
	write(t, filepath.Join(dir, "text.json"), "{\"teams\": [\n{\"team\": \"40101\", \"working\": \"much\"}]}")
	write(t, filepath.Join(dir, "nosd.json"), `{"teams": [{"team": "40101", "working": 20}]}`)
	write(t, filepath.Join(dir, "others.json"), `{"teams": [{"team": "7", "working": 20, "now_sd": 3}]}`)
	write(t, filepath.Join(dir, "badgame.json"), `{"id": "x"}`)
	base := []string{"--game", "{}/game.json", "--matches", "{}/matches.csv"}
	cases := []struct {
		name string
		args []string
		says []string
	}{
		{"NoArguments", nil, []string{"--game", "--matches"}},
		{"NoSuchFile", []string{"--game", "{}/none.json", "--matches", "{}/matches.csv"}, []string{"none.json"}},
		{"BadGame", []string{"--game", "{}/badgame.json", "--matches", "{}/matches.csv"}, []string{"badgame.json"}},
		{"Cell", []string{"--game", "{}/game.json", "--matches", "{}/colour.csv"}, []string{"colour.csv:2", "column alliance", "purple"}},
		{"Column", []string{"--game", "{}/game.json", "--matches", "{}/column.csv"}, []string{"column.csv:1", "column scoer"}},
		{"NothingPlayed", []string{"--game", "{}/game.json", "--matches", "{}/schedule.csv"}, []string{"schedule.csv:1", "column score", "no match has a result"}},
		{"Stranger", append(slices.Clone(base), "--observations", "{}/stranger.csv"), []string{"stranger.csv:2", "column team", "99999"}},
		{"NoMarks", append(slices.Clone(base), "--marks", "{}/none.csv"), []string{"none.csv"}},
		{"PriorBroken", append(slices.Clone(base), "--prior", "{}/broken.json"), []string{"broken.json:3"}},
		{"PriorText", append(slices.Clone(base), "--prior", "{}/text.json"), []string{"text.json:2", "working"}},
		{"PriorWithoutSD", append(slices.Clone(base), "--prior", "{}/nosd.json"), []string{"nosd.json", "40101", "now_sd"}},
		{"PriorOfOthers", append(slices.Clone(base), "--prior", "{}/others.json"), []string{"others.json", "none of its teams"}},
		{"Format", append(slices.Clone(base), "--format", "xml"), []string{"--format"}},
		{"Flag", append(slices.Clone(base), "--colour"), []string{"--colour"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			code, out, errs := sextant(dir, append([]string{"estimate"}, c.args...)...)
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
