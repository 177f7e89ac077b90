package game_test

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"

	"sextant/stats/game"
)

// randomPlayed makes up what an alliance did, often more than the caps allow.
func randomPlayed(rng *rand.Rand, g *game.Game) game.Played {
	robot := func(byAlliance bool) game.Robot {
		r := game.Robot{Counts: map[string]float64{}, Choices: map[string]string{}}
		for _, a := range g.Actions {
			if a.ByAlliance() != byAlliance || rng.IntN(4) == 0 {
				continue
			}
			switch a.Kind {
			case game.Choice:
				r.Choices[a.ID] = a.Options[rng.IntN(len(a.Options))].ID
			case game.Flag:
				r.Counts[a.ID] = float64(rng.IntN(2))
			case game.Volume:
				r.Counts[a.ID] = float64(rng.IntN(150))
			default:
				r.Counts[a.ID] = float64(rng.IntN(10))
			}
		}
		return r
	}
	p := game.Played{Alliance: robot(true), Fouls: map[string]float64{}}
	for range g.Alliance.Robots {
		p.Robots = append(p.Robots, robot(false))
	}
	for _, f := range g.Fouls {
		p.Fouls[f.ID] = float64(rng.IntN(3))
	}
	return p
}

// forGames runs a property on random matches of every game.
func forGames(t *testing.T, property func(t *testing.T, g *game.Game, rng *rand.Rand)) {
	t.Helper()
	for _, name := range games {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			g := load(t, name)
			rng := rand.New(rand.NewPCG(1, 2))
			for range 150 {
				property(t, g, rng)
				if t.Failed() {
					return
				}
			}
		})
	}
}

// done is how much of a credited thing ("action" or "action:option") an alliance did.
func done(p game.Played, a game.Action, option string) float64 {
	sum := 0.0
	for _, r := range append(slices.Clone(p.Robots), p.Alliance) {
		if a.Kind == game.Choice {
			if r.Choices[a.ID] == option {
				sum++
			}
			continue
		}
		sum += r.Counts[a.ID]
	}
	return sum
}

// things are the keys of Credited that are not bonuses, with their points and caps.
type thing struct {
	key    string
	action game.Action
	option string
	points float64
	max    *float64
}

func things(g *game.Game) []thing {
	var out []thing
	for _, a := range g.Actions {
		if a.Kind != game.Choice {
			out = append(out, thing{a.ID, a, "", a.Points, a.AllianceMax})
			continue
		}
		for _, o := range a.Options {
			out = append(out, thing{a.ID + ":" + o.ID, a, o.ID, o.Points, o.AllianceMax})
		}
	}
	return out
}

// TestCreditOneByOne compares with the plainest model: put every single unit
// of the match into the order in which it is credited, and go through them one
// by one, taking each that no cap and no limit forbids. Units of a match limit
// are taken in turns from both alliances, so only their sum is compared there.
func TestCreditOneByOne(t *testing.T) {
	t.Parallel()
	forGames(t, func(t *testing.T, g *game.Game, rng *rand.Rand) {
		played := [2]game.Played{randomPlayed(rng, g), randomPlayed(rng, g)}
		var got [2]game.Scored
		got[0], got[1] = g.Score(played[0], played[1])

		list := things(g)
		period := func(t thing) int {
			if i := slices.IndexFunc(g.Periods, func(p game.Period) bool { return p.ID == t.action.Period }); i >= 0 {
				return i
			}
			return len(g.Periods)
		}
		slices.SortStableFunc(list, func(a, b thing) int {
			return cmp.Or(period(a)-period(b), cmp.Compare(b.points, a.points))
		})
		used := make([][2]float64, len(g.Limits))
		want := [2]map[string]float64{{}, {}}
		for _, th := range list {
			for n := 1.0; n <= max(done(played[0], th.action, th.option), done(played[1], th.action, th.option)); n++ {
				for side := range 2 {
					if n > done(played[side], th.action, th.option) || th.max != nil && want[side][th.key]+1 > *th.max {
						continue
					}
					allowed := true
					for i, l := range g.Limits {
						if slices.Contains(l.Count, th.action.ID) {
							now := used[i][side]
							if l.Per == "match" {
								now = used[i][0] + used[i][1]
							}
							allowed = allowed && now+1 <= l.Max
						}
					}
					if !allowed {
						continue
					}
					for i, l := range g.Limits {
						if slices.Contains(l.Count, th.action.ID) {
							used[i][side]++
						}
					}
					want[side][th.key]++
				}
			}
			shared := slices.ContainsFunc(g.Limits, func(l game.Limit) bool {
				return l.Per == "match" && slices.Contains(l.Count, th.action.ID)
			})
			red, blue := got[0].Credited[th.key], got[1].Credited[th.key]
			if shared && math.Abs(red+blue-want[0][th.key]-want[1][th.key]) > 1e-9 ||
				!shared && (red != want[0][th.key] || blue != want[1][th.key]) {
				t.Errorf("%s: credited %g and %g, want %g and %g\nred %+v\nblue %+v", th.key, red, blue, want[0][th.key], want[1][th.key], played[0], played[1])
			}
		}
	})
}

