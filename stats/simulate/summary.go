package simulate

import (
	"math/rand/v2"
	"slices"

	"sextant/stats/game"
)

// Summary is what many draws of one match say.
type Summary struct {
	Runs      int
	Red, Blue SideSummary
	RedWins   float64 // chances
	BlueWins  float64
	Tie       float64
}

// SideSummary is the distribution of one alliance's score.
type SideSummary struct {
	Mean   float64
	Scores []float64 // drawn, in order of size
	// Capped is what caps and limits take off on average, in points; bonuses
	// for each so many units are rounded down in it too.
	Capped float64
	// RankingPoints are chances by id, only those that can be told: all if
	// actions are drawn, else those for the outcome.
	RankingPoints map[string]float64
	Components    map[string]float64 // expected, by id; empty if actions are not drawn
}

// Quantile of the score, p from 0 to 1.
func (s *SideSummary) Quantile(p float64) float64 {
	return s.Scores[min(len(s.Scores)-1, int(p*float64(len(s.Scores))))]
}

// Forecast draws a match in runs worlds (at least 1).
func (e *Engine) Forecast(rng *rand.Rand, red, blue []int, runs int) Summary {
	runs = max(runs, 1)
	out := Summary{Runs: runs, Red: e.empty(), Blue: e.empty()}
	each := 1 / float64(runs)
	for range runs {
		a, b := e.Match(rng, e.World(rng), red, blue)
		out.Red.add(&a, each)
		out.Blue.add(&b, each)
		switch {
		case a.Points > b.Points:
			out.RedWins += each
		case a.Points < b.Points:
			out.BlueWins += each
		default:
			out.Tie += each
		}
	}
	slices.Sort(out.Red.Scores)
	slices.Sort(out.Blue.Scores)
	return out
}

// empty lists the ranking points that can be told.
func (e *Engine) empty() SideSummary {
	s := SideSummary{RankingPoints: map[string]float64{}, Components: map[string]float64{}}
	for i := range e.g.RankingPoints {
		if p := &e.g.RankingPoints[i]; p.When.Outcome != "" || e.Details() && !aboutAlliance(e.g, &p.When) {
			s.RankingPoints[p.ID] = 0
		}
	}
	return s
}

// aboutAlliance reports whether a condition asks for what an alliance does as a
// whole, of which nothing is known.
func aboutAlliance(g *game.Game, c *game.Condition) bool {
	if c.Both != "" {
		return true
	}
	for _, list := range [][]game.Condition{c.Any, c.All} {
		for i := range list {
			if aboutAlliance(g, &list[i]) {
				return true
			}
		}
	}
	return false
}

func (s *SideSummary) add(got *Side, each float64) {
	s.Mean += got.Points * each
	s.Scores = append(s.Scores, got.Points)
	s.Capped += (got.Uncapped - got.Credited) * each
	for id := range s.RankingPoints {
		if got.RankingPoints[id] {
			s.RankingPoints[id] += each
		}
	}
	for id, v := range got.Components {
		s.Components[id] += v * each
	}
}
