package record_test

import (
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"sextant/stats/game"
	"sextant/stats/record"
)

// vector is a match of testdata/scoring; its README.md explains the form.
type vector struct {
	Game, Name string
	Why        []string
	Match      struct{ Red, Blue []json.RawMessage }
	Want       struct{ Red, Blue scored }
}

type scored struct {
	Points        float64            `json:"points"`
	FromFouls     float64            `json:"from_fouls"`
	Components    map[string]float64 `json:"components"`
	RankingPoints []string           `json:"ranking_points"`
	Ranking       float64            `json:"ranking"`
	Robots        []float64          `json:"robots"`
	Rest          float64            `json:"rest"`
	Credited      map[string]float64 `json:"credited"`
}

// readVectors reads a file of testdata/scoring and refuses members it does not know.
func readVectors[T any](t *testing.T, path string) []T {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	dec := json.NewDecoder(f)
	dec.DisallowUnknownFields()
	var out []T
	if err := dec.Decode(&out); err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	if len(out) == 0 {
		t.Fatalf("%s is empty", path)
	}
	return out
}

// observations checks and decodes the bodies of one alliance.
func observations(t *testing.T, g *game.Game, bodies []json.RawMessage) []*record.Observation {
	t.Helper()
	out := make([]*record.Observation, len(bodies))
	for i, body := range bodies {
		if problems := record.CheckBody(g, record.KindObservation, body); len(problems) > 0 {
			t.Fatalf("body %d: %v", i, problems)
		}
		out[i] = new(record.Observation)
		if err := json.Unmarshal(body, out[i]); err != nil {
			t.Fatalf("body %d: %v", i, err)
		}
	}
	return out
}

func TestScoringVectors(t *testing.T) {
	t.Parallel()
	paths, err := filepath.Glob("../../testdata/scoring/*.json")
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]int{}
	for _, path := range paths {
		if filepath.Base(path) == "form.json" {
			continue
		}
		for _, v := range readVectors[vector](t, path) {
			seen[v.Game]++
			t.Run(strings.TrimSuffix(v.Game, ".json")+"/"+v.Name, func(t *testing.T) {
				t.Parallel()
				g := load(t, v.Game)
				red, _ := record.PlayedFrom(g, observations(t, g, v.Match.Red))
				blue, _ := record.PlayedFrom(g, observations(t, g, v.Match.Blue))
				gotRed, gotBlue := g.Score(red, blue)
				compare(t, "red", v.Want.Red, gotRed)
				compare(t, "blue", v.Want.Blue, gotBlue)
				// The sides are alike: exchanged, they get each other's scores.
				gotBlue, gotRed = g.Score(blue, red)
				compare(t, "red as blue", v.Want.Red, gotRed)
				compare(t, "blue as red", v.Want.Blue, gotBlue)
			})
		}
	}
	for _, name := range []string{"slackwater.json", "millrace.json", "stonefield.json"} {
		if seen[name] == 0 {
			t.Errorf("no vector for %s", name)
		}
	}
}

func compare(t *testing.T, side string, want scored, got game.Scored) {
	t.Helper()
	have := scored{
		Points: got.Points, FromFouls: got.FromFouls, Components: got.Components, Ranking: got.Ranking,
		Robots: got.Robots, Rest: got.Rest, Credited: map[string]float64{},
	}
	for id, gained := range got.RankingPoints {
		if gained {
			have.RankingPoints = append(have.RankingPoints, id)
		}
	}
	for id := range want.Credited {
		have.Credited[id] = got.Credited[id]
	}
	slices.Sort(have.RankingPoints)
	slices.Sort(want.RankingPoints)
	if diff := cmp.Diff(want, have, cmpopts.EquateApprox(0, 1e-9), cmpopts.EquateEmpty()); diff != "" {
		t.Errorf("%s (-want +got):\n%s", side, diff)
	}
}

// formVector is a timeline of testdata/scoring/form.json.
type formVector struct {
	Game, Name string
	Why        []string
	Form       struct {
		Match, Team, Scout string
		Play               int
		Answers            map[string]game.Answer
		EndMS              int `json:"end_ms"`
	}
	Taps   []record.Tap
	Body   json.RawMessage
	Points float64
}

