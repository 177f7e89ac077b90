package game_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/game"
)

// games are the files of testdata/games.
var games = []string{"slackwater.json", "millrace.json", "stonefield.json"}

func read(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "games", name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// load reads a game of testdata/games.
func load(t testing.TB, name string) *game.Game {
	t.Helper()
	g, err := game.Load(name, read(t, name))
	if err != nil {
		t.Fatalf("Load(%s): %v", name, err)
	}
	return g
}

func TestSeconds(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name           string
		match, longest float64
	}{
		{"slackwater.json", 15 + 3 + 135, 135}, // the endgame lies within
		{"millrace.json", 30 + 120, 120},
		{"stonefield.json", 20 + 5 + 120, 120},
	}
	for _, tt := range tests {
		g := load(t, tt.name)
		if got := g.MatchSeconds(); got != tt.match {
			t.Errorf("%s: MatchSeconds = %g, want %g", tt.name, got, tt.match)
		}
		if got := g.DriverSeconds(); got != tt.longest {
			t.Errorf("%s: DriverSeconds = %g, want %g", tt.name, got, tt.longest)
		}
	}
}

func TestLookup(t *testing.T) {
	t.Parallel()
	g := load(t, "stonefield.json")
	if a, ok := g.Action("bells"); !ok || !a.ByAlliance() || a.Label() != "Bells rung" {
		t.Errorf("Action(bells) = %+v, %v", a, ok)
	}
	if q, ok := g.QuestionByRole(game.RoleLostSight); !ok || q.ID != "unseen" {
		t.Errorf("QuestionByRole(lost_sight) = %+v, %v", q, ok)
	}
	if got := g.Value(game.Value{Name: "wall"}); got != 16 {
		t.Errorf("Value(wall) = %g", got)
	}
	if got := g.Value(game.Value{Number: 3}); got != 3 {
		t.Errorf("Value(3) = %g", got)
	}
	for what, found := range map[string]bool{
		"action": second(g.Action("x")), "question": second(g.Question("stone")), "foul": second(g.Foul("x")),
		"component": second(g.Component("stone")), "period": second(g.Period("x")),
	} {
		if found {
			t.Errorf("a %s was found that is not there", what)
		}
	}
}

func second[T any](_ T, ok bool) bool { return ok }

func TestOverride(t *testing.T) {
	t.Parallel()
	g := load(t, "slackwater.json")
	before := load(t, "slackwater.json")
	got, settings, err := g.Override("event.json", []byte(`{
	  "values": {"full_load": 16}, "selection": {"alliances": 6, "picks": 3}, "playoff": {"final_wins": 1},
	  "field": {"length_m": 16, "width_m": 8}, "our_team": "40117", "time_zone": "America/Chicago", "worth": {"1": 1, "2": 0.6}
	}`))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(before, g); diff != "" {
		t.Errorf("Override changed the game it was given:\n%s", diff)
	}
	want := before
	want.Values["full_load"] = 16
	want.Selection.Alliances, want.Selection.Picks = 6, 3
	want.Playoff.FinalWins = 1
	want.Field.LengthM, want.Field.WidthM = 16, 8
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("Override (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(&game.EventSettings{OurTeam: "40117", TimeZone: "America/Chicago", Worth: map[int]float64{1: 1, 2: 0.6}}, settings); diff != "" {
		t.Errorf("settings (-want +got):\n%s", diff)
	}
	if settings.PlaceWorth(1) != 1 || settings.PlaceWorth(2) != 0.6 || settings.PlaceWorth(3) != 0 {
		t.Error("PlaceWorth does not read worth")
	}
	none := game.EventSettings{}
	if none.PlaceWorth(1) != 1 || none.PlaceWorth(2) != 0 {
		t.Error("without worth, winning is worth 1 and the rest 0")
	}
}

