package game_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"sextant/stats/game"
)

// small is a game with one of everything that the rules below break.
const small = `{
  "id": "small", "name": "Small", "version": 1,
  "alliance": {"robots": 2},
  "values": {"full": 10},
  "periods": [{"id": "auto", "name": "A", "seconds": 15}, {"id": "drive", "name": "D", "seconds": 100}, {"id": "end", "name": "E", "seconds": 20, "within": "drive"}],
  "actions": [
    {"id": "ball", "period": "drive", "kind": "count", "points": 2, "misses": true, "alliance_max": 9},
    {"id": "line", "period": "auto", "kind": "flag", "points": 3},
    {"id": "park", "period": "end", "kind": "choice", "options": [{"id": "no"}, {"id": "yes", "points": 5, "alliance_max": 1}]},
    {"id": "sand", "period": "drive", "kind": "volume", "points": 0.5, "steps": [1, 5]},
    {"id": "flare", "kind": "flag", "by": "alliance"},
    {"id": "feed", "period": "drive", "kind": "count", "helps": "ball"}
  ],
  "limits": [{"count": ["ball", "sand"], "max": 30, "per": "match"}],
  "bonuses": [{"id": "row", "points": 4, "for_each": {"count": ["ball"], "step": 3}}, {"id": "first", "points": 6, "when": {"component": "early", "more_than": "opponent"}}],
  "fouls": [{"id": "push", "opponent_points": 3, "opponent_gains": "parked"}],
  "components": [{"id": "early", "sum": ["line"]}, {"id": "balls", "count": ["ball"]}, {"id": "late", "sum": ["park", "row", "first"]}],
  "ranking_points": [{"id": "win", "points": 2, "when": "win"}, {"id": "parked", "points": 1, "when": {"any": [{"component": "balls", "at_least": "full"}, {"all": [{"both": "flare"}, "tie"]}]}}],
  "ranking_order": ["ranking_points", "score", "early"],
  "selection": {"alliances": 4, "picks": 1, "order": "serpentine"},
  "playoff": {"format": "single_elimination_4", "tie_order": ["early"]},
  "questions": [
    {"id": "where", "name": "Where", "kind": "choice", "options": ["left", "right"], "when": "match", "role": "start_position"},
    {"id": "still", "name": "Still", "kind": "number", "min": 0, "max": 100, "when": "match", "role": "stopped_seconds"},
    {"id": "says", "name": "Says", "kind": "number", "when": "pit", "role": "claim", "action": "ball"},
    {"id": "best", "name": "Best", "kind": "best_worst", "when": "judgement"}
  ],
  "field": {"length_m": 10, "width_m": 5, "shapes": [{"kind": "rect", "x": 1, "y": 1, "w": 1, "h": 1}], "places": [{"id": "a", "x": 1, "y": 1}, {"id": "b", "x": 2, "y": 1}]}
}`

