package forecast

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"

	"sextant/stats/contrib"
	"sextant/stats/record"
	"sextant/stats/simulate"
)

// tieBand: scores are whole points, so a margin within half a point is a tie.
const tieBand = 0.5

// Robots is what a forecast reads of an estimate, all in points. *contrib.Fit
// and *contrib.Baseline are such.
type Robots interface {
	Teams() []record.TeamID
	Index(record.TeamID) (int, bool)
	Mean(i int) float64                  // of robot i in its next match
	Cov(i, j int) float64                // of what is not known of two means
	MatchVariance(robots ...int) float64 // of an alliance around the sum of means
	Rest(robots int) float64             // what an alliance scores beyond its robots
	Fouls() (mean, variance float64)     // received by the opponent's fouls
	Skew() (skewness, totals float64)    // of totals so far, and how many tell so
}

// Match forecasts m from its line-ups; teams in Absent count as not there, and
// its results, if any, are not looked at. With robots i of an alliance and
// their joint distribution from f,
//
//	mean = Σ mean(i) + E[fouls]
//	var  = Σ Σ cov(i, j) + matchVariance(alliance) + Var[fouls]
//	Var(red − blue) = var_red + var_blue − 2·Σ Σ cov(i in red, j in blue)
//	P(red) = Φ((Δ − ½)/sd),  P(blue) = Φ((−Δ − ½)/sd),  tie = the rest
//
// In playoffs all robots of a *contrib.Fit do more or less by its Shift.
// A team that f does not know, or that stands twice in the match, is an error.
func Match(f Robots, m *record.Match) (record.Forecast, error) {
	red, blue, err := lineUps(f, m)
	if err != nil {
		return record.Forecast{}, err
	}
	if fit, ok := f.(*contrib.Fit); ok {
		f = scaledFor(fit, m.ID)
	}
	return match(f, m.ID, red, blue, 0, 0), nil
}

// Drawn is Match with what a simulation tells, from runs draws (at least 2) of
// rng: the chances of ranking points, what caps and limits are expected to take
// off the sum of the robots, and how wide a score spreads, as quantiles and
// standard deviation, since caps make it narrower. Means stay those of the closed
// form, moved by what caps take off, and so do the chances to win, with the drawn
// standard deviation of the margin. A chance p that is
// drawn has the standard error √(p·(1−p)/runs).
func Drawn(e *simulate.Engine, f *contrib.Fit, m *record.Match, rng *rand.Rand, runs int) (record.Forecast, error) {
	red, blue, err := lineUps(f, m)
	if err != nil {
		return record.Forecast{}, err
	}
	drawn := e.For(m.ID).Forecast(rng, red, blue, max(2, runs))
	return joined(scaledFor(f, m.ID), m.ID, red, blue, &drawn), nil
}

// joined is the closed form of f moved by what caps take off, with the drawn
// chances of ranking points.
func joined(f scaled, id record.MatchID, red, blue []int, drawn *simulate.Summary) record.Forecast {
	out := match(f, id, red, blue, drawn.Red.Capped, drawn.Blue.Capped)
	out.Red, out.Blue = spreadDrawn(out.Red.Mean, &drawn.Red), spreadDrawn(out.Blue.Mean, &drawn.Blue)
	if drawn.MarginSD > 0 {
		out.Chance = chance(out.Red.Mean-out.Blue.Mean, drawn.MarginSD)
	}
	out.RankingPoints = map[record.Colour]map[string]float64{record.Red: drawn.Red.RankingPoints, record.Blue: drawn.Blue.RankingPoints}
	for _, p := range f.Game().RankingPoints { // the closed form is exact where it can tell
		switch p.When.Outcome {
		case "win":
			out.RankingPoints[record.Red][p.ID], out.RankingPoints[record.Blue][p.ID] = out.Chance.Red, out.Chance.Blue
		case "tie":
			out.RankingPoints[record.Red][p.ID], out.RankingPoints[record.Blue][p.ID] = out.Chance.Tie, out.Chance.Tie
		}
	}
	return out
}

// spreadDrawn is the spread of drawn scores around a mean that is known better.
// Scores are whole points, and an end belongs to the interval.
func spreadDrawn(mean float64, s *simulate.SideSummary) record.ScoreSpread {
	return record.ScoreSpread{
		Mean: mean, SD: s.SD(),
		P10: math.Min(s.Quantile(0.1), math.Floor(mean)), P90: math.Max(s.Quantile(0.9), math.Ceil(mean)),
	}
}

// Source is a source of random numbers for a match that is the same whenever
// and in whatever order matches are forecast.
func Source(id record.MatchID) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(id.String()))
	return rand.New(rand.NewPCG(h.Sum64(), 1))
}

