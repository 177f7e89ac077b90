package contrib

import (
	"fmt"
	"math"

	"sextant/stats/record"
)

// knowledge is what an earlier event tells about robots. A robot i that was
// there is no longer a draw from all robots, θᵢ ~ N(μ/m, τ²), but
//
//	θᵢ ~ N(μ/m + shiftᵢ, varianceᵢ),
//
// with shift its earlier distance from the mean of that event, and variance
// what was not known of it plus what changes between events. The level μ/m is
// about the earlier mean.
type knowledge struct {
	level    float64         // mean contribution at the earlier event
	shift    map[int]float64 // by robot
	variance map[int]float64
}

// Between two events robots are rebuilt and drivers learn, and everybody gets
// better together. Both in units of the mean contribution at the earlier
// event; plausible, not measured.
const (
	priorWideningSD = 0.3
	priorLevelSD    = 0.3
)

// earlier reads the estimates of an earlier event; nil gives nil.
func (e *evidence) earlier(p *record.Estimate) (*knowledge, error) {
	if p == nil {
		return nil, nil
	}
	if len(p.Teams) == 0 {
		return nil, fmt.Errorf("no teams in it")
	}
	k := &knowledge{shift: map[int]float64{}, variance: map[int]float64{}}
	for i := range p.Teams {
		t := &p.Teams[i]
		if math.IsNaN(t.Working) || math.IsInf(t.Working, 0) {
			return nil, fmt.Errorf("team %s: working is not a number", t.Team)
		}
		if !(t.NowSD > 0) || math.IsInf(t.NowSD, 0) {
			return nil, fmt.Errorf("team %s: now_sd is %v, an estimate has a standard deviation above 0", t.Team, t.NowSD)
		}
		k.level += t.Working / float64(len(p.Teams))
	}
	for i := range p.Teams {
		t := &p.Teams[i]
		r, ok := e.index[t.Team]
		if !ok {
			continue
		}
		if _, twice := k.shift[r]; twice {
			return nil, fmt.Errorf("team %s stands in it twice", t.Team)
		}
		k.shift[r] = t.Working - k.level
		k.variance[r] = square(t.NowSD) + square(priorWideningSD*k.level)
	}
	if len(k.shift) == 0 {
		return nil, fmt.Errorf("none of its teams is at this event")
	}
	return k, nil
}