// TestScoreIdentities: sums that must hold whatever was played.
func TestScoreIdentities(t *testing.T) {
	t.Parallel()
	forGames(t, func(t *testing.T, g *game.Game, rng *rand.Rand) {
		red, blue := randomPlayed(rng, g), randomPlayed(rng, g)
		gotRed, gotBlue := g.Score(red, blue)
		for _, th := range things(g) {
			if c, d := gotRed.Credited[th.key], done(red, th.action, th.option); c > d+1e-9 || c < 0 || th.max != nil && c > *th.max+1e-9 {
				t.Errorf("%s: credited %g of %g", th.key, c, d)
			}
		}
		sum := gotRed.FromFouls + gotRed.Rest
		for _, p := range gotRed.Robots {
			sum += p
		}
		if math.Abs(sum-gotRed.Points) > 1e-9 {
			t.Errorf("fouls, rest and robots make %g, the score is %g", sum, gotRed.Points)
		}
		fouls := 0.0
		for _, f := range g.Fouls {
			fouls += blue.Fouls[f.ID] * f.OpponentPoints
		}
		if gotRed.FromFouls != fouls {
			t.Errorf("FromFouls = %g, want %g", gotRed.FromFouls, fouls)
		}
		ranking := 0.0
		for _, p := range g.RankingPoints {
			if gotRed.RankingPoints[p.ID] {
				ranking += p.Points
			}
		}
		if gotRed.Ranking != ranking {
			t.Errorf("Ranking = %g, want %g", gotRed.Ranking, ranking)
		}

		// The sides are alike.
		swappedBlue, swappedRed := g.Score(blue, red)
		if diff := gocmp.Diff([]game.Scored{gotRed, gotBlue}, []game.Scored{swappedRed, swappedBlue}, approx); diff != "" {
			t.Errorf("exchanged sides (-want +got):\n%s", diff)
		}

		// Robots in another order: the same score, their points move along.
		order := rng.Perm(len(red.Robots))
		moved := red
		moved.Robots = nil
		want := gotRed
		want.Robots = nil
		for _, i := range order {
			moved.Robots = append(moved.Robots, red.Robots[i])
			want.Robots = append(want.Robots, gotRed.Robots[i])
		}
		if got, _ := g.Score(moved, blue); gocmp.Diff(want, got, approx) != "" {
			t.Errorf("robots in order %v (-want +got):\n%s", order, gocmp.Diff(want, got, approx))
		}
	})
}

// TestCapsMonotone: a higher cap or limit never credits fewer units of what it
// caps, and without caps everything that was done is credited.
func TestCapsMonotone(t *testing.T) {
	t.Parallel()
	forGames(t, func(t *testing.T, g *game.Game, rng *rand.Rand) {
		red, blue := randomPlayed(rng, g), randomPlayed(rng, g)
		before, beforeBlue := g.Score(red, blue)

		wider := *g
		wider.Actions = slices.Clone(g.Actions)
		for i, a := range wider.Actions {
			if a.AllianceMax == nil {
				continue
			}
			more := *a.AllianceMax + float64(rng.IntN(4))
			wider.Actions[i].AllianceMax = &more
			after, _ := wider.Score(red, blue)
			if after.Credited[a.ID] < before.Credited[a.ID]-1e-9 {
				t.Errorf("%s: cap %g credits %g, cap %g credits %g", a.ID, *a.AllianceMax, before.Credited[a.ID], more, after.Credited[a.ID])
			}
			wider.Actions[i].AllianceMax = a.AllianceMax
		}
		for i, l := range g.Limits {
			wider := *g
			wider.Limits = slices.Clone(g.Limits)
			wider.Limits[i].Max += float64(rng.IntN(6))
			after, afterBlue := wider.Score(red, blue)
			// Over both alliances: where a limit for the match plays a part, one may
			// lose what the other wins.
			var was, is float64
			for _, id := range l.Count {
				was += before.Credited[id] + beforeBlue.Credited[id]
				is += after.Credited[id] + afterBlue.Credited[id]
			}
			if is < was-1e-9 {
				t.Errorf("limit %d: %g credited before, %g after", i, was, is)
			}
		}

		free := *g
		free.Limits = nil
		free.Actions = slices.Clone(g.Actions)
		for i := range free.Actions {
			free.Actions[i].AllianceMax = nil
			free.Actions[i].Options = slices.Clone(free.Actions[i].Options)
			for j := range free.Actions[i].Options {
				free.Actions[i].Options[j].AllianceMax = nil
			}
		}
		all, _ := free.Score(red, blue)
		for _, th := range things(g) {
			if got, want := all.Credited[th.key], done(red, th.action, th.option); got != want {
				t.Errorf("%s without caps: credited %g, want %g", th.key, got, want)
			}
		}
		// Robots' points without caps are those of RobotPoints and their share of rows.
		rows := 0.0
		for _, b := range g.Bonuses {
			if b.ForEach != nil {
				rows += all.Credited[b.ID] * b.Points
			}
		}
		var uncapped, attributed float64
		for i, r := range red.Robots {
			uncapped += g.RobotPoints(r)
			attributed += all.Robots[i]
		}
		if math.Abs(uncapped+rows-attributed) > 1e-9 {
			t.Errorf("robots' points %g and rows %g, attributed %g", uncapped, rows, attributed)
		}
	})
}

func TestScoreIgnoresNonsense(t *testing.T) {
	t.Parallel()
	g := load(t, "slackwater.json")
	got, _ := g.Score(game.Played{
		Robots: []game.Robot{{
			Counts:  map[string]float64{"deck": math.NaN(), "hold": -3, "cast_off": 7, "wind": 5},
			Choices: map[string]string{"mooring": "flying", "wind": "east"},
		}},
		Fouls: map[string]float64{"minor": 2, "rude": 9},
	}, game.Played{Fouls: map[string]float64{"minor": math.NaN(), "major": -1}})
	if got.Points != 3 || got.Robots[0] != 3 || got.FromFouls != 0 {
		t.Errorf("Score = %+v, want the 3 points of one flag", got)
	}
}

func BenchmarkScore(b *testing.B) {
	g := load(b, "stonefield.json")
	s := game.NewScorer(g)
	rng := rand.New(rand.NewPCG(1, 2))
	red, blue := randomPlayed(rng, g), randomPlayed(rng, g)
	for b.Loop() {
		s.Score(red, blue)
	}
}