func TestLoadRefuses(t *testing.T) {
	t.Parallel()
	if _, err := game.Load("small.json", []byte(small)); err != nil {
		t.Fatalf("the game that the cases break is broken itself: %v", err)
	}
	tests := []struct {
		name, old, new string // the first old in small is replaced by new
		pointer, says  string // of one of the problems
	}{
		// One namespace.
		{"ActionTwice", `"id": "line"`, `"id": "ball"`, "/actions/1/id", "already the id of an action"},
		{"FoulLikeAction", `"id": "push"`, `"id": "ball"`, "/fouls/0/id", "already the id of an action"},
		{"QuestionLikeFoul", `"id": "where"`, `"id": "push"`, "/questions/0/id", "already the id of a foul"},
		{"ComponentLikeBonus", `{"id": "balls", "count"`, `{"id": "row", "count"`, "/components/1/id", "already the id of a bonus"},
		{"OptionTwice", `{"id": "no"}`, `{"id": "yes"}`, "/actions/2/options/1/id", "already an option"},
		{"PeriodTwice", `"id": "end", "name"`, `"id": "auto", "name"`, "/periods/2/id", "already the id of a period"},
		{"RankingPointTwice", `"id": "parked"`, `"id": "win"`, "/ranking_points/1/id", "already the id of a ranking point"},
		{"PlaceTwice", `{"id": "b", "x"`, `{"id": "a", "x"`, "/field/places/1/id", "already the id of a place"},
		// Reserved words.
		{"ReservedName", `"id": "line"`, `"id": "score"`, "/actions/1/id", "fixed column"},
		{"ReservedComponent", `{"id": "early", "sum"`, `{"id": "from_fouls", "sum"`, "/components/0/id", "fixed column"},
		{"EndsMissed", `"id": "line"`, `"id": "line_missed"`, "/actions/1/id", "end in _missed"},
		{"EndsTried", `"id": "where"`, `"id": "where_tried"`, "/questions/0/id", "end in _tried"},
		// References.
		{"Period", `"period": "drive", "kind": "count", "points"`, `"period": "night", "kind": "count", "points"`, "/actions/0/period", "no period"},
		{"Within", `"within": "drive"`, `"within": "night"`, "/periods/2/within", "no period"},
		{"WithinItself", `"within": "drive"`, `"within": "end"`, "/periods/2/within", "within itself"},
		{"WithinLonger", `"seconds": 20, "within"`, `"seconds": 101, "within"`, "/periods/2/seconds", "longer than"},
		{"WithinAbove", `"seconds": 15}`, `"seconds": 15, "within": "drive"}`, "/periods/0/within", "stands below"},
		{"Helps", `"helps": "ball"`, `"helps": "boat"`, "/actions/5/helps", "no action"},
		{"HelpsItself", `"helps": "ball"`, `"helps": "feed"`, "/actions/5/helps", "help itself"},
		{"LimitOfChoice", `{"count": ["ball", "sand"], "max"`, `{"count": ["ball", "park"], "max"`, "/limits/0/count/1", "a choice"},
		{"LimitOfComponent", `{"count": ["ball", "sand"], "max"`, `{"count": ["early"], "max"`, "/limits/0/count/0", "no action"},
		{"ForEachOfBonus", `"for_each": {"count": ["ball"]`, `"for_each": {"count": ["first"]`, "/bonuses/0/for_each/count/0", "no action"},
		{"SumOfFoul", `"sum": ["line"]`, `"sum": ["push"]`, "/components/0/sum/0", "no action and no bonus"},
		{"CountOfBonus", `"count": ["ball"]}, {"id": "late"`, `"count": ["row"]}, {"id": "late"`, "/components/1/count/0", "no action"},
		{"OpponentGains", `"opponent_gains": "parked"`, `"opponent_gains": "balls"`, "/fouls/0/opponent_gains", "no ranking point"},
		{"RankingComponent", `{"component": "balls", "at_least"`, `{"component": "ball", "at_least"`, "/ranking_points/1/when/any/0/component", "no component"},
		{"ValueName", `"at_least": "full"`, `"at_least": "empty"`, "/ranking_points/1/when/any/0/at_least", "not in values"},
		{"BothByRobot", `"both": "flare"`, `"both": "line"`, "/ranking_points/1/when/any/1/all/0/both", "not a thing that an alliance does"},
		{"BothUnknown", `"both": "flare"`, `"both": "fire"`, "/ranking_points/1/when/any/1/all/0/both", "no action"},
		{"BonusForWinning", `"when": {"component": "early", "more_than": "opponent"}`, `"when": "win"`, "/bonuses/1/when", "depend on who wins"},
		{"BonusOnItself", `"when": {"component": "early", "more_than": "opponent"}`, `"when": {"component": "late", "at_least": 1}`, "/bonuses/1/when", "depends on a component that sums the bonus"},
		{"RankBy", `"score", "early"]`, `"score", "ball"]`, "/ranking_order/2", "nothing to rank by"},
		{"TieOrder", `"tie_order": ["early"]`, `"tie_order": ["score"]`, "/playoff/tie_order/0", "no component"},
		{"TooManyAlliances", `"alliances": 4`, `"alliances": 5`, "/playoff/format", "room for 4"},
		{"RoleTwice", `"questions": [`, `"questions": [{"id": "again", "name": "A", "kind": "number", "when": "match", "role": "stopped_seconds"},`, "/questions/2/role", "has this role already"},
		{"ClaimTwice", `"questions": [`, `"questions": [{"id": "again", "name": "A", "kind": "number", "when": "pit", "role": "claim", "action": "ball"},`, "/questions/3/action", "already"},
		{"ClaimOfFlag", `"action": "ball"`, `"action": "line"`, "/questions/2/action", "a claim is a number"},
		{"MinAboveMax", `"min": 0, "max": 100`, `"min": 5, "max": 4`, "/questions/1/min", "exchange them"},
		// What the schema says.
		{"NegativeCap", `"alliance_max": 9`, `"alliance_max": -1`, "/actions/0/alliance_max", "0 or more"},
		{"NegativeOptionCap", `"alliance_max": 1`, `"alliance_max": -1`, "/actions/2/options/1/alliance_max", "0 or more"},
		{"NegativeLimit", `"max": 30`, `"max": -30`, "/limits/0/max", "0 or more"},
		{"Per", `"per": "match"`, `"per": "robot"`, "/limits/0/per", `one of "alliance", "match"`},
		{"Kind", `"kind": "flag", "points": 3`, `"kind": "flg", "points": 3`, "/actions/1/kind", `"count", "flag", "choice", "volume"`},
		{"PointsOfChoice", `"kind": "choice", "options": [{"id": "no"}`, `"kind": "choice", "points": 1, "options": [{"id": "no"}`, "/actions/2/points", "points on its options"},
		{"OneOption", `[{"id": "no"}, {"id": "yes", "points": 5, "alliance_max": 1}]`, `[{"id": "no"}]`, "/actions/2/options", "at least 2"},
		{"NoOptions", `"kind": "choice", "options": [{"id": "no"}, {"id": "yes", "points": 5, "alliance_max": 1}]`, `"kind": "choice"`, "/actions/2", `"options" is missing`},
		{"VolumeMisses", `"steps": [1, 5]`, `"steps": [1, 5], "misses": true`, "/actions/3/misses", "Only an action of kind count"},
		{"VolumeNoSteps", `"points": 0.5, "steps": [1, 5]`, `"points": 0.5`, "/actions/3", `"steps" is missing`},
		{"StepZero", `"steps": [1, 5]`, `"steps": [0, 5]`, "/actions/3/steps/0", "1 or more"},
		{"ForEachStep", `"step": 3`, `"step": 0`, "/bonuses/0/for_each/step", "more than 0"},
		{"FourRobots", `"robots": 2`, `"robots": 4`, "/alliance/robots", "3 or less"},
		{"Format", `"single_elimination_4"`, `"ladder"`, "/playoff/format", "not known here"},
		{"ThreeDeep", `"all": [{"both": "flare"}, "tie"]`, `"all": [{"any": [{"both": "flare"}]}]`, "/ranking_points/1/when/any/1/all/0/any", "two deep"},
		{"TwoForms", `{"component": "balls", "at_least": "full"}`, `{"component": "balls", "at_least": 1, "both": "flare"}`, "/ranking_points/1/when/any/0", "exactly one"},
		{"NoTest", `{"component": "balls", "at_least": "full"}`, `{"component": "balls"}`, "/ranking_points/1/when/any/0", "exactly one"},
		{"Outcome", `"when": "win"`, `"when": "lose"`, "/ranking_points/0/when", `"win", "tie"`},
		{"SumAndCount", `"sum": ["line"]`, `"sum": ["line"], "count": ["ball"]`, "/components/0", "either sum"},
		{"ClaimWithoutAction", `"role": "claim", "action": "ball"`, `"role": "claim"`, "/questions/2", `"action" is missing`},
		{"JudgementKind", `"kind": "best_worst"`, `"kind": "text"`, "/questions/3/when", `"match", "pit"`},
		{"SecondsAsText", `"kind": "number", "min": 0, "max": 100, "when"`, `"kind": "text", "when"`, "/questions/1/kind", `"number"`},
		{"RectWithoutSize", `"w": 1, "h": 1`, `"w": 1`, "/field/shapes/0", `"h" is missing`},
		{"HugeField", `"length_m": 10`, `"length_m": 1e300`, "/field/length_m", "1000 or less"},
		{"Unknown", `"version": 1`, `"version": 1, "colour": "red"`, "/colour", "not known here"},
		{"UnknownInside", `"misses": true`, `"mises": true`, "/actions/0/mises", "not known here"},
		{"BadID", `"id": "line"`, `"id": "Line-1"`, "/actions/1/id", "small letter"},
		{"SpaceName", `"name": "Small"`, `"name": " Small"`, "/name", "no space at either end"},
		{"Type", `"points": 3}`, `"points": "3"}`, "/actions/1/points", "write a number"},
		// What strict reading says.
		{"MemberTwice", `"version": 1`, `"version": 1, "version": 2`, "/version", "stands twice"},
		{"Infinite", `"points": 3}`, `"points": 1e999}`, "/actions/1/points", "too large a number"},
		{"NotANumber", `"points": 3}`, `"points": NaN}`, "", "not JSON"},
		{"Cut", `"places": [{"id": "a", "x": 1, "y": 1}, {"id": "b", "x": 2, "y": 1}]}` + "\n}", ``, "", "not JSON"},
		{"ZeroByte", `"name": "Small"`, `"name": "Sm\u0000all"`, "/name", "control character"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			if !strings.Contains(small, tt.old) {
				t.Fatalf("the game has no %q to break", tt.old)
			}
			g, err := game.Load("small.json", []byte(strings.Replace(small, tt.old, tt.new, 1)))
			var problems game.Problems
			if !errors.As(err, &problems) {
				t.Fatalf("Load gave %v, %v, want problems", g, err)
			}
			if !slices.ContainsFunc(problems, func(p game.Problem) bool {
				return p.Pointer == tt.pointer && strings.Contains(p.Message, tt.says)
			}) {
				t.Errorf("problems %+v\nwant one at %q that says %q", problems, tt.pointer, tt.says)
			}
			if len(problems) > 5 {
				t.Errorf("one mistake gave %d problems: %+v", len(problems), problems)
			}
			for _, p := range problems {
				if p.File != "small.json" || p.Line == 0 || p.Column == 0 || strings.TrimSpace(p.Message) != p.Message {
					t.Errorf("problem without a place or with half a sentence: %+v", p)
				}
			}
		})
	}
}