func TestOverrideRefuses(t *testing.T) {
	t.Parallel()
	g := load(t, "slackwater.json")
	tests := []struct{ name, event, pointer, says string }{
		{"Unknown", `{"points": 3}`, "/points", "not known here"},
		{"ValueName", `{"values": {"empty_load": 3}}`, "/values/empty_load", "no value of this name"},
		{"Zone", `{"time_zone": "Mars/Olympus"}`, "/time_zone", "not in the time zone database"},
		{"LocalZone", `{"time_zone": "Local"}`, "/time_zone", "not in the time zone database"},
		{"Team", `{"our_team": "x1"}`, "/our_team", "team's number"},
		{"Worth", `{"worth": {"0": 1}}`, "/worth/0", "not known here"},
		{"Sum", `{"selection": {"alliances": 9}}`, "/playoff/format", "room for 8"},
		{"Twice", `{"our_team": "1", "our_team": "2"}`, "/our_team", "stands twice"},
		{"Array", `[]`, "", "write an object"},
		{"TieOrder", `{"playoff": {"tie_order": ["score"]}}`, "/playoff/tie_order/0", "no component"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			_, _, err := g.Override("event.json", []byte(tt.event))
			wantProblem(t, err, tt.pointer, tt.says)
		})
	}
	t.Run("HalfAField", func(t *testing.T) { // of a game without one
		t.Parallel()
		_, _, err := load(t, "millrace.json").Override("event.json", []byte(`{"field": {"length_m": 16}}`))
		wantProblem(t, err, "/field", `"width_m" is missing`)
	})
}

func wantProblem(t *testing.T, err error, pointer, says string) {
	t.Helper()
	var problems game.Problems
	if !errors.As(err, &problems) || problems[0].Pointer != pointer || !strings.Contains(problems[0].Message, says) {
		t.Errorf("Override: %v\nwant %q … %q", err, pointer, says)
	}
}

func TestCheckUpdate(t *testing.T) {
	t.Parallel()
	tests := []struct{ name, old, new, says string }{
		{"NameAndPoints", `"points": 2, "misses": true, "alliance_max": 9`, `"name": "Balls", "points": 3, "misses": true`, ""},
		{"NewAction", `"actions": [`, `"actions": [{"id": "new", "kind": "flag"},`, ""},
		{"Order", `{"id": "no"}, {"id": "yes", "points": 5, "alliance_max": 1}`, `{"id": "yes", "points": 5}, {"id": "no"}, {"id": "half", "points": 1}`, ""},
		{"OtherPeriod", `"id": "line", "period": "auto"`, `"id": "line", "period": "drive"`, ""},
		{"OtherKind", `"id": "line", "period": "auto", "kind": "flag"`, `"id": "line", "period": "auto", "kind": "count"`, `"line" was an action of kind flag and cannot become an action of kind count`},
		{"OtherThing", `{"id": "push", "opponent_points": 3, "opponent_gains": "parked"}`, ``, `"push", a foul, was taken away`},
		{"Reused", `"fouls": [{"id": "push"`, `"fouls": [{"id": "wide"}, {"id": "shove"`, `"push", a foul, was taken away`},
		{"OptionGone", `{"id": "no"}`, `{"id": "none"}`, `"park:no", an option of park, was taken away`},
		{"MissesGone", `"misses": true, `, ``, `"ball_missed", the misses of ball, was taken away`},
		{"NoLongerByAlliance", `"kind": "flag", "by": "alliance"}`, `"kind": "flag"}`, ``},
		{"Robots", `"robots": 2`, `"robots": 3`, "cannot change"},
		{"OtherGame", `"id": "small"`, `"id": "large"`, "another game"},
	}
	old, err := game.Load("small.json", []byte(small))
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			text := strings.Replace(small, tt.old, tt.new, 1)
			if tt.name == "NoLongerByAlliance" {
				text = strings.Replace(text, `{"both": "flare"}, `, ``, 1)
				tt.says = `"flare" was an action of kind flag by the alliance and cannot become an action of kind flag`
			}
			g, err := game.Load("small.json", []byte(text))
			if err != nil {
				t.Fatal(err)
			}
			err = g.CheckUpdate(old)
			switch {
			case tt.says == "" && err != nil:
				t.Errorf("CheckUpdate: %v, want none", err)
			case tt.says != "" && !strings.Contains(fmt.Sprint(err), tt.says):
				t.Errorf("CheckUpdate: %v, want %q", err, tt.says)
			}
		})
	}
}