func lineUps(f Robots, m *record.Match) (red, blue []int, err error) {
	if red, err = lineUp(f, m, record.Red); err != nil {
		return nil, nil, err
	}
	if blue, err = lineUp(f, m, record.Blue); err != nil {
		return nil, nil, err
	}
	for _, i := range red {
		if slices.Contains(blue, i) {
			return nil, nil, fmt.Errorf("match %s: team %s is in both alliances", m.ID, f.Teams()[i])
		}
	}
	return red, blue, nil
}

// match is the closed form; redOff and blueOff are points that caps take off.
func match(f Robots, id record.MatchID, red, blue []int, redOff, blueOff float64) record.Forecast {
	redMean, redVar := total(f, red)
	blueMean, blueVar := total(f, blue)
	redMean, blueMean = redMean-redOff, blueMean-blueOff
	var shared float64
	for _, i := range red {
		for _, j := range blue {
			shared += f.Cov(i, j)
		}
	}
	margin := redMean - blueMean
	sd := math.Sqrt(redVar + blueVar - 2*shared)
	return record.Forecast{
		Match: id,
		Red:   spread(redMean, redVar, skewness(f, redMean, redVar)), Blue: spread(blueMean, blueVar, skewness(f, blueMean, blueVar)),
		Chance: chance(margin, sd),
	}
}

func lineUp(f Robots, m *record.Match, c record.Colour) ([]int, error) {
	a := m.Side(c)
	if len(a.Teams) == 0 {
		return nil, fmt.Errorf("match %s: the %s alliance has no teams", m.ID, c)
	}
	var out []int
	for k, t := range a.Teams {
		i, ok := f.Index(t)
		if !ok {
			return nil, fmt.Errorf("match %s: team %s is not at this event", m.ID, t)
		}
		if slices.Contains(a.Teams[:k], t) {
			return nil, fmt.Errorf("match %s: team %s is twice in the %s alliance", m.ID, t, c)
		}
		if !slices.Contains(a.Absent, t) {
			out = append(out, i)
		}
	}
	return out, nil
}

// total is the mean and variance of an alliance's score.
func total(f Robots, robots []int) (mean, variance float64) {
	mean, variance = f.Fouls()
	mean += f.Rest(len(robots))
	variance += f.MatchVariance(robots...)
	for _, i := range robots {
		mean += f.Mean(i)
		for _, j := range robots {
			variance += f.Cov(i, j)
		}
	}
	return mean, variance
}

func chance(margin, sd float64) record.Chance {
	c := record.Chance{Red: normalCDF(margin-tieBand, sd), Blue: normalCDF(-margin-tieBand, sd)}
	c.Tie = math.Max(0, 1-c.Red-c.Blue)
	return c
}

// normalCDF is Φ(x/sd); a step when sd is 0.
func normalCDF(x, sd float64) float64 {
	if sd == 0 {
		switch {
		case x > 0:
			return 1
		case x < 0:
			return 0
		}
		return 0.5
	}
	return math.Erfc(-x/sd/math.Sqrt2) / 2
}

// skewness is that of a gamma law of the same mean and standard deviation, γ =
// 2·sd/mean, while little is known: a score is a sum of counts that vary the
// more the larger they are. The totals of the event so far take over.
func skewness(f Robots, mean, variance float64) float64 {
	skew := 0.0
	if mean > 0 {
		skew = math.Min(maxSkew, 2*math.Sqrt(variance)/mean)
	}
	seen, totals := f.Skew()
	return math.Min(maxSkew, math.Max(-maxSkew, (skewPrior*skew+totals*seen)/(skewPrior+totals)))
}

// spread adds the 80 % interval. The quantiles follow from z = ∓1.28 and the
// skewness γ by the first term of Cornish and Fisher (1938,
// doi:10.2307/1400905),
//
//	z + (z² − 1)·γ/6.
//
// The ends are rounded outwards to whole points, so that a little more than
// 80 % of scores of a low-scoring game lie within.
func spread(mean, variance, skew float64) record.ScoreSpread {
	sd := math.Sqrt(variance)
	shift := (z90*z90 - 1) * skew / 6
	return record.ScoreSpread{
		Mean: mean, SD: sd,
		P10: math.Floor(mean + (shift-z90)*sd), P90: math.Ceil(mean + (shift+z90)*sd),
	}
}

const (
	z90     = 1.2815515655446004 // Φ⁻¹(0.9)
	maxSkew = 1                  // the expansion holds for small skewness
	// Totals that the gamma law is worth: a third moment of as many is known
	// to about √(6/100).
	skewPrior = 100
)