// TestProblemsAllAtOnce: every mistake is told, in order, each with its place.
func TestProblemsAllAtOnce(t *testing.T) {
	t.Parallel()
	broken := strings.NewReplacer(
		`"version": 1`, `"version": 0`,
		`"period": "auto"`, `"period": "night"`,
		`"both": "flare"`, `"both": "line"`,
		`"max": 30`, `"max": -1`,
		`"ranking_order": ["ranking_points"`, `"ranking_order": ["luck"`,
	).Replace(small)
	_, err := game.Load("small.json", []byte(broken))
	var problems game.Problems
	if !errors.As(err, &problems) {
		t.Fatalf("Load: %v", err)
	}
	var got []string
	for _, p := range problems {
		got = append(got, fmt.Sprintf("%d:%d %s", p.Line, p.Column, p.Pointer))
	}
	// place is where a text that stands once in the file begins.
	place := func(text string) string {
		before, _, found := strings.Cut(broken, text)
		if !found || strings.Count(broken, text) != 1 {
			t.Fatalf("the file does not have %q once", text)
		}
		return fmt.Sprintf("%d:%d", 1+strings.Count(before, "\n"), len(before)-strings.LastIndex(before, "\n"))
	}
	want := []string{
		place(`"night"`) + " /actions/1/period",
		place(`-1`) + " /limits/0/max",
		place(`"luck"`) + " /ranking_order/0",
		place(`"line"}, "tie"`) + " /ranking_points/1/when/any/1/all/0/both",
		place(`0,`+"\n"+`  "alliance"`) + " /version",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("problems (-want +got):\n%s", diff)
	}
	if text := err.Error(); strings.Contains(text, "\n") || !strings.HasPrefix(text, "small.json:"+place(`"night"`)+": /actions/1/period: ") || !strings.HasSuffix(text, "(and 4 more)") {
		t.Errorf("Error() = %q", text)
	}
}

