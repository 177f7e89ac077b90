package simulate

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat"
)

// Summary is what many draws of one match say.
type Summary struct {
	Runs      int
	Red, Blue SideSummary
	RedWins   float64 // chances
	BlueWins  float64
	Tie       float64
	MarginSD  float64 // of red's score less blue's, points
}

// SideSummary is the distribution of one alliance's score.
type SideSummary struct {
	Mean   float64
	Scores []float64 // drawn, in order of size
	// Capped is what caps and limits take off on average, in points; bonuses
	// for each so many units are rounded down in it too.
	Capped float64
	// RankingPoints are chances by id, only those that can be told; see Engine.Told.
	RankingPoints map[string]float64
	Components    map[string]float64 // expected, by id; only those that are known
}

// Quantile of the score, p from 0 to 1.
func (s *SideSummary) Quantile(p float64) float64 {
	return s.Scores[min(len(s.Scores)-1, int(p*float64(len(s.Scores))))]
}

// SD is the standard deviation of the score.
func (s *SideSummary) SD() float64 { return stat.StdDev(s.Scores, nil) }

// Forecast draws a match in runs worlds (at least 1).
func (e *Engine) Forecast(rng *rand.Rand, red, blue []int, runs int) Summary {
	return e.ForecastLineups(rng, &Lineup{Robots: red}, &Lineup{Robots: blue}, runs)
}

// drawFew draws θ of some robots alone: the same law as that of a whole world.
// One normal number a robot.
func (r *Run) drawFew(robots []int, lower []float64) {
	z := r.z[:len(robots)]
	for i := range z {
		z[i] = r.rng.NormFloat64()
	}
	at, hard := 0, r.e.harder(r.rng)
	for i, robot := range robots {
		r.World[robot] = hard * (r.e.fit.Strength(robot) + dot(lower[at:at+i+1], z))
		at += i + 1
	}
}

// ForecastLineups is Forecast with what is assumed of the alliances.
func (e *Engine) ForecastLineups(rng *rand.Rand, red, blue *Lineup, runs int) Summary {
	runs = max(runs, 1)
	r := e.NewRun(rng)
	out := Summary{Runs: runs}
	sides := [2]*SideSummary{&out.Red, &out.Blue}
	var gained [2][]int
	var components [2][]float64
	for side, s := range sides {
		s.Scores = make([]float64, 0, runs)
		gained[side], components[side] = make([]int, len(e.g.RankingPoints)), make([]float64, len(e.g.Components))
	}
	each := 1 / float64(runs)
	var won [3]int              // tie, red, blue
	var margin, squares float64 // running mean and squares around it (Welford 1962)
	playing := slices.Concat(red.Robots, blue.Robots)
	lower := factor(e.fit, playing)
	for run := range runs {
		r.drawFew(playing, lower)
		o := r.Play(red, blue)
		won[o.Winner()+1]++
		off := o.Sides[0].Points - o.Sides[1].Points - margin
		margin += off / float64(run+1)
		squares += off * (o.Sides[0].Points - o.Sides[1].Points - margin)
		for side, s := range sides {
			got := &o.Sides[side]
			s.Mean += got.Points * each
			s.Scores = append(s.Scores, got.Points)
			s.Capped += (got.Uncapped - got.Credited) * each
			for i, yes := range got.RankingPoints {
				if yes {
					gained[side][i]++
				}
			}
			for i, v := range got.Components {
				components[side][i] += v * each
			}
		}
	}
	out.Tie, out.RedWins, out.BlueWins = float64(won[0])*each, float64(won[1])*each, float64(won[2])*each
	out.MarginSD = math.Sqrt(squares / math.Max(1, float64(runs-1)))
	for side, s := range sides {
		slices.Sort(s.Scores)
		s.RankingPoints, s.Components = map[string]float64{}, map[string]float64{}
		for i, told := range e.told {
			if told {
				s.RankingPoints[e.g.RankingPoints[i].ID] = float64(gained[side][i]) * each
			}
		}
		for i := range components[side] {
			if e.seen || e.parts[i].Part != nil {
				s.Components[e.g.Components[i].ID] = components[side][i]
			}
		}
	}
	return out
}
