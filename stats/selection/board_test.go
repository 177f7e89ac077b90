package selection_test

import (
	"encoding/json"
	"os"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/record"
	"sextant/stats/selection"
)

// worked is testdata/serpentine.json: selections worked out step by step by a
// program of its own. Its source stands in the file: from memory, common
// practice.
type worked struct {
	Alliances int
	Picks     int
	Ranking   []int
	Examples  []struct {
		Name    string
		AtStart []int `json:"captains_at_start"`
		Steps   []step
		Final   []struct {
			Alliance, Captain int
			Picks             []int
		} `json:"alliances"`
		LeftOver []int `json:"left_over"`
		Declined []int
	}
}

type step struct {
	Step, Round, Alliance, Captain, Invites int
	Answer, Reason                          string
	Captains                                []int
}

func load(t testing.TB) worked {
	t.Helper()
	data, err := os.ReadFile("testdata/serpentine.json")
	if err != nil {
		t.Fatal(err)
	}
	var w worked
	if err := json.Unmarshal(data, &w); err != nil {
		t.Fatal(err)
	}
	return w
}

func teams(numbers []int) []record.TeamID {
	out := []record.TeamID{}
	for _, n := range numbers {
		out = append(out, team(n))
	}
	return out
}

func TestWorkedExamples(t *testing.T) {
	t.Parallel()
	w := load(t)
	for _, ex := range w.Examples {
		t.Run(ex.Name, func(t *testing.T) {
			t.Parallel()
			b := board(t, selection.Rules{Alliances: w.Alliances, Picks: w.Picks}, teams(w.Ranking))
			if d := cmp.Diff(teams(ex.AtStart), b.Captains()); d != "" {
				t.Errorf("captains at the start: %s", d)
			}
			for _, s := range ex.Steps {
				turn, ok := b.Turn()
				if want := (selection.Turn{Alliance: s.Alliance, Captain: team(s.Captain), Round: s.Round, Pick: turn.Pick}); !ok || turn != want {
					t.Fatalf("step %d: turn %+v, want %+v", s.Step, turn, want)
				}
				m := selection.Move{Captain: team(s.Captain), Round: s.Round}
				switch s.Answer {
				case "accepts", "refused by the rules":
					m.Invites, m.Answer = team(s.Invites), selection.Accepts
				case "declines":
					m.Invites, m.Answer = team(s.Invites), selection.Declines
				case "nobody left":
					m.Answer = selection.NobodyLeft
				}
				before := b.Alliances()
				err := b.Move(m)
				if s.Reason != "" {
					if err == nil || err.Error() != s.Reason {
						t.Errorf("step %d: %v, want refused: %s", s.Step, err, s.Reason)
					}
					if d := cmp.Diff(before, b.Alliances()); d != "" {
						t.Errorf("step %d: a refused move changed the board: %s", s.Step, d)
					}
					continue
				}
				if err != nil {
					t.Fatalf("step %d: %v", s.Step, err)
				}
				if d := cmp.Diff(teams(s.Captains), b.Captains()); d != "" {
					t.Errorf("step %d: captains: %s", s.Step, d)
				}
			}
			if turn, on := b.Turn(); on {
				t.Errorf("%+v is still on the clock", turn)
			}
			var want []selection.Formed
			for _, a := range ex.Final {
				want = append(want, selection.Formed{Alliance: a.Alliance, Captain: team(a.Captain), Picks: teams(a.Picks), Settled: true})
			}
			if d := cmp.Diff(want, b.Alliances()); d != "" {
				t.Errorf("alliances: %s", d)
			}
			if d := cmp.Diff(teams(ex.LeftOver), b.LeftOver()); d != "" {
				t.Errorf("left over: %s", d)
			}
			if d := cmp.Diff(teams(ex.Declined), b.Declined()); d != "" {
				t.Errorf("declined: %s", d)
			}
		})
	}
}