// TestSchemaIsValid checks the shipped schema against the meta-schema of
// JSON Schema draft 2020-12 (json-schema.org), which the library carries.
func TestSchemaIsValid(t *testing.T) {
	t.Parallel()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(game.Schema()))
	if err != nil {
		t.Fatal(err)
	}
	meta, err := jsonschema.NewCompiler().Compile("https://json-schema.org/draft/2020-12/schema")
	if err != nil {
		t.Fatal(err)
	}
	if err := meta.Validate(doc); err != nil {
		t.Errorf("game.schema.json: %v", err)
	}
	root := doc.(map[string]any)
	if got := root["$schema"]; got != "https://json-schema.org/draft/2020-12/schema" {
		t.Errorf("$schema = %v", got)
	}
}

// TestSchemaAlone: whoever checks a file with the schema and another checker
// gets the same answer for the games of testdata.
func TestSchemaAlone(t *testing.T) {
	t.Parallel()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(game.Schema()))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("game.schema.json", doc); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile("game.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range games {
		v, err := jsonschema.UnmarshalJSON(bytes.NewReader(read(t, name)))
		if err != nil {
			t.Fatal(err)
		}
		if err := schema.Validate(v); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := schema.Validate(map[string]any{"id": "x"}); err == nil {
		t.Error("the schema takes anything")
	}
}