// TestFormVectors holds what Go can hold of the form's vectors: the bodies are
// allowed, their counts are the sums of the timelines, and they are worth what
// was worked by hand.
func TestFormVectors(t *testing.T) {
	t.Parallel()
	for _, v := range readVectors[formVector](t, "../../testdata/scoring/form.json") {
		t.Run(v.Name, func(t *testing.T) {
			t.Parallel()
			g := load(t, v.Game)
			o := observations(t, g, []json.RawMessage{v.Body})[0]
			if o.Match.String() != v.Form.Match || string(o.Team) != v.Form.Team || o.Scout != v.Form.Scout || o.Play != v.Form.Play {
				t.Errorf("body is about %s, not %+v", o.Key(), v.Form)
			}
			if diff := cmp.Diff(v.Taps, o.Taps); diff != "" {
				t.Errorf("taps (-fed +saved):\n%s", diff)
			}
			want, sums := map[string]float64{}, sumTaps(v.Taps)
			got := map[string]float64{}
			for i := range g.Actions {
				a := &g.Actions[i]
				if a.Kind == game.Choice || a.ByAlliance() && sums[a.ID] == 0 {
					continue
				}
				want[a.ID] = sums[a.ID]
				if a.Misses {
					want[a.ID+"_missed"] = sums[a.ID+"_missed"]
				}
			}
			for id, tally := range o.Counts {
				got[id] = *tally.Made
				if tally.Missed != nil {
					got[id+"_missed"] = *tally.Missed
				}
			}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("counts (-timeline +body):\n%s", diff)
			}
			for id, c := range o.Choices {
				if sums[id+":"+c.Option] != 1 || c.Tried != nil && *c.Tried != (sums[id+"_tried"] > 0) {
					t.Errorf("choice %s is %+v, the timeline %v", id, c, sums)
				}
			}
			for _, f := range g.Fouls {
				if n, ok := o.Fouls[f.ID]; !ok || n != sums[f.ID] {
					t.Errorf("foul %s = %g, timeline %g", f.ID, n, sums[f.ID])
				}
			}
			robot, _ := record.RobotFrom(g, o)
			if got := g.RobotPoints(robot); got != v.Points {
				t.Errorf("RobotPoints = %g, want %g", got, v.Points)
			}
		})
	}
}

// TestPlayedFromAlliance: of what belongs to the alliance the most that any
// scout saw counts, whoever says it.
func TestPlayedFromAlliance(t *testing.T) {
	t.Parallel()
	g := load(t, "stonefield.json")
	g.Actions = append(g.Actions, game.Action{ID: "flag", Kind: game.Choice, By: "alliance", Options: []game.Option{{ID: "none"}, {ID: "half", Points: 2}, {ID: "full", Points: 5}}})
	saw := func(option string, bells float64) *record.Observation {
		return &record.Observation{
			Choices: map[string]record.Chosen{"flag": {Option: option}},
			Counts:  map[string]record.Tally{"bells": {Made: &bells}},
		}
	}
	want := game.Robot{Counts: map[string]float64{"bells": 3}, Choices: map[string]string{"flag": "full"}}
	for _, robots := range [][]*record.Observation{
		{saw("half", 1), saw("full", 3), saw("none", 2)},
		{saw("full", 2), saw("none", 3), nil},
	} {
		got, _ := record.PlayedFrom(g, robots)
		if diff := cmp.Diff(want, got.Alliance); diff != "" {
			t.Errorf("alliance (-want +got):\n%s", diff)
		}
	}
}

// sumTaps sums a timeline: steps by name. Sums below zero, which take back what
// was never tapped, count as zero.
func sumTaps(taps []record.Tap) map[string]float64 {
	out := map[string]float64{}
	for _, t := range taps {
		out[t.Action] += t.Step
	}
	maps.DeleteFunc(out, func(_ string, n float64) bool { return n <= 0 })
	return out
}

func TestPlayedFromUnseen(t *testing.T) {
	t.Parallel()
	g := load(t, "stonefield.json")
	one := 1.0
	absent := &record.Observation{Absent: true}
	some := &record.Observation{Counts: map[string]record.Tally{"gate": {Made: &one}, "stone": {Missed: &one}}}
	_, got := record.PlayedFrom(g, []*record.Observation{absent, some, nil})
	// Only misses were watched of stone, so its makes are not known. The
	// alliance's lantern and bells are nobody's own.
	want := [][]string{
		nil,
		{"dawn_stone", "stone", "turf", "seed", "pass", "shelter", "wave"},
		{"gate", "dawn_stone", "stone", "turf", "seed", "pass", "shelter", "wave"},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("unseen (-want +got):\n%s", diff)
	}
}