func TestMoveRules(t *testing.T) {
	t.Parallel()
	accept := func(captain, invites int) selection.Move {
		return selection.Move{Captain: team(captain), Invites: team(invites), Answer: selection.Accepts}
	}
	answer := func(captain, invites int, a selection.Answer) selection.Move {
		m := accept(captain, invites)
		m.Answer = a
		return m
	}
	backup := func(captain, invites int, a selection.Answer) selection.Move {
		m := answer(captain, invites, a)
		m.Backup = true
		return m
	}
	// Two alliances of a captain and one pick, one backup each; teams 1 to 7 by rank.
	tests := []struct {
		name   string
		moves  []selection.Move
		wrong  selection.Move
		rule   string
		after  []int // captains
		picked map[int]int
	}{
		{"NotOnTheClock", nil, accept(2, 3), "not on the clock: it is the turn of 1, captain of alliance 1", []int{1, 2}, nil},
		{"NotAtTheEvent", nil, accept(1, 99), "not at the event", []int{1, 2}, nil},
		{"NoAnswer", nil, answer(1, 2, "perhaps"), `"perhaps" is no answer: write accepts, declines, no_show or nobody_left`, []int{1, 2}, nil},
		{"NobodyNamed", nil, selection.Move{Captain: "1", Answer: selection.Accepts}, "nobody is invited: name the team", []int{1, 2}, nil},
		{"NotShortYet", nil, selection.Move{Captain: "1", Answer: selection.NobodyLeft}, "2 may still be invited: an alliance stays short only when nobody is left", []int{1, 2}, nil},
		{"OtherRound", nil, selection.Move{Captain: "1", Invites: "2", Answer: selection.Accepts, Round: 2}, "made for round 2: the board is in round 1", []int{1, 2}, nil},
		{"InvitedDoesNotShow", []selection.Move{answer(1, 2, selection.NoShow)}, accept(1, 2), "did not show before", []int{1, 3}, nil},
		{"CaptainDoesNotShow", []selection.Move{{Captain: "1", Answer: selection.NoShow}}, accept(2, 1), "did not show before", []int{2, 3}, nil},
		{"DeclinedBecomesCaptain", []selection.Move{answer(1, 3, selection.Declines), accept(1, 2)}, accept(3, 3), "is the inviting captain", []int{1, 3}, map[int]int{2: 1}},
		{"BackupTooEarly", nil, backup(1, 2, selection.Accepts), "backups are called when all picks are made", []int{1, 2}, nil},
		{"BackupInOrder", []selection.Move{accept(1, 3), accept(2, 4)}, backup(1, 6, selection.Accepts), "backups are called in order of rank: 5 is next", []int{1, 2}, nil},
		{"BackupByAnother", []selection.Move{accept(1, 3), accept(2, 4)}, backup(3, 5, selection.Accepts), "only the captain of an alliance calls a backup", []int{1, 2}, nil},
		{"BackupTwice", []selection.Move{accept(1, 3), accept(2, 4), backup(1, 5, selection.Declines), backup(1, 6, selection.Accepts)}, backup(1, 7, selection.Accepts), "alliance 1 has called its backups", []int{1, 2}, map[int]int{6: 1}},
		{"AllDone", []selection.Move{accept(1, 3), accept(2, 4)}, accept(1, 5), "all picks are made", []int{1, 2}, nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			b := board(t, selection.Rules{Alliances: 2, Picks: 1, Backups: 1}, teams([]int{1, 2, 3, 4, 5, 6, 7}))
			for _, m := range tt.moves {
				if err := b.Move(m); err != nil {
					t.Fatal(err)
				}
			}
			if err := b.Move(tt.wrong); err == nil || err.Error() != tt.rule {
				t.Errorf("Move(%+v) = %v, want %q", tt.wrong, err, tt.rule)
			}
			if d := cmp.Diff(teams(tt.after), b.Captains()); d != "" {
				t.Errorf("captains: %s", d)
			}
			for n, a := range tt.picked {
				if got := b.AllianceOf(team(n)); got != a {
					t.Errorf("team %d is in alliance %d, want %d", n, got, a)
				}
			}
		})
	}
}

func TestNewRefuses(t *testing.T) {
	t.Parallel()
	for name, try := range map[string]func() error{
		"FewTeams": func() error {
			_, err := selection.New(selection.Rules{Alliances: 3, Picks: 1}, teams([]int{1, 2}))
			return err
		},
		"Twice": func() error {
			_, err := selection.New(selection.Rules{Alliances: 1, Picks: 1}, teams([]int{1, 1}))
			return err
		},
		"None": func() error { _, err := selection.New(selection.Rules{}, nil); return err },
	} {
		if try() == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func board(t testing.TB, rules selection.Rules, ranking []record.TeamID) *selection.Board {
	t.Helper()
	b, err := selection.New(rules, slices.Clone(ranking))
	if err != nil {
		t.Fatal(err)
	}
	return b
}
