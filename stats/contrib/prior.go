package contrib

import (
	"fmt"
	"math"

	"sextant/stats/record"
)

// priorRow is what an earlier event tells about a robot, as a measurement of
// its strength with the league's common shift still in it.
type priorRow struct {
	robot            int
	points, variance float64
}

const (
	// Between two events robots are rebuilt and drivers learn; in units of the
	// mean contribution at the earlier event. Plausible, not measured.
	priorWideningSD = 0.3
	// And everybody gets better together; in units of s at this event.
	priorShiftSD = 0.3
)

// priorRows reads earlier estimates. An estimate is already drawn towards the
// mean of its event, and the model here would do so a second time. So each is
// turned back into the measurement that would have led to it: with b the
// earlier value, v its widened variance, and m, t² mean and variance of robots
// at that event, precision 1/v − 1/t² and value m + (b − m)/(v·precision).
func (e *evidence) priorRows(p *record.Estimate) ([]priorRow, error) {
	if p == nil {
		return nil, nil
	}
	var sum, squares, doubt float64
	for i := range p.Teams {
		t := &p.Teams[i]
		for what, v := range map[string]float64{"working": t.Working, "now_sd": t.NowSD} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, fmt.Errorf("team %s: %s is not a number", t.Team, what)
			}
		}
		if t.NowSD <= 0 {
			return nil, fmt.Errorf("team %s: now_sd is %v: an estimate has a standard deviation above 0", t.Team, t.NowSD)
		}
		sum += t.Working
		squares += t.Working * t.Working
		doubt += square(t.NowSD)
	}
	n := float64(len(p.Teams))
	if n < 2 {
		return nil, fmt.Errorf("%d teams: an earlier event has at least two", len(p.Teams))
	}
	mean := sum / n
	widening := square(priorWideningSD * mean)
	between := math.Max(0, (squares-n*mean*mean)/(n-1)) + doubt/n + widening

	var out []priorRow
	for i := range p.Teams {
		t := &p.Teams[i]
		r, ok := e.index[t.Team]
		if !ok {
			continue
		}
		v := square(t.NowSD) + widening
		if precision := 1/v - 1/between; precision > 1e-6/between {
			out = append(out, priorRow{robot: r, points: mean + (t.Working-mean)/(v*precision), variance: 1 / precision})
		}
	}
	return out, nil
}
