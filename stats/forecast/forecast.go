package forecast

import (
	"fmt"
	"math"
	"slices"

	"sextant/stats/contrib"
	"sextant/stats/record"
)

// tieBand: scores are whole points, so a margin within half a point is a tie.
const tieBand = 0.5

// Match forecasts m from its line-ups; teams in Absent count as not there, and
// its results, if any, are not looked at. With robots i of an alliance and
// their joint distribution from f,
//
//	mean = Σ mean(i) + E[fouls]
//	var  = Σ Σ cov(i, j) + matchVariance(alliance) + Var[fouls]
//	Var(red − blue) = var_red + var_blue − 2·Σ Σ cov(i in red, j in blue)
//	P(red) = Φ((Δ − ½)/sd),  P(blue) = Φ((−Δ − ½)/sd),  tie = the rest
//
// A team that f does not know, or that stands twice in the match, is an error.
func Match(f *contrib.Fit, m *record.Match) (record.Forecast, error) {
	red, err := lineUp(f, m, record.Red)
	if err != nil {
		return record.Forecast{}, err
	}
	blue, err := lineUp(f, m, record.Blue)
	if err != nil {
		return record.Forecast{}, err
	}
	for _, i := range red {
		if slices.Contains(blue, i) {
			return record.Forecast{}, fmt.Errorf("match %s: team %s is in both alliances", m.ID, f.Teams()[i])
		}
	}
	redMean, redVar := total(f, red)
	blueMean, blueVar := total(f, blue)
	var shared float64
	for _, i := range red {
		for _, j := range blue {
			shared += f.Cov(i, j)
		}
	}
	margin := redMean - blueMean
	sd := math.Sqrt(redVar + blueVar - 2*shared)
	return record.Forecast{
		Match: m.ID,
		Red:   spread(redMean, redVar), Blue: spread(blueMean, blueVar),
		Chance: chance(margin, sd),
	}, nil
}

func lineUp(f *contrib.Fit, m *record.Match, c record.Colour) ([]int, error) {
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
func total(f *contrib.Fit, robots []int) (mean, variance float64) {
	mean, variance = f.Fouls()
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

// spread adds the 80 % interval. A score is a sum of counts that vary the more
// the larger they are, so it is skewed to the right like a gamma law of the
// same mean and sd, whose skewness is γ = 2·sd/mean; the quantiles follow from
// z = ∓1.28 by the first term of Cornish and Fisher (1938, doi:10.2307/1400905),
//
//	z + (z² − 1)·γ/6.
//
// In simulated events this leaves about as many scores below as above. The
// ends are rounded outwards to whole points, so that a little more than 80 %
// of scores of a low-scoring game lie within.
func spread(mean, variance float64) record.ScoreSpread {
	sd := math.Sqrt(variance)
	skew := 0.0
	if mean > 0 {
		skew = math.Min(maxSkew, 2*sd/mean)
	}
	shift := (z90*z90 - 1) * skew / 6
	return record.ScoreSpread{
		Mean: mean, SD: sd,
		P10: math.Floor(mean + (shift-z90)*sd), P90: math.Ceil(mean + (shift+z90)*sd),
	}
}

const (
	z90     = 1.2815515655446004 // Φ⁻¹(0.9)
	maxSkew = 1                  // the expansion holds for small skewness
)