// TestWritten: a game that is written as JSON and loaded again is the same game.
func TestWritten(t *testing.T) {
	t.Parallel()
	for _, name := range games {
		g := load(t, name)
		text, err := json.Marshal(g)
		if err != nil {
			t.Fatal(err)
		}
		again, err := game.Load(name, text)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if diff := cmp.Diff(g, again); diff != "" {
			t.Errorf("%s (-read +written and read):\n%s", name, diff)
		}
	}
}

// TestLoadLosesNothing: every member of a game file arrives in the Game.
func TestLoadLosesNothing(t *testing.T) {
	t.Parallel()
	for _, name := range games {
		var want any
		if err := json.Unmarshal(read(t, name), &want); err != nil {
			t.Fatal(err)
		}
		text, err := json.Marshal(load(t, name))
		if err != nil {
			t.Fatal(err)
		}
		var got any
		if err := json.Unmarshal(text, &got); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(zeroless(want), zeroless(got)); diff != "" {
			t.Errorf("%s (-file +game):\n%s", name, diff)
		}
	}
}

// zeroless drops members that are 0 or false: writing may leave these out.
func zeroless(v any) any {
	switch v := v.(type) {
	case map[string]any:
		out := map[string]any{}
		for name, child := range v {
			if child != 0.0 && child != false {
				out[name] = zeroless(child)
			}
		}
		return out
	case []any:
		out := make([]any, len(v))
		for i := range v {
			out[i] = zeroless(v[i])
		}
		return out
	}
	return v
}
